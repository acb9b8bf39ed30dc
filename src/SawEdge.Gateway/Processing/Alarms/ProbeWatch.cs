using SawEdge.Core.Alarms;

namespace SawEdge.Gateway.Processing.Alarms;

/// <summary>Holds what the probes read against the rules.</summary>
internal sealed class ProbeWatch
{
    private static readonly Dictionary<string, AlarmFact> NoFacts = [];

    private readonly List<(AlarmProbe Probe, RuleWatch[] Watches)> _probes = [];
    private readonly List<(ConditionChange Change, bool Silences)> _found = [];

    /// <summary>Prepares the watch.</summary>
    /// <param name="rules">All rules; those of other topics are passed over.</param>
    /// <param name="probes">The probes.</param>
    /// <param name="before">The watch whose place this one takes, or null: rules that say the same about the same keep what was seen for them.</param>
    public ProbeWatch(IReadOnlyList<AlarmRule> rules, IEnumerable<AlarmProbe> probes, ProbeWatch? before = null)
    {
        foreach (var probe in probes)
        {
            var known = before?._probes.Where(other => other.Probe.Variable == probe.Variable && other.Probe.Subject == probe.Subject && other.Probe.Rule == probe.Rule).SelectMany(other => other.Watches).ToList() ?? [];
            RuleWatch[] watches = [.. rules.Where(rule => IsFor(rule, probe)).Select(rule => known.Find(watch => watch.Rule.SaysTheSameAs(rule)) ?? new RuleWatch(rule))];
            if (watches.Length > 0)
                _probes.Add((probe, watches));
        }
    }

    /// <summary>Looks at all of them.</summary>
    /// <param name="now">When.</param>
    /// <param name="changes">Where to add what came or went.</param>
    public void Look(DateTimeOffset now, List<ConditionChange> changes)
    {
        foreach (var (probe, watches) in _probes)
        {
            var read = probe.Read();
            foreach (var watch in watches)
            {
                var value = Known(read, watch.Rule.Test);
                if (watch.Push(now, value) && watch.Holds is { } holds)
                    _found.Add((Change(probe, watch, now, holds), watch.Rule.Silences));
            }
        }

        // What is the cause of others comes before them and goes after them: it silences those that are raised while it is there.
        changes.AddRange(_found.OrderBy(found => !found.Silences ? 1 : found.Change.Holds ? 0 : 2).Select(found => found.Change));
        _found.Clear();
    }

    // What is only a least value tells one side of a limit.
    private static double Known(ProbeValue read, AlarmTest test) =>
        !read.AtLeast || read.Value > test.Limit ? read.Value : double.NaN;

    private static bool IsFor(AlarmRule rule, AlarmProbe probe) =>
        rule.Variable == probe.Variable && (probe.Rule is null || probe.Rule == rule.Name) && (rule.Subjects is null || rule.Subjects.Contains(probe.Subject.Name));

    private static ConditionChange Change(AlarmProbe probe, RuleWatch watch, DateTimeOffset now, bool holds) => new()
    {
        Rule = watch.Rule.Name,
        Subject = probe.Subject,
        At = now,
        Holds = holds,
        Value = watch.Value,
        Limit = watch.Rule.Test.Limit,
        Facts = holds && probe.Facts is { } facts ? facts() : NoFacts,
    };
}
