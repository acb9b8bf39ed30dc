namespace SawEdge.Core.Cycles;

/// <summary>How the observation of a cycle ended.</summary>
internal enum Closing
{
    /// <summary>The controller's bit fell, or the head was back up.</summary>
    Seen,

    /// <summary>The cycle bit fell while the head stood in the stock, and the cut was not taken up again.</summary>
    StoppedInStock,

    /// <summary>Frames broke off.</summary>
    BrokeOff,

    /// <summary>The input ended.</summary>
    InputEnded,
}

/// <summary>What else decides an outcome besides the trace.</summary>
/// <param name="Closing">How the observation ended.</param>
/// <param name="CycleBitSeen">Whether the controller's cycle bit was on.</param>
/// <param name="CounterRose">Whether the part counter rose for this cut.</param>
/// <param name="CounterFell">Whether it was reset or rolled over meanwhile.</param>
/// <param name="CounterTrusted">Whether a counter that did not rise says something.</param>
/// <param name="BottomMm">Head height at breakthrough learned from earlier cuts, mm, or NaN.</param>
/// <param name="UsualCutSeconds">Usual time of full cuts of this job, s, or NaN.</param>
/// <param name="UsualTailSeconds">Usual time from the end of a full cut to the end of its cycle, s, or NaN.</param>
/// <param name="TailSeconds">The same of this one, s.</param>
/// <param name="CuttingAfterGap">Whether the saw was in a cut when frames came again.</param>
/// <param name="UsualTicks">Usual time between two frames, ticks.</param>
internal readonly record struct OutcomeContext(
    Closing Closing,
    bool CycleBitSeen,
    bool CounterRose,
    bool CounterFell,
    bool CounterTrusted,
    double BottomMm,
    double UsualCutSeconds,
    double UsualTailSeconds,
    double TailSeconds,
    bool CuttingAfterGap,
    long UsualTicks);

/// <summary>Decides from the evidence how a cut ended. The table of these rules stands in DEVELOPERS.md.</summary>
internal static class OutcomeRules
{
    /// <summary>At or below this head height the blade is through, whatever else is known, mm.</summary>
    public const double TableToleranceMm = 2;

    private const string NoEnd = "the end of the cut fell into a gap between frames";

    /// <summary>More travel without load than this is no overtravel: the blade lost the stock on the way, mm.</summary>
    private const double GreatestOvertravelMm = 15;

    /// <summary>A cut that took less than this share of the usual time, and was not counted, was not finished.</summary>
    private const double ShortShare = 0.85;

    /// <summary>Decides the outcome; a full cut is <see cref="CutOutcome.Completed"/> here, whether it was a trim cut is decided by <see cref="OfFullCut"/>.</summary>
    public static CutOutcome Decide(ReadOnlySpan<Sample> samples, in CutFacts facts, in OutcomeContext context, List<string> notes)
    {
        var seen = ByWhatWasSeen(samples, facts, context, notes);
        if (seen is not (CutOutcome.Aborted or CutOutcome.Partial or CutOutcome.Interrupted))
            return seen;

        // What frames there are look like a cut that was left, and the controller counted it: its end was in one of the gaps.
        if (context.CounterRose && (context.Closing == Closing.BrokeOff || MissesFrames(samples, context.UsualTicks)))
        {
            notes.Clear();
            notes.Add("frames were missing in the cycle; the part counter rose");
            return CutOutcome.UnobservedEnd;
        }

        // Neither a fault nor a stop was seen: an end in a gap looks like this, too.
        if (seen == CutOutcome.Aborted && context.Closing == Closing.Seen && MissesFrames(samples, context.UsualTicks) && !FaultFrom(samples, 0, samples.Length))
        {
            notes.Add("frames were missing in the cycle: how the cut ended was not seen");
            return CutOutcome.UnobservedEnd;
        }

        return seen;
    }

    /// <summary>Whether so much time lies between two frames that something may have happened that none of them shows.</summary>
    /// <param name="samples">The frames of a cycle.</param>
    /// <param name="usualTicks">Usual time between two frames of the saw, ticks: in a cycle of which little was seen it is not to be found.</param>
    public static bool MissesFrames(ReadOnlySpan<Sample> samples, long usualTicks)
    {
        if (samples.Length < 2)
            return true;
        var limit = Math.Max(2 * TimeSpan.TicksPerSecond, 3 * usualTicks);
        for (var i = 1; i < samples.Length; i++)
        {
            if (samples[i].Ticks - samples[i - 1].Ticks > limit)
                return true;
        }

        return false;
    }

    private static CutOutcome ByWhatWasSeen(ReadOnlySpan<Sample> samples, in CutFacts facts, in OutcomeContext context, List<string> notes)
    {
        var brokeOff = context.Closing is Closing.BrokeOff or Closing.InputEnded;
        if (!facts.LeaveSeen && brokeOff)
            return AfterBreakOff(context, notes);
        if (!facts.LeaveSeen && facts.Last + 1 < samples.Length)
        {
            // Frames were missing just where the cut ended; what came after them tells how.
            var left = facts.UsedHead && facts.LeaveHead > BottomOf(context) && facts.Overtravel < 1;
            notes.Add(left ? "the cut was left in a gap between frames" : context.CounterRose ? NoEnd + "; the part counter rose meanwhile" : NoEnd);
            return left ? CutOutcome.Interrupted : CutOutcome.UnobservedEnd;
        }

        var fault = FaultFrom(samples, facts.First, facts.UsedHead ? samples.Length : facts.Last + 3);
        if (!fault && facts.UsedHead && facts.LeaveHead > BottomOf(context) && BottomWasNotSeen(samples, facts))
        {
            // How deep the head went before it rose nobody saw; only the counter may tell.
            notes.Add(NoEnd);
            return !context.CounterRose ? CutOutcome.UnobservedEnd : facts.ContactSeen ? CutOutcome.Completed : CutOutcome.UnobservedStart;
        }

        var finished = facts.UsedHead ? FinishedByHead(facts, context, fault, notes) : FinishedWithoutHead(facts, context, fault);
        if (finished)
            return facts.ContactSeen ? CutOutcome.Completed : CutOutcome.UnobservedStart;
        if (fault || context.Closing == Closing.StoppedInStock || !facts.UsedHead || LostLoad(facts, context) || BladeStoppedBeforeRetract(samples, facts, context))
            return CutOutcome.Aborted;
        return CutOutcome.Partial;
    }

    /// <summary>Tells a trim cut from a part once the counter has had its time to count.</summary>
    public static CutOutcome OfFullCut(bool counterRose, bool counterFell, bool counterTrusted, bool firstOfBar) =>
        counterTrusted
            ? counterRose || counterFell ? CutOutcome.Completed : CutOutcome.Trim
            : firstOfBar ? CutOutcome.Trim : CutOutcome.Completed;

    private static CutOutcome AfterBreakOff(in OutcomeContext context, List<string> notes)
    {
        if (context.Closing == Closing.InputEnded)
        {
            notes.Add("frames end in the cut");
            return CutOutcome.UnobservedEnd;
        }

        if (context.CounterRose)
        {
            notes.Add("frames broke off in the cut; the part counter rose meanwhile");
            return CutOutcome.UnobservedEnd;
        }

        if (context.CounterTrusted && !context.CuttingAfterGap)
        {
            notes.Add(context.CounterFell
                ? "frames broke off in the cut; afterwards the saw stood outside it and the part counter had been reset"
                : "frames broke off in the cut; afterwards the saw stood outside it and the part counter had not risen");
            return CutOutcome.Interrupted;
        }

        notes.Add("frames broke off in the cut");
        return CutOutcome.UnobservedEnd;
    }

    private static bool FinishedByHead(in CutFacts facts, in OutcomeContext context, bool fault, List<string> notes)
    {
        if (facts.LeaveHead <= BottomOf(context))
            return true;
        if (LostLoad(facts, context))
        {
            notes.Add(string.Create(
                System.Globalization.CultureInfo.InvariantCulture,
                $"the load fell to idle at {facts.LeaveHead:0} mm above the table while the head went on down: the blade may have broken or come off"));
            return false;
        }

        // A table that is not at zero: as long as no breakthrough was ever seen lower, an undisturbed end with
        // overtravel, or a counter that counted, is one.
        return !fault && double.IsNaN(context.BottomMm) && (facts.Overtravel >= 1 || context.CounterRose);
    }

    private static double BottomOf(in OutcomeContext context) =>
        double.IsNaN(context.BottomMm) ? TableToleranceMm : Math.Max(TableToleranceMm, context.BottomMm + 3);

    // The head went on down without load, and not because it was through.
    private static bool LostLoad(in CutFacts facts, in OutcomeContext context)
    {
        if (!facts.UsedHead || !facts.UsedLoad || facts.LeaveHead <= BottomOf(context))
            return false;
        return facts.Overtravel > (double.IsNaN(context.BottomMm) ? GreatestOvertravelMm : 1);
    }

    private static bool FinishedWithoutHead(in CutFacts facts, in OutcomeContext context, bool fault)
    {
        if (fault)
            return false;
        if (context.CounterRose)
            return true;
        var counterSaysNo = context.CounterTrusted && !context.CounterFell;
        var seconds = (double)(facts.LeaveTicks - facts.ContactTicks) / TimeSpan.TicksPerSecond;
        if (counterSaysNo && facts.ContactSeen && seconds < ShortShare * context.UsualCutSeconds)
            return false;

        // A full cut is followed by the return; a stop ends the cycle where it is.
        if (context.UsualTailSeconds > 2 && context.TailSeconds < 0.3 * context.UsualTailSeconds)
            return false;
        return !(facts.LoadedToTheEnd && counterSaysNo);
    }

    private static bool FaultFrom(ReadOnlySpan<Sample> samples, int from, int to)
    {
        for (var i = from; i < Math.Min(to, samples.Length); i++)
        {
            if (samples[i].Is(SampleFlags.Fault))
                return true;
        }

        return false;
    }

    // The frame after the head's lowest one came much later than usual: the head turned somewhere in between.
    private static bool BottomWasNotSeen(ReadOnlySpan<Sample> samples, in CutFacts facts)
    {
        var lowest = -1;
        for (var i = facts.First; i < samples.Length; i++)
        {
            if (lowest < 0 ? !float.IsNaN(samples[i].Head) : samples[i].Head < samples[lowest].Head)
                lowest = i;
        }

        var usual = Math.Max(TimeSpan.TicksPerSecond, 5 * facts.Interval);
        return lowest >= 0 && lowest + 1 < samples.Length && samples[lowest + 1].Ticks - samples[lowest].Ticks > usual;
    }

    // Without a cycle bit, a blade that was switched off before the head rose tells a stop from a notch.
    private static bool BladeStoppedBeforeRetract(ReadOnlySpan<Sample> samples, in CutFacts facts, in OutcomeContext context)
    {
        if (context.CycleBitSeen || !facts.UsedHead)
            return false;
        for (var i = facts.Last + 1; i < samples.Length && !(samples[i].Head > facts.LowestHead + 1); i++)
        {
            if (samples[i].Is(SampleFlags.BladeStopped) || samples[i].Load < 0.2 * facts.IdleKw)
                return true;
        }

        return false;
    }
}
