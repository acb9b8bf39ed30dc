using SawEdge.Core.Cutting;
using SawEdge.Core.Materials;
using SawEdge.Core.Sections;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Tests.History;
using SawEdge.Simulator.Faults;
using SawEdge.Simulator.Recordings;
using SawEdge.Simulator.Saws;

namespace SawEdge.Gateway.Tests.Processing;

/// <summary>What the live watch finds is said once, while the cut runs, and stands in the notes of its record; a power cut in between changes nothing.</summary>
public sealed class LiveFindingTests
{
    private const int Said = 3005;

    [Fact]
    public async Task ABrokenBlade_IsSaidOnce_AndStandsInTheNotesOfItsCut()
    {
        var (machine, frames) = Recorded();
        await using var history = new RunningHistory();
        var processor = new CrashingProcessor(history, machine, Jobs, storeEachFrame: false);
        await processor.RunAsync(frames, crash: false);

        var line = Assert.Single(processor.Log.Entries, entry => entry.Id == Said).Text;
        var record = Assert.Single(await processor.RecordsAsync(), record => record.Notes.Length > 0 && line.StartsWith("saw: ", StringComparison.Ordinal) && record.Notes.Contains(line["saw: ".Length..], StringComparison.Ordinal));
        Assert.True(record.StartedAt > frames[0].Time);
    }

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public async Task AStopInTheCutAfterAFinding_DoesNotSayItAgain_AndTheRecordsAreThoseOfAnUninterruptedRun(bool crash)
    {
        var (machine, frames) = Recorded();
        await using var whole = new RunningHistory();
        var uninterrupted = new CrashingProcessor(whole, machine, Jobs, storeEachFrame: true);
        await uninterrupted.RunAsync(frames, crash: false);
        var expected = await uninterrupted.RecordsAsync();
        var found = FindingAt(machine, frames);
        Assert.Contains(expected, record => record.StartedAt < frames[found].Time && record.EndedAt > frames[found + 3].Time);

        await using var history = new RunningHistory();
        var interrupted = new CrashingProcessor(history, machine, Jobs, storeEachFrame: true);
        await interrupted.RunAsync([.. frames.Take(found + (crash ? 3 : 2))], crash);
        Assert.Equal(1, interrupted.Log.Count(Said));
        await interrupted.RunAsync([.. frames.Skip(found + 2)], crash: false);

        Assert.Equal(1, interrupted.Log.Count(3001));
        Assert.Equal(1, interrupted.Log.Count(Said));
        Assert.Equal(expected, await interrupted.RecordsAsync());
    }

    private static JobBook Jobs => JobBook.Parse("job,material,section,part_length\nJ1,1045,round 100 mm,700 mm\n", MaterialCatalogue.BuiltIn).Book;

    // Number of the frame that the finding came with.
    private static int FindingAt(SawMachine machine, IReadOnlyList<SignalFrame> frames)
    {
        var pipeline = new Core.SawPipeline(machine, Jobs);
        for (var i = 0; i < frames.Count; i++)
        {
            pipeline.Push(frames[i]);
            while (pipeline.TryTake(out _))
            {
            }

            if (pipeline.TryTakeFinding(out _))
                return i;
        }

        throw new InvalidOperationException("nothing was found");
    }

    /// <summary>The frames of a saw whose blade breaks in its fourth cycle.</summary>
    internal static (SawMachine Machine, IReadOnlyList<SignalFrame> Frames) Recorded(int cycles = 6)
    {
        var options = new VirtualSawOptions
        {
            Machine = new MachineProfile { Name = "saw" },
            Jobs =
            [
                new VirtualJob
                {
                    Id = "J1",
                    Section = SectionNotation.Parse("round 100 mm").Section!,
                    Material = new VirtualMaterial("1045", 1800, 0.25),
                    RateCm2Min = 55,
                    BladeSpeedMMin = 70,
                    PartLengthMm = 700,
                    Quantity = 1000,
                },
            ],
            Seed = 3,
            Start = new DateTimeOffset(2026, 3, 2, 6, 0, 0, TimeSpan.Zero),
            Faults = [new BladeBreak(FaultTrigger.AtCycle(4), 0.4)],
        };
        return (options.Machine.ToSawMachine(), RecordingGenerator.Frames(new VirtualSaw(options), new RecordingOptions { Cycles = cycles, Interval = TimeSpan.FromMilliseconds(100) }).ToList());
    }
}
