namespace SawEdge.Core.Cycles;

/// <summary>Looks in the trace of a finished cycle for signals that cannot be right.</summary>
internal static class SignalDoubtRules
{
    /// <summary>Fastest travel of a head between two frames, mm/s (6 m/min): common practice, no source.</summary>
    private const double FastestMmS = 100;

    private const float JumpMm = 10;
    private const float RiseMm = 3;
    private const int LeastFrames = 20;
    private const int LeastValues = 8;

    /// <summary>The doubts about a cycle with a cut.</summary>
    /// <param name="samples">The trace.</param>
    /// <param name="facts">What it says about the cut.</param>
    /// <param name="learnedIdleKw">Idle load learned from earlier cycles, kW, or NaN.</param>
    public static SignalDoubts Of(ReadOnlySpan<Sample> samples, in CutFacts facts, double learnedIdleKw)
    {
        var doubts = facts.HeadBackwards ? SignalDoubts.HeadBackwards : SignalDoubts.None;
        var cut = samples[facts.First..(facts.Last + 1)];
        Span<float> scratch = stackalloc float[512];
        var level = TraceMath.MedianLoad(cut, 0, cut.Length, scratch);
        var noise = TraceMath.LoadNoise(cut, 0, cut.Length, scratch);
        var idle = facts.UsedLoad ? facts.IdleKw : double.NaN;
        if (IsConstant(samples))
            doubts |= SignalDoubts.LoadConstant;
        else if (IsNegative(cut, level, noise, double.IsNaN(learnedIdleKw) ? idle : Math.Min(idle, learnedIdleKw)))
            doubts |= SignalDoubts.LoadNegative;
        if (IsSaturated(cut))
            doubts |= SignalDoubts.LoadSaturated;
        if (facts.UsedHead && Jumps(samples, facts, idle + (0.5 * (level - idle))))
            doubts |= SignalDoubts.HeadJumps;
        if (SpeedIsZero(cut, idle + (0.3 * (level - idle))))
            doubts |= SignalDoubts.BladeSpeedZero;
        return doubts;
    }

    /// <summary>The doubts about a cycle in which no cut was seen though the head went down.</summary>
    public static SignalDoubts WithoutCut(ReadOnlySpan<Sample> samples, in CutFacts facts)
    {
        var doubts = facts.HeadBackwards ? SignalDoubts.HeadBackwards : SignalDoubts.None;
        Span<float> scratch = stackalloc float[512];
        if (IsConstant(samples))
            doubts |= SignalDoubts.LoadConstant;
        else if (IsNegative(samples, TraceMath.MedianLoad(samples, 0, samples.Length, scratch), TraceMath.LoadNoise(samples, 0, samples.Length, scratch), double.NaN))
            doubts |= SignalDoubts.LoadNegative;
        return doubts;
    }

    /// <summary>Each doubt in words.</summary>
    public static void AddNotes(SignalDoubts doubts, List<string> notes)
    {
        if ((doubts & SignalDoubts.LoadConstant) != 0)
            notes.Add("the motor load never changed: its signal may be frozen or not connected");
        if ((doubts & SignalDoubts.LoadNegative) != 0)
            notes.Add("the motor load fell below zero or below its own idle load: its transducer may be connected the wrong way round or have a wrong zero");
        if ((doubts & SignalDoubts.LoadSaturated) != 0)
            notes.Add("the motor load stood at its greatest value: the cut may lie above the end of the transducer's range");
        if ((doubts & SignalDoubts.HeadJumps) != 0)
            notes.Add("the head position jumped further than a saw moves: depths are not given");
        if ((doubts & SignalDoubts.HeadBackwards) != 0)
            notes.Add("the head position rose while the saw cut: its sign may be reversed, and it was not used");
        if ((doubts & SignalDoubts.BladeSpeedZero) != 0)
            notes.Add("the blade speed read zero in a running cut and was not used");
    }

    /// <summary>Whether the head rises where the load is high: over stretches of a second, so that noise is none, and by time, so that a quick retract under a lagging load is little.</summary>
    public static bool HeadRisesUnderLoad(ReadOnlySpan<Sample> samples, Span<float> scratch)
    {
        var threshold = LoadedAbove(samples, scratch);
        if (double.IsNaN(threshold))
            return false;
        double up = 0;
        double down = 0;
        double travel = 0;
        var from = -1;
        for (var i = 0; i < samples.Length; i++)
        {
            if (!(samples[i].Load > threshold))
                from = -1;
            if (from < 0)
            {
                from = samples[i].Load > threshold && !float.IsNaN(samples[i].Head) ? i : -1;
                continue;
            }

            var ticks = samples[i].Ticks - samples[from].Ticks;
            if (ticks < TimeSpan.TicksPerSecond || float.IsNaN(samples[i].Head))
                continue;
            var rise = CutAnalysis.SteadyHead(samples, i) - CutAnalysis.SteadyHead(samples, from);
            var seconds = (double)ticks / TimeSpan.TicksPerSecond;
            up += rise > 0.1f ? seconds : 0;
            down += rise < -0.1f ? seconds : 0;
            travel += rise;
            from = i;
        }

        return up >= 4 && up >= 5 * down && travel >= 5;
    }

    // Halfway between the low and the high loads; NaN where they hardly differ. Few values at either end are left out: an inrush.
    private static double LoadedAbove(ReadOnlySpan<Sample> samples, Span<float> scratch)
    {
        var step = Math.Max(1, (samples.Length + scratch.Length - 1) / scratch.Length);
        var count = 0;
        for (var i = 0; i < samples.Length; i += step)
        {
            if (!float.IsNaN(samples[i].Load))
                scratch[count++] = samples[i].Load;
        }

        if (count < LeastFrames)
            return double.NaN;
        var sorted = scratch[..count];
        sorted.Sort();
        var (low, high) = (sorted[count / 20], sorted[count - 1 - (count / 20)]);
        return high - low > 0.1 * Math.Abs(high) ? (low + (double)high) / 2 : double.NaN;
    }

    private static bool IsConstant(ReadOnlySpan<Sample> samples)
    {
        var first = float.NaN;
        var count = 0;
        foreach (ref readonly var sample in samples)
        {
            if (float.IsNaN(sample.Load))
                continue;
            if (count++ == 0)
                first = sample.Load;
            else if (sample.Load != first)
                return false;
        }

        return count >= LeastFrames;
    }

    // Below zero by more than noise and zero error in a tenth of the frames; below idle in a fifth, where the motor was not
    // switched off (in a hold it is) and the blade was there.
    private static bool IsNegative(ReadOnlySpan<Sample> samples, double level, double noise, double idle)
    {
        var belowZero = 0;
        var belowIdle = 0;
        var count = 0;
        var least = -Math.Max(4 * noise, 0.03 * Math.Abs(level));
        var leastNet = idle - Math.Max(5 * noise, 0.15 * idle);
        foreach (ref readonly var sample in samples)
        {
            if (float.IsNaN(sample.Load))
                continue;
            count++;
            belowZero += sample.Load < least ? 1 : 0;
            belowIdle += sample.Load < leastNet && sample.Load > 0.4 * idle && !sample.Is(SampleFlags.BladeStopped) ? 1 : 0;
        }

        return count >= LeastFrames && (belowZero >= 0.1 * count || belowIdle >= 0.2 * count);
    }

    // A load without noise may well stand; one that goes up and down elsewhere does not.
    private static bool IsSaturated(ReadOnlySpan<Sample> cut)
    {
        Span<float> values = stackalloc float[LeastValues];
        var distinct = 0;
        var greatest = float.NegativeInfinity;
        var atGreatest = 0;
        var count = 0;
        var turns = 0;
        var run = 0;
        var before = float.NaN;
        var change = 0f;
        foreach (ref readonly var sample in cut)
        {
            var load = sample.Load;
            if (float.IsNaN(load))
                continue;
            count++;
            if (load > greatest)
                (greatest, atGreatest) = (load, 0);
            atGreatest += load == greatest ? 1 : 0;
            if (distinct < LeastValues && !values[..distinct].Contains(load))
                values[distinct++] = load;
            var step = load - before;
            run = step == 0 ? run + 1 : 1;
            if (step != 0 && !float.IsNaN(step))
            {
                turns += step * change < 0 ? 1 : 0;
                change = step;
            }

            before = load;
        }

        // One that stands to the end of the cut is frozen, not at the end of its range.
        return count >= LeastFrames && atGreatest >= 0.25 * count && distinct == LeastValues && turns >= 5 && (before != greatest || run <= atGreatest / 2);
    }

    // Single readings were filtered already: what is left jumped for two frames or more.
    private static bool Jumps(ReadOnlySpan<Sample> samples, in CutFacts facts, double cutsAbove)
    {
        var before = float.NaN;
        var lowest = float.PositiveInfinity;
        long ticks = 0;
        var risen = false;
        var stillCuts = false;
        for (var i = facts.First; i <= facts.Last; i++)
        {
            var head = CutAnalysis.SteadyHead(samples, i);
            if (float.IsNaN(head))
                continue;
            var seconds = (double)(samples[i].Ticks - ticks) / TimeSpan.TicksPerSecond;
            var fall = before - head;
            if (fall > JumpMm + (FastestMmS * seconds) && !risen)
                return true;

            // Up in one step and down again, while the load goes on as in the stock: that was no retract.
            if (risen && head <= lowest + 1)
            {
                if (stillCuts)
                    return true;
                risen = false;
            }

            if (!risen && fall < -RiseMm)
                (risen, stillCuts) = (true, true);
            stillCuts &= !risen || !(samples[i].Load < cutsAbove);
            lowest = Math.Min(lowest, head);
            (before, ticks) = (head, samples[i].Ticks);
        }

        return false;
    }

    private static bool SpeedIsZero(ReadOnlySpan<Sample> cut, double cutsAbove)
    {
        var zero = 0;
        var count = 0;
        foreach (ref readonly var sample in cut)
        {
            if (float.IsNaN(sample.Speed) || sample.Is(SampleFlags.BladeStopped))
                continue;
            var cuts = double.IsNaN(cutsAbove) ? sample.Is(SampleFlags.Cutting) : sample.Load > cutsAbove;
            count += cuts ? 1 : 0;
            zero += cuts && sample.Speed <= 0 ? 1 : 0;
        }

        // A stalled blade stands as well, but it ran before.
        return count >= LeastFrames / 4 && zero >= 0.95 * count;
    }
}
