using SawEdge.Core;
using SawEdge.Core.Alarms;
using SawEdge.Core.Load;
using SawEdge.Gateway.Commands.Reports;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Processing;

namespace SawEdge.Gateway.Commands.Alarms.Backtest;

/// <summary>
/// The finished cycles of a history, with what the load score says of them, past the rules: cycles, findings, blades. Signals, OEE and
/// communication are not stored frame by frame, so rules on them cannot be tried here.
/// </summary>
/// <param name="reader">The history.</param>
/// <param name="options">The configuration whose rules are tried.</param>
/// <param name="from">Only cycles that started then or later; null: all.</param>
/// <param name="to">Only cycles that started before; null: all.</param>
internal sealed class HistoryPast(HistoryReader reader, GatewayOptions options, DateTimeOffset? from, DateTimeOffset? to)
{
    private static readonly HashSet<AlarmTopic> Triable = [AlarmTopic.Finding, AlarmTopic.Cycle, AlarmTopic.Blade];

    private readonly PastCollector _past = new();
    private long _cycles;
    private long _bare;

    /// <summary>Goes through it.</summary>
    /// <param name="folder">The data folder, for messages.</param>
    /// <param name="anew">Whether the load score is computed anew from the evidence, with the settings of the configuration; otherwise it counts as it is stored.</param>
    /// <param name="cancellation">Breaks off.</param>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public async Task<WatchedPast> RunAsync(string folder, bool anew, CancellationToken cancellation)
    {
        foreach (var saw in await reader.SawsAsync(cancellation))
        {
            var watch = new SawAlarmWatch(saw, options.Alarms.Rules);
            if (anew)
                await ComputeAsync(saw, watch, cancellation);
            else
                await ReadAsync(saw, watch, cancellation);
        }

        return new WatchedPast
        {
            Changes = _past.Changes,
            From = _past.From,
            To = _past.To,
            Saws = _past.Saws,
            Cycles = _cycles,
            WithoutAssessment = _bare,
            Topics = Triable,
            What = $"the history in {folder}{(anew ? ", its load scores computed anew" : "")}",
        };
    }

    private async Task ReadAsync(string saw, SawAlarmWatch watch, CancellationToken cancellation)
    {
        await foreach (var cut in reader.AssessedCutsAsync(saw, from, to, cancellation))
            Take(watch, cut.Record, cut.Assessment);
    }

    // What a saw learns it learns from its first cut on, so all of them are computed, whatever is asked for.
    private async Task ComputeAsync(string saw, SawAlarmWatch watch, CancellationToken cancellation)
    {
        var setup = new NamedFolder("", options, "").SetupOf(saw) ?? SawSetup.Unknown(saw);
        var recorder = setup.NewRecorder();
        recorder.Entries = (await reader.BladeEntriesAsync(saw, cancellation)).Book;
        await foreach (var fed in new EvidenceFeed(reader, setup, recorder).RunAsync(null, cancellation))
        {
            // A cut that comes again with a corrected record was judged by the record that it had when it ended.
            var made = fed.Finished[^1];
            if ((from is null || made.Record.StartedAt >= from) && (to is null || made.Record.StartedAt < to))
                Take(watch, made.Record, made.Assessment);
        }
    }

    private void Take(SawAlarmWatch watch, CycleRecord record, LoadAssessment? assessment)
    {
        _past.See(record.Saw);
        _past.See(record.StartedAt);
        _past.See(record.EndedAt);
        _cycles++;
        if (assessment is null)
            _bare++;
        foreach (var finding in assessment?.Findings ?? [])
            watch.Take(finding);
        watch.Take(record, assessment);
        _past.Take(watch);
    }
}
