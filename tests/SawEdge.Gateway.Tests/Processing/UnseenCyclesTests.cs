using SawEdge.Core;
using SawEdge.Core.Cutting;
using SawEdge.Core.Cycles;
using SawEdge.Core.Materials;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Tests.History;
using SawEdge.Simulator.Demo;
using SawEdge.Simulator.Recordings;
using SawEdge.Simulator.Saws;

namespace SawEdge.Gateway.Tests.Processing;

/// <summary>What was made while the gateway was down, against what the virtual saw's controller counted; on real files.</summary>
public sealed class UnseenCyclesTests
{
    private static readonly DateTimeOffset Start = new(2026, 3, 2, 6, 0, 0, TimeSpan.Zero);

    public static TheoryData<int, bool> SawsAndEnds => new() { { 0, true }, { 1, true }, { 2, true }, { 0, false }, { 1, false }, { 2, false } };

    [Theory]
    [MemberData(nameof(SawsAndEnds))]
    public async Task DownForSomeCycles_RecordsAndWhatIsStatedAreWhatTheControllerCounted(int saw, bool crash)
    {
        var (machine, jobs, frames) = Recorded(saw);
        var (before, after) = (Counter(frames[0]), Counter(frames[^1]));
        for (var seed = 1; seed <= 2; seed++)
        {
            var random = new Random(seed);
            await using var history = new RunningHistory();
            var processor = new CrashingProcessor(history, machine, jobs, storeEachFrame: false);
            var at = 0;
            for (var stop = 1; stop <= 4; stop++)
            {
                // Down for anything from a moment to three cycles.
                var length = frames.Count / 8;
                var run = 3 + random.Next(length);
                await processor.RunAsync([.. frames.Skip(at).Take(run)], crash);
                at += run + random.Next(length);
            }

            await processor.RunAsync([.. frames.Skip(at)], crash: false);
            var records = await processor.RecordsAsync();
            var seen = records.Count(record => record.Outcome is CutOutcome.Completed or CutOutcome.UnobservedStart || record.Notes.Contains("the part counter rose meanwhile", StringComparison.Ordinal));
            var stated = records.Sum(record => StatedIn(record.Notes));
            Assert.True(seen + stated == after - before, $"seed {seed}: {seen} recorded and {stated} stated of {after - before}\n" + string.Join('\n', records.Select(record => $"{record.StartedAt:HH:mm:ss} {record.EndedAt:HH:mm:ss} {record.Outcome} {record.PartCount} {record.Notes}")));

            // Said at once, not only with the next record.
            Assert.Equal(stated > 0, processor.Log.Count(3016) > 0);
            Assert.Equal(records.Count, records.Select(record => record.CycleId).Distinct().Count());
        }
    }

    [Theory]
    [InlineData(true)]
    [InlineData(false)]
    public async Task CounterThatIsMovedBetweenCyclesWhileSeen_IsNotTakenForCyclesOfTheTimeAway(bool crash)
    {
        // A person sets the counter 30 s after a cycle; 10 s later the gateway stops, and half a minute later it starts.
        var (machine, jobs, frames) = Recorded(0);
        await using var whole = new RunningHistory();
        var uninterrupted = new CrashingProcessor(whole, machine, jobs, storeEachFrame: false);
        await uninterrupted.RunAsync(frames, crash: false);
        var first = (await uninterrupted.RecordsAsync())[0].EndedAt;
        var idle = frames.Where(frame => frame.Time <= first.AddSeconds(7)).ToList();
        for (var i = 1; i <= 400; i++)
        {
            var frame = idle[^1];
            frame.Time = idle[^1].Time.AddMilliseconds(250);
            if (i == 120)
                frame.Set(Signal.PartCount, Counter(frame) + 5);
            idle.Add(frame);
        }

        await using var history = new RunningHistory();
        var processor = new CrashingProcessor(history, machine, jobs, storeEachFrame: false);
        await processor.RunAsync([.. idle.Take(idle.Count - 240)], crash);
        await processor.RunAsync([.. idle.Skip(idle.Count - 120)], crash: false);
        Assert.Equal(0, processor.Log.Count(3016));
    }

    private static long StatedIn(string notes)
    {
        const string Begins = "the controller counted ";
        var stated = 0L;
        foreach (var note in notes.Split("; ").Where(note => note.StartsWith(Begins, StringComparison.Ordinal)))
            stated += long.Parse(note.AsSpan(Begins.Length, note.IndexOf(' ', Begins.Length) - Begins.Length), System.Globalization.CultureInfo.InvariantCulture);
        return stated;
    }

    private static long Counter(in SignalFrame frame) => (long)frame.Number(Signal.PartCount);

    private static (SawMachine Machine, JobBook Jobs, IReadOnlyList<SignalFrame> Frames) Recorded(int saw)
    {
        var plant = Plant.Create(Start, withFaults: false);
        var options = plant.Saws[saw].Options;
        options = options with { Machine = options.Machine with { CounterStart = 1200 } };
        var frames = RecordingGenerator.Frames(new VirtualSaw(options), new RecordingOptions { Cycles = 16, Interval = TimeSpan.FromMilliseconds(500) }).ToList();
        return (options.Machine.ToSawMachine(), JobBook.Parse(plant.JobList, MaterialCatalogue.BuiltIn).Book, frames);
    }
}
