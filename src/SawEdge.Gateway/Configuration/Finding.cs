using System.Globalization;

namespace SawEdge.Gateway.Configuration;

/// <summary>How grave a finding is.</summary>
public enum FindingSeverity
{
    /// <summary>Worth a look; the gateway starts.</summary>
    Warning,

    /// <summary>A mistake; the gateway does not start.</summary>
    Error,
}

/// <summary>One thing that is wrong or doubtful in the configuration: where it is and what would be right. Never holds a secret.</summary>
/// <param name="Severity">How grave it is.</param>
/// <param name="Path">The setting, for example <c>saws[0].signals.motor_load.address</c>; empty for the file as a whole.</param>
/// <param name="Message">What is wrong and what would be right; one plain sentence.</param>
public sealed record Finding(FindingSeverity Severity, string Path, string Message)
{
    /// <summary>Line in the file, from 1; null where the setting does not come from the file.</summary>
    public int? Line { get; init; }

    /// <summary>Character in the line, from 1; null where the setting does not come from the file.</summary>
    public int? Column { get; init; }

    /// <summary>The environment variable that holds the setting; null where it comes from the file.</summary>
    public string? Variable { get; init; }

    /// <summary>Where and what, in one line without the severity.</summary>
    public override string ToString()
    {
        var source = Variable is not null
            ? $"environment variable {Variable}"
            : Line is { } line ? string.Create(CultureInfo.InvariantCulture, $"line {line}, column {Column}") : "";
        var where = (Path, source) switch
        {
            ("", "") => "",
            ("", _) => $"{source}: ",
            (_, "") => $"{Path}: ",
            _ => $"{Path} ({source}): ",
        };
        return where + Message;
    }
}
