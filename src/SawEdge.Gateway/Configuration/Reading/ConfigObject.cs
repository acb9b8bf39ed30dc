using System.Diagnostics.CodeAnalysis;

namespace SawEdge.Gateway.Configuration.Reading;

/// <summary>An object of the configuration, declared by the function that binds it: the same function reads and describes.</summary>
/// <param name="name">Name of the type in the schema.</param>
/// <param name="doc">What it is.</param>
/// <param name="bind">
/// Asks the object for every member it knows and puts the result together. Runs on defaults (null, 0) while describing, so it must not
/// rely on values; checks go through <see cref="ConfigObject.Error{T}(Setting{T}, string)"/> and look at <see cref="Setting{T}.IsGood"/> first.
/// </param>
internal sealed class ObjectType<T>(string name, string doc, Func<ConfigObject, T> bind) : ConfigType<T>
{
    private ObjectDescription? _description;

    public override bool TryRead(SourceNode node, string path, ReadContext context, [MaybeNullWhen(false)] out T value)
    {
        if (node.Kind != SourceKind.Object)
        {
            context.Findings.Error(path, $"is {node.KindInWords}; write an object: {{ ... }}");
            value = default;
            return false;
        }

        var errors = context.Findings.ErrorCount;
        var source = new ConfigObject(node, path, context);
        value = bind(source);
        source.ReportUnknownMembers();
        return context.Findings.ErrorCount == errors;
    }

    public override TypeDescription Describe()
    {
        if (_description is null)
        {
            var description = new ObjectDescription(name, doc);
            bind(new ConfigObject(description.Members, variants => description.Variants = variants, () => description.MayBeLike = true));
            _description = description;
        }

        return _description;
    }
}

/// <summary>One value of a deciding member and the function that binds what comes with it.</summary>
internal sealed record Variant<T>(string Value, string Doc, Func<ConfigObject, T> Bind);

/// <summary>What a binding function asks for its members: either read from a node, or recorded as a description.</summary>
internal sealed class ConfigObject
{
    private readonly SourceNode? _node;
    private readonly ReadContext? _context;
    private readonly List<MemberDescription>? _members;
    private readonly Action<VariantsDescription>? _describeVariants;
    private readonly Action? _describeLike;
    private readonly HashSet<string> _asked = [];
    private readonly Dictionary<string, string> _elsewhere = [];

    /// <summary>Reads.</summary>
    public ConfigObject(SourceNode node, string path, ReadContext context)
    {
        _node = node;
        _context = context;
        Path = path;
    }

    /// <summary>Describes.</summary>
    public ConfigObject(List<MemberDescription> members, Action<VariantsDescription>? describeVariants, Action? describeLike = null)
    {
        _describeLike = describeLike;
        _members = members;
        _describeVariants = describeVariants;
        Path = "";
    }

    /// <summary>Path of this object.</summary>
    public string Path { get; }

    /// <summary>Folder of the configuration file: relative paths start here.</summary>
    public string Folder => _context?.Folder ?? "";

    /// <summary>Where findings about several settings go; null while describing.</summary>
    public Findings? Findings => _context?.Findings;

    /// <summary>A member that must be there.</summary>
    public Setting<T> Required<T>(string name, ConfigType<T> type, string doc) => Member(name, type, doc, isRequired: true, null, default!);

    /// <summary>A member with a default, which is stated as a person would write it.</summary>
    public Setting<T> Default<T>(string name, ConfigType<T> type, string fallback, string doc)
    {
        // A default goes the way of any other value; one that cannot be read is a mistake in the program.
        var unseen = new Findings();
        if (!type.TryRead(SourceNode.Loose(fallback), name, new ReadContext(unseen, ""), out var value))
            throw new InvalidOperationException($"The default of {name} cannot be read: {unseen.InOrder(null)[0]}");
        return Member(name, type, doc, isRequired: false, fallback, value);
    }

    /// <summary>A member that may be left out; null then.</summary>
    public Setting<T?> Optional<T>(string name, ConfigType<T> type, string doc)
        where T : class
    {
        var setting = Member(name, type, doc, isRequired: false, null, default!);
        return new(setting.IsGood || setting.Value is not null ? setting.Value : null, setting.Path, setting.IsStated, setting.IsGood);
    }

    /// <summary>A value that may be left out; null then.</summary>
    public Setting<T?> OptionalValue<T>(string name, ConfigType<T> type, string doc)
        where T : struct
    {
        var setting = Member(name, type, doc, isRequired: false, null, default);
        return new(setting.IsStated && setting.IsGood ? setting.Value : null, setting.Path, setting.IsStated, setting.IsGood);
    }

    /// <summary>The member by which this object is "like another, but"; see <see cref="LikeMembers"/>.</summary>
    public void OneLike(string example, string doc)
    {
        Optional(LikeMembers.Member, ValueTypes.Name(example), doc);
        _describeLike?.Invoke();
    }

    /// <summary>A member that decides which other members there are.</summary>
    /// <param name="name">Its name.</param>
    /// <param name="doc">What it decides.</param>
    /// <param name="fallback">The value that holds where it is left out, or null where it must be stated.</param>
    /// <param name="variants">The values there are.</param>
    /// <returns>What the chosen variant's function made, or the type's default where none could be chosen.</returns>
    public T? Variants<T>(string name, string doc, string? fallback, params IReadOnlyList<Variant<T>> variants)
    {
        if (_node is null || _context is null)
        {
            _describeVariants?.Invoke(new VariantsDescription(name, doc, fallback, [.. variants.Select(variant => new VariantDescription(variant.Value, variant.Doc, Describe(variant)))]));
            return default;
        }

        _asked.Add(name);
        var node = _node.Find(name);
        var written = node is null ? fallback : node.Kind is SourceKind.Text or SourceKind.Number or SourceKind.Loose ? node.Text : null;
        var chosen = variants.FirstOrDefault(variant => variant.Value == written);
        if (chosen is null)
        {
            var right = $"write {Words.Or([.. variants.Select(variant => $"\"{variant.Value}\"")])}";
            var path = Paths.Member(Path, name);
            _context.Findings.Error(path, node is null ? $"is missing; {right}" : written is null ? $"is {node.KindInWords}; {right}" : $"{node.Shown} is not known; {right}");
            // Which members belong here cannot be said, so none of them is reported as unknown.
            _asked.UnionWith(variants.SelectMany(Describe).Select(member => member.Name));
            return default;
        }

        foreach (var other in variants.Where(variant => variant != chosen))
        {
            foreach (var member in Describe(other))
                _elsewhere.TryAdd(member.Name, $"belongs to {name} \"{other.Value}\"; here {name} is \"{chosen.Value}\"");
        }

        return chosen.Bind(this);
    }

    /// <summary>A secret: stated itself, or the file that holds it. Never shown in a finding.</summary>
    public Setting<string?> Secret(string name, string doc)
    {
        var stated = Optional(name, ValueTypes.Secret, $"{doc} Better kept in a file ({name}File) or an environment variable.");
        var file = Optional($"{name}File", ValueTypes.Path($"/etc/sawedge/{name}"), $"File that holds the {name} as its only content; blanks and line ends around it are dropped. credential:NAME: the one that the service manager hands over by that name.");
        if (_node is null || _context is null)
            return stated;

        var fromEnvironment = _node.Find(name) is { Kind: SourceKind.Loose };
        if (stated is { IsStated: true, IsGood: true } && !fromEnvironment)
            _context.Findings.InlineSecrets.Add(stated.Path);

        // The environment lies over the file: of the two, the one set there takes the place of the one in the configuration.
        var fileFromEnvironment = _node.Find($"{name}File") is { Kind: SourceKind.Loose };
        if (stated.IsStated && file.IsStated && fromEnvironment == fileFromEnvironment)
            Error(file, $"{name} is stated as well; keep one of the two");
        if (stated.IsStated && fromEnvironment && !fileFromEnvironment)
            return stated;

        if (file is not { IsStated: true, IsGood: true })
            return stated;
        var (path, problem) = SecretFile.Find(file.Value!, Folder, _context.Credentials);
        if (path is null && problem is null)
        {
            Warning(file, "is handed over by the service manager, which does not run this: not looked at");
            return new(null, stated.Path, true, false);
        }

        if (path is not null)
            _context.Findings.SecretFiles.Add(path);
        string? secret = null;
        if (problem is not null || !SecretFile.TryRead(path!, out secret, out problem))
            Error(file, problem);
        else if (!file.Value!.StartsWith(SecretFile.Credential, StringComparison.Ordinal) && !stated.IsStated && FileRights.OpenToAll(path!) is { } doubt)
            Warning(file, doubt);
        return new(secret, stated.Path, true, secret is not null);
    }

    /// <summary>Reports a mistake at a setting.</summary>
    public void Error<T>(Setting<T> setting, string message) => _context?.Findings.Error(setting.Path, message);

    /// <summary>Reports a doubt at a setting.</summary>
    public void Warning<T>(Setting<T> setting, string message) => _context?.Findings.Warning(setting.Path, message);

    /// <summary>Reports a mistake of this object, or of a member that is not there.</summary>
    public void ErrorAt(string member, string message) => _context?.Findings.Error(member.Length == 0 ? Path : Paths.Member(Path, member), message);

    /// <summary>Reports a doubt about this object, or about a member that is not there.</summary>
    public void WarningAt(string member, string message) => _context?.Findings.Warning(member.Length == 0 ? Path : Paths.Member(Path, member), message);

    /// <summary>Reports the members that nobody asked for.</summary>
    public void ReportUnknownMembers()
    {
        foreach (var (name, value) in _node!.Members)
        {
            if (_asked.Contains(name))
                continue;
            var message = _elsewhere.TryGetValue(name, out var elsewhere) ? elsewhere : $"is not known here; {Words.DidYouMean(name, _asked)}";
            _context!.Findings.Add(new Finding(FindingSeverity.Error, Paths.Member(Path, name), message) { Line = value.Place.Line, Column = value.Place.Column, Variable = value.Place.Variable });
        }
    }

    private static List<MemberDescription> Describe<T>(Variant<T> variant)
    {
        var members = new List<MemberDescription>();
        variant.Bind(new ConfigObject(members, null));
        return members;
    }

    private Setting<T> Member<T>(string name, ConfigType<T> type, string doc, bool isRequired, string? fallback, T otherwise)
    {
        var path = Paths.Member(Path, name);
        _asked.Add(name);
        if (_node is null || _context is null)
        {
            _members!.Add(new MemberDescription(name, type.Describe(), doc, isRequired, fallback));
            return new(otherwise, path, false, false);
        }

        if (_node.Find(name) is not { } node)
        {
            if (isRequired)
                _context.Findings.Error(path, $"is missing; write {Example(type.Describe())}");
            return new(otherwise, path, false, !isRequired);
        }

        var good = type.TryRead(node, path, _context, out var value);
        return new(good || value is not null ? value! : otherwise, path, true, good);
    }

    private static string Example(TypeDescription type) => type switch
    {
        ScalarDescription { Choices: { Count: > 0 } choices } => Words.Or([.. choices.Select(choice => $"\"{choice.Value}\"")]),
        ScalarDescription { Examples: [var example, ..] } scalar => scalar.Forms[0] == SourceKind.Text ? $"for example \"{example}\"" : $"for example {example}",
        ScalarDescription scalar => $"a {scalar.Kind}",
        ListDescription => "a list: [ ... ]",
        EitherDescription either => Example(either.Ways[0]),
        _ => "an object: { ... }",
    };
}
