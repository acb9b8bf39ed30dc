namespace SawEdge.Gateway.Configuration.Reading;

/// <summary>What a setting may hold: from it the JSON Schema and the reference documentation are made.</summary>
internal abstract record TypeDescription;

/// <summary>A single value.</summary>
internal sealed record ScalarDescription : TypeDescription
{
    /// <summary>What it is, in words: "length", "whole number", "name".</summary>
    public required string Kind { get; init; }

    /// <summary>How it is written: one or more of <see cref="SourceKind.Text"/>, <see cref="SourceKind.Number"/>, <see cref="SourceKind.Flag"/>.</summary>
    public required IReadOnlyList<SourceKind> Forms { get; init; }

    /// <summary>Whether a number must be whole.</summary>
    public bool Whole { get; init; }

    /// <summary>Regular expression a text must match, or null.</summary>
    public string? Pattern { get; init; }

    /// <summary>Least number, or null.</summary>
    public double? Minimum { get; init; }

    /// <summary>Greatest number, or null.</summary>
    public double? Maximum { get; init; }

    /// <summary>Longest text, or null.</summary>
    public int? MaximumLength { get; init; }

    /// <summary>Range in words, with units, or null.</summary>
    public string? Range { get; init; }

    /// <summary>The values there are and what each means, or none where any value of the form will do.</summary>
    public IReadOnlyList<(string Value, string Doc)> Choices { get; init; } = [];

    /// <summary>Values as a person writes them.</summary>
    public IReadOnlyList<string> Examples { get; init; } = [];

    /// <summary>Whether the value must never be shown.</summary>
    public bool IsSecret { get; init; }

    /// <summary>What a text holds, as far as that decides whether it can be handed on.</summary>
    public TextContent Holds { get; init; }
}

/// <summary>What a text holds, as far as that decides whether it can be handed on.</summary>
internal enum TextContent
{
    /// <summary>Nothing that must not be shown.</summary>
    Plain,

    /// <summary>An address of a server: beside scheme, host and port it may hold a key.</summary>
    Address,

    /// <summary>A host: a wrong one may hold user and password.</summary>
    Host,

    /// <summary>Anything, a key as well.</summary>
    MayBeSecret,
}

/// <summary>A list.</summary>
internal sealed record ListDescription(TypeDescription Item, int Minimum) : TypeDescription;

/// <summary>A value that can be written in one way or another, for example one word or a list of words.</summary>
internal sealed record EitherDescription(IReadOnlyList<TypeDescription> Ways) : TypeDescription;

/// <summary>An object whose members the user names.</summary>
internal sealed record MapDescription(string KeyPattern, string KeyKind, TypeDescription Item) : TypeDescription;

/// <summary>An object with members of its own; one of them may decide which others there are.</summary>
internal sealed record ObjectDescription(string Name, string Doc) : TypeDescription
{
    /// <summary>Members that are always there, in the order of the documentation.</summary>
    public List<MemberDescription> Members { get; } = [];

    /// <summary>The member that decides, or null.</summary>
    public VariantsDescription? Variants { get; set; }

    /// <summary>Whether it may be written as "like another, but".</summary>
    public bool MayBeLike { get; set; }

    /// <summary>Every member there can be.</summary>
    public IEnumerable<MemberDescription> AllMembers => Variants is null
        ? Members
        : Members.Append(new MemberDescription(Variants.Name, Variants.Discriminator, Variants.Doc, Variants.Fallback is null, Variants.Fallback))
            .Concat(Variants.Choices.SelectMany(choice => choice.Members));
}

/// <summary>One member.</summary>
/// <param name="Name">Its name in the file.</param>
/// <param name="Type">What it may hold.</param>
/// <param name="Doc">What it is for.</param>
/// <param name="IsRequired">Whether it must be there.</param>
/// <param name="Fallback">Its default as a person would write it, or null.</param>
internal sealed record MemberDescription(string Name, TypeDescription Type, string Doc, bool IsRequired, string? Fallback);

/// <summary>A member whose value decides which other members there are.</summary>
internal sealed record VariantsDescription(string Name, string Doc, string? Fallback, IReadOnlyList<VariantDescription> Choices)
{
    /// <summary>The deciding member's own type.</summary>
    public ScalarDescription Discriminator => new()
    {
        Kind = "choice",
        Forms = [SourceKind.Text],
        Choices = [.. Choices.Select(choice => (choice.Value, choice.Doc))],
    };
}

/// <summary>The members that come with one value of the deciding member.</summary>
internal sealed record VariantDescription(string Value, string Doc, IReadOnlyList<MemberDescription> Members);
