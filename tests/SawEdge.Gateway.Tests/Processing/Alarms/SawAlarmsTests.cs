using Microsoft.Extensions.Time.Testing;
using SawEdge.Core;
using SawEdge.Core.Alarms;
using SawEdge.Core.Cutting;
using SawEdge.Core.Cycles;
using SawEdge.Core.Load;
using SawEdge.Core.Materials;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition;
using SawEdge.Gateway.Processing;
using SawEdge.Gateway.Processing.Alarms;
using SawEdge.Gateway.Tests.History;

namespace SawEdge.Gateway.Tests.Processing.Alarms;

/// <summary>A saw's loop shows its rules what it sees, and brings what comes and goes to the desk.</summary>
public sealed class SawAlarmsTests
{
    private static readonly AlarmRule Broken = new()
    {
        Name = "blade_gone",
        Variable = AlarmVariables.Of(AlarmTopic.Finding, "blade_gone"),
        Test = new AlarmTest { Comparison = AlarmComparison.Is },
        Text = AlarmTemplate.Parse("{saw}: {finding}"),
    };

    private static readonly AlarmRule AnyCut = new()
    {
        Name = "any_cut",
        Variable = AlarmVariables.Of(AlarmTopic.Cycle, "frames"),
        Test = new AlarmTest { Comparison = AlarmComparison.Above, Limit = 1, ClearLimit = 1 },
        Text = AlarmTemplate.Parse("{saw}: {value}"),
    };

    private static JobBook Jobs => JobBook.Parse("job,material,section,part_length\nJ1,1045,round 100 mm,700 mm\n", MaterialCatalogue.BuiltIn).Book;

    [Fact]
    public async Task ABrokenBlade_IsToldWhileTheCutRuns_AndIsOverWithTheNextCutWithoutIt()
    {
        var (machine, frames) = LiveFindingTests.Recorded(7);
        await using var history = new RunningHistory();
        var processor = new CrashingProcessor(history, machine, Jobs, storeEachFrame: false) { Alarms = ([Broken], new AlarmQueue()) };
        await processor.RunAsync(frames, crash: false);

        var changes = Taken(processor);
        var came = Assert.Single(changes, change => change.Holds);
        var records = await processor.RecordsAsync();
        var cut = Assert.Single(records, record => record.StartedAt <= came.At && record.EndedAt >= came.At);
        Assert.Contains(came.Facts["finding"].Text!, cut.Notes, StringComparison.Ordinal);
        var went = changes[changes.IndexOf(came) + 1];
        Assert.False(went.Holds);
        Assert.True(went.At > cut.EndedAt);
    }

    // The desk may not have come to storing it: what was found is told again, and what is known does no harm.
    [Fact]
    public async Task PowerGoesRightAfterAFinding_ItIsToldAgain()
    {
        var (machine, frames) = LiveFindingTests.Recorded(7);
        await using var history = new RunningHistory();
        var processor = new CrashingProcessor(history, machine, Jobs, storeEachFrame: true) { Alarms = ([Broken], new AlarmQueue()) };
        var found = FoundAt(machine, frames);
        await processor.RunAsync([.. frames.Take(found + 3)], crash: true);
        Assert.True(Taken(processor)[^1].Holds);

        await processor.RunAsync([frames[found + 3]], crash: false);
        Assert.True(Assert.Single(Taken(processor)).Holds);
        Assert.Equal(1, processor.Log.Count(3005));
    }

    [Theory]
    [InlineData(1, true)]
    [InlineData(60, false)]
    public async Task PowerGoesBetweenACutAndItsAlarm_TheLastCutIsToldAgain_UnlessItIsLongPast(int minutesAway, bool told)
    {
        var (machine, recorded) = LiveFindingTests.Recorded(7);
        var frames = recorded.Take(LastBetweenCuts(machine, recorded) + 1).ToList();
        await using var history = new RunningHistory();
        await new CrashingProcessor(history, machine, Jobs, storeEachFrame: false).RunAsync(frames, crash: false);

        var queue = new AlarmQueue();
        var alarms = new SawAlarms(new SawAlarmWatch(machine.Name, [AnyCut]), queue, new FakeTimeProvider(frames[^1].Time.AddMinutes(minutesAway)));
        var inbox = new SawInbox(machine.Name);
        inbox.Complete();
        var processor = new SawProcessor(inbox, new SawPipeline(machine, Jobs), new SawSetup(machine, null, new LoadSettings(), MaterialCatalogue.BuiltIn), history.Writer, TimeProvider.System, new CollectedLog().For<SawProcessor>(), alarms: alarms);
        await processor.RunAsync(history.Reader, CancellationToken.None);

        var changes = new List<ConditionChange>();
        queue.TakeAll(changes);
        if (!told)
        {
            Assert.Empty(changes);
            return;
        }

        var last = await history.Reader.LastCutsAsync(machine.Name, 1);
        var change = Assert.Single(changes);
        Assert.Equal((true, last[0].Record.CycleId), (change.Holds, change.CycleId));
    }

    private static List<ConditionChange> Taken(CrashingProcessor processor)
    {
        var changes = new List<ConditionChange>();
        processor.Alarms!.Value.Queue.TakeAll(changes);
        return changes;
    }

    private static int FoundAt(SawMachine machine, IReadOnlyList<SignalFrame> frames)
    {
        var pipeline = new SawPipeline(machine, Jobs);
        for (var i = 0; i < frames.Count; i++)
        {
            pipeline.Push(frames[i]);
            if (pipeline.TryTakeFinding(out var finding) && finding.Kind == LiveFindingKind.BladeGone)
                return i;
        }

        throw new InvalidOperationException("no broken blade was found");
    }

    // The last frame after which no cycle is open.
    private static int LastBetweenCuts(SawMachine machine, IReadOnlyList<SignalFrame> frames)
    {
        var pipeline = new SawPipeline(machine, Jobs);
        var last = 0;
        for (var i = 0; i < frames.Count; i++)
        {
            pipeline.Push(frames[i]);
            while (pipeline.TryTake(out _))
            {
            }

            if (!pipeline.HasOpenEnds)
                last = i;
        }

        return last;
    }
}
