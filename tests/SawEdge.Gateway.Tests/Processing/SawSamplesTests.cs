using SawEdge.Core.Cutting;
using SawEdge.Core.Materials;
using SawEdge.Core.Signals;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Tests.History;
using SawEdge.Simulator.Demo;
using SawEdge.Simulator.Recordings;
using SawEdge.Simulator.Saws;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Processing;

/// <summary>Downsampled signals as the history holds them, against the same worked out from the frames.</summary>
public sealed class SawSamplesTests
{
    private static readonly DateTimeOffset Start = new(2026, 3, 2, 6, 0, 0, TimeSpan.Zero);
    private static readonly TimeSpan Ten = TimeSpan.FromSeconds(10);

    [Theory]
    [InlineData(0, 10)]
    [InlineData(1, 1)]
    [InlineData(2, 60)]
    public async Task Run_FramesOfAVirtualSaw_StoresWhatTheyGive(int saw, int seconds)
    {
        var (machine, frames, jobs) = Recorded(saw);
        await using var history = new RunningHistory();
        var every = TimeSpan.FromSeconds(seconds);
        await new CrashingProcessor(history, machine, jobs, storeEachFrame: false) { SampleEvery = every }.RunAsync(frames, crash: false);

        Same(machine.Name, every, frames, await StoredAsync(history));
    }

    [Fact]
    public async Task Run_WithCleanStopsInBetween_StoresWhatOneRunStores()
    {
        var (machine, frames, jobs) = Recorded(0);
        await using var history = new RunningHistory();
        var processor = new CrashingProcessor(history, machine, jobs, storeEachFrame: false) { SampleEvery = Ten };
        foreach (var part in frames.Chunk(frames.Count / 7))
            await processor.RunAsync(part, crash: false);

        Same(machine.Name, Ten, frames, await StoredAsync(history));
    }

    [Fact]
    public async Task Run_APowerCut_LosesTheIntervalThatWasOpenAndDoublesNothing()
    {
        var (machine, frames, jobs) = Recorded(0);
        await using var history = new RunningHistory();
        var processor = new CrashingProcessor(history, machine, jobs, storeEachFrame: false) { SampleEvery = Ten };
        var cut = frames.Count / 2;
        await processor.RunAsync(frames[..cut], crash: true);
        await processor.RunAsync(frames[cut..], crash: false);

        // The last frame before the cut was never looked at; those before it in its interval were not stored yet.
        var open = IntervalOf(frames[cut - 2].Time, Ten);
        Same(machine.Name, Ten, frames.Where((frame, i) => i >= cut || frame.Time < open), await StoredAsync(history));
    }

    [Fact]
    public async Task Run_AClockThatIsSetBack_MakesItsIntervalsWhole()
    {
        var (machine, frames, jobs) = Recorded(1);
        var (first, again) = (frames[..800], frames[300..900].ConvertAll(frame =>
        {
            frame.Time = frame.Time.AddMilliseconds(77);
            frame.Set(Signal.MotorLoad, 3);
            return frame;
        }));
        await using var history = new RunningHistory();
        await new CrashingProcessor(history, machine, jobs, storeEachFrame: false) { SampleEvery = Ten }.RunAsync([.. first, .. again], crash: false);

        Same(machine.Name, Ten, [.. first, .. again[2..]], await StoredAsync(history));
    }

    [Fact]
    public async Task Run_SwitchedOff_StoresNone()
    {
        var (machine, frames, jobs) = Recorded(0);
        await using var history = new RunningHistory();
        await new CrashingProcessor(history, machine, jobs, storeEachFrame: false).RunAsync(frames[..1000], crash: false);

        Assert.Empty(await StoredAsync(history));
    }

    [Fact]
    public async Task Run_AStoredIntervalThatCannotBeRead_IsSaidAndBegunAnew()
    {
        var (machine, frames, jobs) = Recorded(0);
        await using var history = new RunningHistory();
        var processor = new CrashingProcessor(history, machine, jobs, storeEachFrame: false) { SampleEvery = Ten };
        await processor.RunAsync(frames[..1010], crash: false);
        history.Ask("UPDATE signal_samples SET data = x'07'");
        await processor.RunAsync(frames[1010..], crash: false);

        history.Ask($"DELETE FROM signal_samples WHERE data = x'07'");
        Same(machine.Name, Ten, frames[1010..], await StoredAsync(history));
        Assert.Single(processor.Log.Entries, entry => entry.Text.Contains("is begun anew: A stored sample has version 7", StringComparison.Ordinal));
    }

    [PeerFact("sqlite3")]
    public async Task KillMinus9_LosesTheIntervalThatWasOpenAndDoublesNothing()
    {
        using var folder = new TempFolder();
        var kept = new List<SignalFrame>();
        var maybe = new HashSet<DateTimeOffset>();
        var first = 0;
        for (var round = 1; round <= 3; round++)
        {
            await using var child = Peer.Start(TestHost.Dotnet, [TestHost.AssemblyPath, "sample", folder.Path, first.ToString(System.Globalization.CultureInfo.InvariantCulture)]);
            await Until.TrueAsync(() => child.HasExited || child.Output.Count(c => c == '\n') > 700, () => $"the child takes frames; it printed:\n{child.Output}");
            await child.KillAsync();
            var last = child.Output.Split('\n').Where(line => line.Length == 6).Select(line => int.Parse(line, System.Globalization.CultureInfo.InvariantCulture)).Max();

            // All before the last one were dealt with: what ended before their last interval must be there. Frames beyond it may have been taken without a word.
            var open = IntervalOf(SamplingProcess.Frame(last - 1).Time, SamplingProcess.Every);
            kept.AddRange(Enumerable.Range(first, last - first).Select(SamplingProcess.Frame).Where(frame => frame.Time < open));
            for (var beyond = 0; beyond < 20; beyond++)
                maybe.Add(IntervalOf(SamplingProcess.Frame(last - 1 + beyond).Time, SamplingProcess.Every));
            first = last + 137;

            var check = await Peer.RunAsync("sqlite3", [folder.File(HistoryDatabase.FileName), "PRAGMA integrity_check;"]);
            Assert.Equal((0, "ok"), (check.ExitCode, check.Output.Trim()));
        }

        await using var history = new RunningHistory(folder.Path);
        var stored = await StoredAsync(history);
        Assert.True(kept.Count > 1900, $"only {kept.Count} frames were taken");
        Same(SamplingProcess.Saw, SamplingProcess.Every, kept.Where(frame => !maybe.Contains(IntervalOf(frame.Time, SamplingProcess.Every))), [.. stored.Where(sample => !maybe.Contains(sample.Sample.From))]);
        Assert.All(stored, sample => Assert.InRange(sample.Sample.Frames, 1, 40));
    }

    private static (SawMachine Machine, List<SignalFrame> Frames, JobBook Jobs) Recorded(int saw)
    {
        var plant = Plant.Create(Start);
        var options = plant.Saws[saw].Options;
        var frames = RecordingGenerator.Frames(new VirtualSaw(options), new RecordingOptions { Cycles = 4, Interval = TimeSpan.FromMilliseconds(250) }).ToList();
        return (options.Machine.ToSawMachine(), frames, JobBook.Parse(plant.JobList, MaterialCatalogue.BuiltIn).Book);
    }

    private static async Task<List<SawSample>> StoredAsync(RunningHistory history)
    {
        var samples = new List<SawSample>();
        await foreach (var sample in history.Reader.SamplesAsync(SampleFilter.All))
            samples.Add(sample);
        return samples;
    }

    private static DateTimeOffset IntervalOf(DateTimeOffset at, TimeSpan every) => new(at.UtcTicks - (at.UtcTicks % every.Ticks), TimeSpan.Zero);

    private static void Same(string saw, TimeSpan every, IEnumerable<SignalFrame> frames, List<SawSample> stored)
    {
        var expected = frames.GroupBy(frame => IntervalOf(frame.Time, every)).OrderBy(interval => interval.Key).ToList();
        Assert.True(expected.Count > 3);
        Assert.Equal(expected.Select(interval => (saw, interval.Key, every, interval.Count())), stored.Select(sample => (sample.Saw, sample.Sample.From, sample.Sample.Every, sample.Sample.Frames)));
        foreach (var (interval, sample) in expected.Zip(stored))
        {
            foreach (var info in SignalInfo.All.Where(info => info.Kind is SignalKind.Number or SignalKind.Flag))
            {
                var values = interval.Where(frame => frame.Has(info.Signal)).Select(frame => frame.Number(info.Signal)).ToList();
                var figures = sample.Sample[info.Signal];
                Assert.Equal(values.Count, figures?.Count ?? 0);
                if (figures is not { } known)
                    continue;
                Assert.Equal(((float)values.Min(), (float)values.Max(), (float)values[^1]), (known.Least, known.Greatest, known.Last));
                Assert.Equal(values.Average(), known.Mean, 1e-6 * Math.Max(1, values.Max(Math.Abs)));
            }
        }
    }
}
