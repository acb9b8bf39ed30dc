using Microsoft.Extensions.Logging;

namespace SawEdge.Gateway.Configuration;

/// <summary>From which level on each area is logged.</summary>
public sealed record LoggingOptions
{
    /// <summary>Words for the levels that can be set, from the most that is said to the least.</summary>
    public static IReadOnlyList<(string Word, LogLevel Level, string Doc)> Levels { get; } =
    [
        ("debug", LogLevel.Debug, "each step as well, for the search of a fault: many lines."),
        ("information", LogLevel.Information, "what happens in good order as well."),
        ("warning", LogLevel.Warning, "what somebody should look at."),
        ("error", LogLevel.Error, "what does not work."),
        ("critical", LogLevel.Critical, "what ends the gateway."),
    ];

    /// <summary>The word for a level.</summary>
    public static string WordOf(LogLevel level) => Levels.Where(one => one.Level == level).Select(one => one.Word).FirstOrDefault() ?? level.ToString().ToLowerInvariant();

    /// <summary>The level of areas that have none of their own; null: the command line's.</summary>
    public LogLevel? All { get; init; }

    /// <summary>Levels of single areas, by their names.</summary>
    public IReadOnlyDictionary<string, LogLevel> Areas { get; init; } = new Dictionary<string, LogLevel>();

    /// <summary>The level of an area.</summary>
    /// <param name="area">The area.</param>
    /// <param name="otherwise">Where nothing is set.</param>
    public LogLevel Of(LogArea area, LogLevel otherwise) => Areas.TryGetValue(area.Name, out var own) ? own : All ?? otherwise;
}
