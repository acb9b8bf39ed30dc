using System.Collections.Concurrent;
using Microsoft.Extensions.Logging;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Hosting;

/// <summary>From which level on each area is logged, as it is set now. Asked at each message; for any number of threads.</summary>
/// <param name="otherwise">The level where the configuration says nothing: the command line's.</param>
internal sealed class LogLevels(LogLevel otherwise)
{
    /// <summary>What the host and the web framework say (content root, environment) helps nobody at a saw.</summary>
    private const LogLevel Framework = LogLevel.Warning;

    private readonly ConcurrentDictionary<string, int> _areaOf = new(StringComparer.Ordinal);
    private readonly int[] _levels = [.. LogArea.All.Select(_ => (int)otherwise)];

    /// <summary>Whether a message is logged.</summary>
    /// <param name="category">The logger's name.</param>
    /// <param name="level">The message's level.</param>
    public bool Passes(string? category, LogLevel level)
    {
        var area = _areaOf.GetOrAdd(category ?? "", static name => name.StartsWith("Microsoft", StringComparison.Ordinal) ? -1
            // Whoever changes levels sees that it was taken, whatever the level is.
            : name == typeof(LogLevels).FullName ? -2
            : IndexOf(LogArea.Of(name)));
        return area switch
        {
            -2 => level >= LogLevel.Information,
            -1 => level >= Framework && (int)level >= Volatile.Read(ref _levels[0]),
            _ => (int)level >= Volatile.Read(ref _levels[area]),
        };
    }

    /// <summary>The level of an area now.</summary>
    public LogLevel Of(LogArea area) => (LogLevel)Volatile.Read(ref _levels[IndexOf(area)]);

    /// <summary>Takes levels over.</summary>
    /// <param name="options">What the configuration says.</param>
    /// <returns>The areas whose level is another now, with the one before.</returns>
    public IReadOnlyList<(LogArea Area, LogLevel Before, LogLevel Now)> Take(LoggingOptions options)
    {
        var changes = new List<(LogArea, LogLevel, LogLevel)>();
        for (var i = 0; i < _levels.Length; i++)
        {
            var (area, before) = (LogArea.All[i], (LogLevel)_levels[i]);
            var now = options.Of(area, otherwise);
            if (now == before)
                continue;
            Volatile.Write(ref _levels[i], (int)now);
            changes.Add((area, before, now));
        }

        return changes;
    }

    /// <summary>Takes levels over while the gateway runs, and says which are others now.</summary>
    /// <param name="options">What the configuration says.</param>
    /// <param name="loggers">Where it is said: whatever the level is.</param>
    public void TakeOver(LoggingOptions options, ILoggerFactory loggers)
    {
        foreach (var (area, before, now) in Take(options))
            HostingLog.LevelTaken(loggers.CreateLogger<LogLevels>(), area.Name, LoggingOptions.WordOf(now), LoggingOptions.WordOf(before));
    }

    private static int IndexOf(LogArea area)
    {
        for (var i = 0; i < LogArea.All.Count; i++)
        {
            if (ReferenceEquals(LogArea.All[i], area))
                return i;
        }

        throw new ArgumentException($"{area.Name} is none of the areas.", nameof(area));
    }
}
