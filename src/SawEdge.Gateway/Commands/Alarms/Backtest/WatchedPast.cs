using SawEdge.Core.Alarms;

namespace SawEdge.Gateway.Commands.Alarms.Backtest;

/// <summary>What came and went for the rules in a stretch of the past.</summary>
internal sealed record WatchedPast
{
    /// <summary>What came and went, ordered by time.</summary>
    public required IReadOnlyList<ConditionChange> Changes { get; init; }

    /// <summary>The first moment that was looked at.</summary>
    public required DateTimeOffset From { get; init; }

    /// <summary>The last moment that was looked at.</summary>
    public required DateTimeOffset To { get; init; }

    /// <summary>The saws, in the order of their names.</summary>
    public required IReadOnlyList<string> Saws { get; init; }

    /// <summary>Finished cycles.</summary>
    public long Cycles { get; init; }

    /// <summary>Cycles of which no assessment is stored: findings, score and blade of those are not known.</summary>
    public long WithoutAssessment { get; init; }

    /// <summary>Frames; 0 where the history was looked at.</summary>
    public long Frames { get; init; }

    /// <summary>The topics that could be tried on it.</summary>
    public required IReadOnlySet<AlarmTopic> Topics { get; init; }

    /// <summary>What it was, for people: <c>the history in data</c>, <c>3 recordings</c>.</summary>
    public required string What { get; init; }
}

/// <summary>Collects what the watches of several saws tell, and where they began and ended.</summary>
internal sealed class PastCollector
{
    private readonly List<ConditionChange> _changes = [];
    private readonly SortedSet<string> _saws = new(StringComparer.Ordinal);

    /// <summary>The first moment so far.</summary>
    public DateTimeOffset From { get; private set; } = DateTimeOffset.MaxValue;

    /// <summary>The last moment so far.</summary>
    public DateTimeOffset To { get; private set; } = DateTimeOffset.MinValue;

    /// <summary>The saws so far.</summary>
    public IReadOnlyList<string> Saws => [.. _saws];

    /// <summary>What came and went, ordered by time; of one moment in the order in which it was told.</summary>
    public IReadOnlyList<ConditionChange> Changes => [.. _changes.OrderBy(change => change.At)];

    /// <summary>Says that a saw was looked at.</summary>
    public void See(string saw) => _saws.Add(saw);

    /// <summary>Says that a moment was looked at.</summary>
    public void See(DateTimeOffset moment)
    {
        if (moment < From)
            From = moment;
        if (moment > To)
            To = moment;
    }

    /// <summary>Takes all that a watch has to tell.</summary>
    public void Take(SawAlarmWatch watch)
    {
        while (watch.TryTake(out var change))
            _changes.Add(change);
    }
}
