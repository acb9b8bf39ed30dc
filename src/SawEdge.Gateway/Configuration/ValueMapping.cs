using SawEdge.Core.Signals;

namespace SawEdge.Gateway.Configuration;

/// <summary>What a value that comes as a number, a yes or no, or a text means for one signal, wherever it comes from.</summary>
public abstract record ValueMapping
{
    /// <summary>The signal.</summary>
    public required Signal Signal { get; init; }

    /// <summary>The way from the raw number to the signal's unit; whatever unit the user stated is worked in.</summary>
    public ValueConversion Conversion { get; init; } = ValueConversion.Identity;

    /// <summary>Least value that is believed, in the signal's unit.</summary>
    public double? Minimum { get; init; }

    /// <summary>Greatest value that is believed, in the signal's unit.</summary>
    public double? Maximum { get; init; }

    /// <summary>Texts for raw values as they are written, for a text signal that comes as a code; or null: what comes is the text.</summary>
    public IReadOnlyDictionary<string, string>? Texts { get; init; }

    /// <summary>The raw values as they are written that mean yes, for a flag that comes as a state; or null: it comes as a flag.</summary>
    public IReadOnlyList<string>? Values { get; init; }

    /// <summary>Whether a flag is turned round.</summary>
    public bool Invert { get; init; }
}
