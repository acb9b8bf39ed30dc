using Microsoft.Extensions.Time.Testing;
using SawEdge.Core;
using SawEdge.Core.Alarms;
using SawEdge.Core.Cutting;
using SawEdge.Core.Load;
using SawEdge.Core.Materials;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Processing;
using SawEdge.Gateway.Processing.Alarms;
using SawEdge.Gateway.Tests.History;

namespace SawEdge.Gateway.Tests.Processing;

/// <summary>One saw's frames through processors that crash and are started anew on the same real history.</summary>
/// <param name="history">The history.</param>
/// <param name="machine">The saw.</param>
/// <param name="jobs">The jobs.</param>
/// <param name="storeEachFrame">Whether the frames of an open cycle are stored at once, or every two seconds of the frames' time.</param>
/// <param name="blade">The blade that the configuration names, or null.</param>
internal sealed class CrashingProcessor(RunningHistory history, SawMachine machine, JobBook jobs, bool storeEachFrame, string? blade = null)
{
    private sealed class PowerCutException : Exception;

    /// <summary>Rules about the saw, and where their conditions go; none unless told.</summary>
    public (IReadOnlyList<AlarmRule> Rules, AlarmQueue Queue)? Alarms { get; init; }

    /// <summary>Length of the intervals of which downsampled signals are kept; null: none are.</summary>
    public TimeSpan? SampleEvery { get; init; }

    /// <summary>What the processors said.</summary>
    public CollectedLog Log { get; } = new();

    /// <summary>Processes frames to the end, or crashes before the last of them is looked at, when all before it has been dealt with.</summary>
    /// <param name="frames">The frames.</param>
    /// <param name="crash">Whether it crashes, or the inbox is completed as at a clean stop.</param>
    public async Task RunAsync(IReadOnlyList<SignalFrame> frames, bool crash)
    {
        var inbox = new SawInbox(machine.Name, frames.Count + 1);
        foreach (var frame in frames)
            inbox.Offer(frame);
        inbox.Complete();
        var time = new FakeTimeProvider(frames[0].Time);
        var left = frames.Count;
        var alarms = Alarms is var (rules, queue) ? new SawAlarms(new SawAlarmWatch(machine.Name, rules), queue, time) : null;
        var processor = new SawProcessor(inbox, new SawPipeline(machine, jobs, blade), new SawSetup(machine, blade, new LoadSettings(), MaterialCatalogue.BuiltIn), history.Writer, time, Log.For<SawProcessor>(), alarms: alarms, onFrame: (string _, in SignalFrame frame) =>
        {
            if (--left == 0 && crash)
                throw new PowerCutException();
            if (storeEachFrame)
                time.Advance(SawProcessor.StoreInterval);
            else if (frame.Time > time.GetUtcNow())
                time.SetUtcNow(frame.Time);
        }, sampleEvery: SampleEvery);
        var running = processor.RunAsync(history.Reader, CancellationToken.None);
        if (crash)
            await Assert.ThrowsAsync<PowerCutException>(() => running);
        else
            await running;
    }

    /// <summary>The records in the order of their start.</summary>
    public async Task<List<CycleRecord>> RecordsAsync()
    {
        var records = new List<CycleRecord>();
        await foreach (var record in history.Reader.CyclesAsync(CycleFilter.All))
            records.Add(record);
        return records;
    }
}
