namespace SawEdge.Core.Alarms;

/// <summary>A value that texts can name, with its unit.</summary>
/// <param name="Text">The text, where it is one.</param>
/// <param name="Value">The number, where there is no text; NaN: not known.</param>
/// <param name="Unit">Unit of the number as in the data contract; <c>share</c> for parts of 1.</param>
public readonly record struct AlarmFact(string? Text, double Value, string Unit)
{
    /// <summary>A number with its unit.</summary>
    public static AlarmFact Number(double value, string unit) => new(null, value, unit);

    /// <summary>A text.</summary>
    public static AlarmFact Words(string text) => new(text, double.NaN, "");
}

/// <summary>A rule's condition came or went for one subject. Says how things are: the same change twice does no harm.</summary>
public sealed record ConditionChange
{
    /// <summary>Name of the rule.</summary>
    public required string Rule { get; init; }

    /// <summary>What it is about.</summary>
    public required AlarmSubject Subject { get; init; }

    /// <summary>The frame, cut or look that decided it.</summary>
    public required DateTimeOffset At { get; init; }

    /// <summary>Whether the condition holds.</summary>
    public required bool Holds { get; init; }

    /// <summary>The value that decided it, in the variable's unit; NaN for texts.</summary>
    public double Value { get; init; } = double.NaN;

    /// <summary>The limit it was held against, same unit; NaN where there is none.</summary>
    public double Limit { get; init; } = double.NaN;

    /// <summary>What texts can name besides; filled where the condition came.</summary>
    public IReadOnlyDictionary<string, AlarmFact> Facts { get; init; } = new Dictionary<string, AlarmFact>();

    /// <summary>The cycle that decided it, or null.</summary>
    public string? CycleId { get; init; }

    /// <summary>Name of the likeliest cause, or empty.</summary>
    public string Cause { get; init; } = "";

    /// <summary>What it may be, from the likely cause; empty: as the rule says.</summary>
    public string MayBe { get; init; } = "";

    /// <summary>The caution of the likely cause; empty: as the rule says.</summary>
    public string Caution { get; init; } = "";
}
