using Microsoft.Extensions.Logging;
using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Configuration.Binding;

/// <summary>Declares from which level on each area is logged: a member an area.</summary>
internal static class LoggingBinding
{
    private static readonly ChoiceType<LogLevel> Level = new([.. LoggingOptions.Levels]);

    /// <summary>The settings.</summary>
    public static ObjectType<LoggingOptions> Type { get; } = new("logging", "From which level on each area is logged. It is taken over while the gateway runs.", o =>
    {
        var all = o.OptionalValue("all", Level, "The level of areas that are not named here. Left out: that of --level, which is information unless told.");
        var areas = new Dictionary<string, LogLevel>(StringComparer.Ordinal);
        foreach (var area in LogArea.All)
        {
            if (o.OptionalValue(area.Name, Level, $"The level of {area.Doc}.").Value is { } level)
                areas[area.Name] = level;
        }

        return new LoggingOptions { All = all.Value, Areas = areas };
    });
}
