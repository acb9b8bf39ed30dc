using SawEdge.Core.Signals;
using SawEdge.Simulator.Randomness;
using SawEdge.Simulator.Saws;

namespace SawEdge.Simulator.Recordings;

/// <summary>Records virtual saws without a clock, as fast as the machine can: the frames a poller would have got, and the truth beside them.</summary>
public static class RecordingGenerator
{
    private static readonly TimeSpan Tail = TimeSpan.FromSeconds(2);

    /// <summary>
    /// The frames of one saw. Its truth is taken from <see cref="VirtualSaw.TakeFinished"/>, during or after.
    /// </summary>
    /// <param name="saw">The saw, where it stands.</param>
    /// <param name="options">How it is recorded.</param>
    /// <exception cref="ArgumentException">The options cannot be.</exception>
    public static IEnumerable<SignalFrame> Frames(VirtualSaw saw, RecordingOptions options)
    {
        options.Validate();
        return FramesOf(saw, options);
    }

    /// <summary>Writes a recording of several saws, and the truth.</summary>
    /// <param name="saws">The saws; each is begun anew.</param>
    /// <param name="options">How they are recorded.</param>
    /// <param name="recording">Gets the recording as CSV.</param>
    /// <param name="truth">Gets the truth of all cycles that ended in the recording as CSV; null: not wanted.</param>
    /// <returns>The truth, saw by saw.</returns>
    /// <exception cref="ArgumentException">The options cannot be.</exception>
    public static IReadOnlyList<SawTruth> Write(IReadOnlyList<VirtualSawOptions> saws, RecordingOptions options, TextWriter recording, TextWriter? truth = null)
    {
        options.Validate();
        var signals = options.Signals ?? [.. SignalInfo.All.Select(info => info.Signal)];
        var writer = new FrameCsv(recording, signals);
        writer.WriteHeader();

        var virtualSaws = saws.Select(saw => new VirtualSaw(saw)).ToArray();
        var sources = virtualSaws.Select(saw => FramesOf(saw, options).GetEnumerator()).ToArray();
        var next = new PriorityQueue<int, (DateTimeOffset, int)>();
        var last = saws.Select(saw => saw.Start).ToArray();
        try
        {
            for (var i = 0; i < sources.Length; i++)
            {
                if (sources[i].MoveNext())
                    next.Enqueue(i, (sources[i].Current.Time, i));
            }

            while (next.TryDequeue(out var i, out _))
            {
                writer.Write(virtualSaws[i].Name, sources[i].Current);
                last[i] = sources[i].Current.Time;
                if (sources[i].MoveNext())
                    next.Enqueue(i, (sources[i].Current.Time, i));
            }
        }
        finally
        {
            foreach (var source in sources)
                source.Dispose();
        }

        var truths = new List<SawTruth>();
        for (var i = 0; i < virtualSaws.Length; i++)
        {
            var saw = virtualSaws[i];
            truths.AddRange(saw.TakeFinished().Append(saw.Truth).Where(cycle => cycle.Ended <= last[i]));
        }

        if (truth is not null)
            TruthCsv.Write(truths, truth);
        return truths;
    }

    private static IEnumerable<SignalFrame> FramesOf(VirtualSaw saw, RecordingOptions options)
    {
        var start = saw.TurnStart;
        for (long k = 0; ; k++)
        {
            var random = new Xoshiro256(options.Seed, 77, (ulong)k);
            var lost = random.Uniform() < options.LossChance;
            var due = start + (options.Interval * k);
            var time = ToMilliseconds(due + (options.Interval * random.Uniform(-options.Jitter, options.Jitter)));
            if (time < saw.TurnStart)
                time = ToMilliseconds(saw.TurnStart).AddMilliseconds(1);
            if (time >= options.End)
                yield break;
            saw.AdvanceTo(time);
            if (saw.Truth.Cycle > options.Cycles && time > saw.TurnStart + Tail)
                yield break;
            if (options.IdleMargin is { } margin && time > saw.TurnStart + margin && time < saw.Truth.Started - margin)
            {
                // On to the last frame that is still to be left out; a wait can last a weekend.
                k = Math.Max(k, ((saw.Truth.Started - margin - start).Ticks / options.Interval.Ticks) - 1);
                continue;
            }

            if (!lost && !IsOut(time, options) && saw.TrySample(time, out var frame))
                yield return frame;
        }
    }

    private static bool IsOut(DateTimeOffset time, RecordingOptions options)
    {
        if (time < options.Begin)
            return true;
        foreach (var (from, to) in options.Outages)
        {
            if (time >= from && time < to)
                return true;
        }

        return false;
    }

    private static DateTimeOffset ToMilliseconds(DateTimeOffset time) =>
        new(time.UtcTicks - (time.UtcTicks % TimeSpan.TicksPerMillisecond), TimeSpan.Zero);
}
