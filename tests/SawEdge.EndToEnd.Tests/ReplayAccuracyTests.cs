using System.Globalization;
using SawEdge.Core.Cycles;
using SawEdge.Core.Signals;
using SawEdge.EndToEnd.Tests.Support;
using SawEdge.Simulator.Recordings;
using SawEdge.Simulator.Saws;
using SawEdge.TestSupport;

namespace SawEdge.EndToEnd.Tests;

/// <summary>
/// What a replay finds in recordings, against what really happened: the floor below which a change must not fall. The measure
/// itself, with more saws and samplings, is <c>SawEdge.Benchmarks -- detection</c>.
/// </summary>
public sealed class ReplayAccuracyTests : IDisposable
{
    private static readonly TimeSpan Interval = TimeSpan.FromMilliseconds(200);
    private static readonly Signal[] Everything = [.. SignalInfo.All.Select(info => info.Signal)];

    private readonly TempFolder _folder = new();

    [Fact]
    public Task EverythingMapped_AllFound_NoneInvented_EveryOutcomeRight() => HoldsAsync(Everything, outcomesRight: 1);

    [Fact]
    public Task HeadAndLoadOnly_AllFound_NoneInvented() => HoldsAsync([Signal.HeadPosition, Signal.MotorLoad], outcomesRight: 0.97);

    [Fact]
    public Task CycleBitLoadAndCounter_AllFound_NoneInvented() => HoldsAsync([Signal.CycleActive, Signal.MotorLoad, Signal.PartCount], outcomesRight: 0.9);

    public void Dispose() => _folder.Dispose();

    private async Task HoldsAsync(Signal[] signals, double outcomesRight)
    {
        IReadOnlyList<SawTruth> truths;
        await using (var writer = new StreamWriter(_folder.File("recording.csv")))
            truths = RecordingGenerator.Write([.. FaultySaws.Of(3).Concat(FaultySaws.Of(4))], new RecordingOptions { Cycles = FaultySaws.Cycles, Interval = Interval, Signals = signals, IdleMargin = TimeSpan.FromSeconds(20) }, writer);
        await File.WriteAllTextAsync(_folder.File("jobs.csv"), FaultySaws.JobList);
        await GatewayProcess.GoodCommandAsync("replay", "--input", _folder.File("recording.csv"), "--out", _folder.File("out"), "--jobs", _folder.File("jobs.csv"));
        var found = new HistoryFile(_folder.File("out")).Cycles().ToList();

        int right = 0, matched = 0;
        var wrong = new List<string>();
        var times = new List<string>();
        foreach (var truth in truths)
        {
            var index = found.FindIndex(cycle => cycle.Text("saw") == truth.Saw && Overlap(cycle, truth) > 0.5);
            if (index < 0)
            {
                // A cycle in which nothing was in the vise may be found or not.
                Assert.True(truth.Outcome is null, $"{truth.Saw} cycle {truth.Cycle} ({truth.Outcome}, {string.Join(',', truth.Faults)}) was not found");
                continue;
            }

            var cycle = found[index];
            found.RemoveAt(index);
            matched++;
            if (Expected(truth, signals).Contains(cycle.Outcome))
                right++;
            else
                wrong.Add($"{truth.Saw} cycle {truth.Cycle} [{string.Join(',', truth.Faults)}]: {cycle.Outcome}, truth {truth.Outcome}");
            if (truth.Breakthrough is not null && cycle.Outcome is "completed" or "trim" && Math.Abs(cycle.Number("cut_time_s") - truth.CutTimeS!.Value) > (2 * Interval.TotalSeconds) + (0.03 * truth.CutTimeS!.Value))
                times.Add(string.Create(CultureInfo.InvariantCulture, $"{truth.Saw} cycle {truth.Cycle}: {cycle.Number("cut_time_s"):0.00} s, truth {truth.CutTimeS:0.00} s"));
        }

        Assert.Equal(2 * 4 * FaultySaws.Cycles, truths.Count);
        Assert.Empty(found);
        Assert.Empty(times);
        Assert.True(right >= outcomesRight * matched, $"{right} of {matched} outcomes are right:\n{string.Join('\n', wrong)}");
    }

    private static IEnumerable<string> Expected(SawTruth truth, Signal[] signals)
    {
        // A controller that restarts in the cut takes its signals away: what is seen of that is a cut that was interrupted.
        yield return truth.Faults.Contains("controller_restart") ? "interrupted" : (truth.Outcome ?? CutOutcome.Aborted).ToName();

        // Nothing but the counter tells a trim cut from a part.
        if (truth.Outcome == CutOutcome.Trim && !signals.Contains(Signal.PartCount))
            yield return "completed";
    }

    private static double Overlap(CycleRow cycle, SawTruth truth)
    {
        var (start, end) = (cycle.Time("started_at")!.Value, cycle.Time("ended_at")!.Value);
        var over = truth.Raised > truth.Ended ? truth.Raised.Value : truth.Ended;
        var from = start > truth.Started ? start : truth.Started;
        var to = end < over ? end : over;
        return (to - from).TotalSeconds / Math.Max(1, Math.Min((end - start).TotalSeconds, (over - truth.Started).TotalSeconds));
    }
}
