namespace SawEdge.Core.Signals;

/// <summary>What a <see cref="SignalCondition"/> asks of its signal.</summary>
public enum ConditionKind : byte
{
    /// <summary>The flag is set, or the number is not 0.</summary>
    IsSet,

    /// <summary>The flag is not set, or the number is 0.</summary>
    IsNotSet,

    /// <summary>The number is above the limit.</summary>
    Above,

    /// <summary>The number is below the limit.</summary>
    Below,

    /// <summary>The text, or the whole number, is this one.</summary>
    Is,

    /// <summary>The text, or the whole number, is another one.</summary>
    IsNot,
}

/// <summary>Something that is true of a frame or not.</summary>
/// <param name="Signal">The signal.</param>
/// <param name="Kind">What is asked.</param>
/// <param name="Limit">The limit or the whole number, in the signal's unit.</param>
/// <param name="Text">The text, of a text signal.</param>
public sealed record SignalCondition(Signal Signal, ConditionKind Kind, double Limit = 0, string? Text = null)
{
    /// <summary>Whether it is true of a frame; null where the signal has no usable value in it.</summary>
    public bool? Holds(in SignalFrame frame)
    {
        if (!frame.Has(Signal))
            return null;
        if (!SignalInfo.IsNumeric(Signal))
            return string.Equals(frame.Text(Signal), Text, StringComparison.Ordinal) == (Kind == ConditionKind.Is);
        var value = frame.Number(Signal);
        return Kind switch
        {
            ConditionKind.IsSet => value != 0,
            ConditionKind.IsNotSet => value == 0,
            ConditionKind.Above => value > Limit,
            ConditionKind.Below => value < Limit,
            ConditionKind.Is => value == Limit,
            _ => value != Limit,
        };
    }
}
