namespace SawEdge.Core.Alarms;

/// <summary>
/// Whether a value meets a condition, or lets it count as gone again. Between the limit and the clear limit it does neither, and
/// what was before stays (OPC 10000-9, B.1.5).
/// </summary>
internal static class AlarmTestRules
{
    /// <summary>Whether a number or flag meets it.</summary>
    public static bool Meets(this AlarmTest test, double value) => test.Comparison switch
    {
        AlarmComparison.Above => value > test.Limit,
        AlarmComparison.Below => value < test.Limit,
        AlarmComparison.Is => value != 0,
        _ => value == 0,
    };

    /// <summary>Whether a number or flag lets it count as gone. Without a deadband that is every value that does not meet it: a count of 0 is not below 0.</summary>
    public static bool Ends(this AlarmTest test, double value) => test.Comparison switch
    {
        AlarmComparison.Above when test.ClearLimit < test.Limit => value < test.ClearLimit,
        AlarmComparison.Below when test.ClearLimit > test.Limit => value > test.ClearLimit,
        _ => !test.Meets(value),
    };

    /// <summary>Whether a text meets it; words are compared without regard to case.</summary>
    public static bool Meets(this AlarmTest test, string value)
    {
        var found = false;
        for (var i = 0; i < test.Words.Count && !found; i++)
            found = string.Equals(test.Words[i], value, StringComparison.OrdinalIgnoreCase);
        return found == (test.Comparison == AlarmComparison.Is);
    }
}
