namespace SawEdge.Core.Cycles;

/// <summary>What the trace of one cycle says about its cut. Ticks are on the detector's axis.</summary>
internal struct CutFacts
{
    /// <summary>Whether blade and stock met at all.</summary>
    public bool HasCut;

    /// <summary>Whether the contact was seen, and when.</summary>
    public bool ContactSeen;
    public long ContactTicks;

    /// <summary>Whether the end of the cut was seen, and when.</summary>
    public bool LeaveSeen;
    public long LeaveTicks;

    /// <summary>First and last sample in the stock.</summary>
    public int First;
    public int Last;

    /// <summary>Head height at contact and at the end of the cut, mm; NaN without a usable head position.</summary>
    public double ContactHead;
    public double LeaveHead;

    /// <summary>Lowest head height, mm, and how far below <see cref="LeaveHead"/> the head still went.</summary>
    public double LowestHead;
    public double Overtravel;

    /// <summary>Idle load, kW; NaN where not seen.</summary>
    public double IdleKw;

    /// <summary>Time in feed holds, s, and their number.</summary>
    public double HoldSeconds;
    public int Holds;

    /// <summary>Whether head, load and bits were used.</summary>
    public bool UsedHead;
    public bool UsedLoad;
    public bool UsedBits;

    /// <summary>A head position that was there but never moved.</summary>
    public bool HeadStood;

    /// <summary>A head position that rose while the saw cut: it is not used.</summary>
    public bool HeadBackwards;

    /// <summary>Whether the blade was still cutting at the very last sample before the cycle ended.</summary>
    public bool LoadedToTheEnd;

    /// <summary>Usual time between samples, ticks.</summary>
    public long Interval;
}

/// <summary>What is known before the trace is looked at.</summary>
/// <param name="IdleKw">Idle load learned from earlier cycles, kW, or NaN.</param>
/// <param name="Stock">The job's section in the vise.</param>
/// <param name="StartSeen">Whether the start of the cycle was seen: if not, the trace may begin in the stock.</param>
internal readonly record struct CutHints(double IdleKw, StockShape Stock, bool StartSeen);

/// <summary>
/// Reads the trace of a cycle as a whole, after the fact: where the head descended, where the load rose and fell,
/// what the controller's cutting bit said. Looking back is what makes gaps, holds and inrush harmless.
/// </summary>
internal static partial class CutAnalysis
{
    /// <summary>A head that moved less than this in a cycle did not move, mm.</summary>
    public const float LeastTravelMm = 2;

    /// <summary>How far from the moment that the load names the head is believed, s: the lag of a transducer.</summary>
    private const double HeadReachSeconds = 1.2;

    /// <summary>An edge between two samples further apart than this was not seen.</summary>
    public static long GapLimit(long interval) => Math.Max(5 * TimeSpan.TicksPerSecond, 10 * interval);

    /// <summary>Reads a trace.</summary>
    public static CutFacts Read(ReadOnlySpan<Sample> samples, in CutHints hints)
    {
        Span<float> scratch = stackalloc float[512];
        var facts = new CutFacts { First = -1, Last = -1, ContactHead = double.NaN, LeaveHead = double.NaN, LowestHead = double.NaN, IdleKw = double.NaN };
        if (samples.Length < 2)
            return facts;
        facts.Interval = TraceMath.MedianInterval(samples, scratch);

        var bits = BitWindow(samples);
        var (from, to) = Window(samples, bits, ref facts);
        if (to <= from)
            return facts;

        var loads = 0;
        for (var i = from; i <= to; i++)
        {
            if (!float.IsNaN(samples[i].Load))
                loads++;
        }

        if (loads >= 3 && loads * 2 >= to - from && Varies(samples, from, to))
            ReadLoad(samples, from, to, bits, hints, scratch, ref facts);
        else if (bits.Last >= bits.First && bits.First >= 0)
            ReadBits(samples, bits, ref facts);
        if (!facts.HasCut)
            return facts;

        if (facts.UsedHead)
            ReadHead(samples, hints, ref facts);
        MeasureHolds(samples, ref facts);
        return facts;
    }

    // A transducer that never changes its mind says nothing.
    private static bool Varies(ReadOnlySpan<Sample> samples, int from, int to)
    {
        var least = float.PositiveInfinity;
        var greatest = float.NegativeInfinity;
        for (var i = from; i <= to; i++)
        {
            if (float.IsNaN(samples[i].Load))
                continue;
            least = Math.Min(least, samples[i].Load);
            greatest = Math.Max(greatest, samples[i].Load);
        }

        return greatest - least > 0.002 * Math.Max(Math.Abs(greatest), Math.Abs(least));
    }

    private static (int First, int Last) BitWindow(ReadOnlySpan<Sample> samples)
    {
        var first = -1;
        var last = -1;
        for (var i = 0; i < samples.Length; i++)
        {
            if (!samples[i].Is(SampleFlags.Cutting))
                continue;
            if (first < 0)
                first = i;
            last = i;
        }

        return (first, last);
    }

    // Where the cut can lie: between the start of the descent and the last sample at the bottom, or around the
    // cutting bit, or anywhere in the cycle.
    private static (int From, int To) Window(ReadOnlySpan<Sample> samples, (int First, int Last) bits, ref CutFacts facts)
    {
        var lowest = float.NaN;
        var lowestAt = -1;
        var heads = 0;
        for (var i = 0; i < samples.Length; i++)
        {
            var head = SteadyHead(samples, i);
            if (float.IsNaN(head))
                continue;
            heads++;
            if (!(head >= lowest))
            {
                lowest = head;
                lowestAt = i;
            }
        }

        if (heads >= 3 && heads * 2 >= samples.Length)
        {
            var highest = lowest;
            for (var i = 0; i <= lowestAt; i++)
                highest = Math.Max(highest, Finite(SteadyHead(samples, i), highest));
            Span<float> scratch = stackalloc float[512];
            facts.HeadBackwards = SignalDoubtRules.HeadRisesUnderLoad(samples, scratch);
            if (highest - lowest >= LeastTravelMm && !facts.HeadBackwards)
            {
                facts.UsedHead = true;
                facts.LowestHead = lowest;
                var from = 0;
                for (var i = lowestAt; i >= 0; i--)
                {
                    if (SteadyHead(samples, i) >= highest - 0.5f)
                    {
                        from = i;
                        break;
                    }
                }

                var to = lowestAt;
                for (var i = lowestAt; i < samples.Length; i++)
                {
                    var head = SteadyHead(samples, i);
                    if (head > lowest + 0.5f)
                        break;
                    to = i;
                }

                return (from, to);
            }

            facts.HeadStood = !facts.HeadBackwards;
        }

        if (bits.First < 0)
            return (0, samples.Length - 1);
        var margin = (int)Math.Max(2, TimeSpan.TicksPerSecond / facts.Interval);
        return (Math.Max(0, bits.First - margin), Math.Min(samples.Length - 1, bits.Last + margin));
    }

    // The head tells the moment more finely than the load: contact is where the blade is as high as the stock,
    // breakthrough where it is at the table. It is believed near the moment that the load names, and no further.
    private static void ReadHead(ReadOnlySpan<Sample> samples, in CutHints hints, ref CutFacts facts)
    {
        if (facts.ContactSeen && hints.Stock.HeightMm > 0)
            facts.ContactTicks = HeadCrossing(samples, facts.First, (float)hints.Stock.HeightMm, facts.ContactTicks, facts.Interval);
        if (facts.LeaveSeen)
            facts.LeaveTicks = HeadCrossing(samples, facts.Last + 1, 0, facts.LeaveTicks, facts.Interval);
        facts.ContactHead = HeadAt(samples, facts.ContactTicks, facts.First);

        // A head that turned at once is already rising between the two samples: the cut went no higher than the last one in it.
        facts.LeaveHead = Math.Min(HeadAt(samples, facts.LeaveTicks, facts.Last), Finite(SteadyHead(samples, facts.Last), float.PositiveInfinity));
        facts.Overtravel = Math.Max(0, facts.LeaveHead - facts.LowestHead);
    }

    private static long HeadCrossing(ReadOnlySpan<Sample> samples, int near, float height, long otherwise, long interval)
    {
        var reach = Math.Max((long)(HeadReachSeconds * TimeSpan.TicksPerSecond), interval);
        var best = otherwise;
        var distance = long.MaxValue;
        var steps = (int)(reach / interval) + 2;
        for (var i = Math.Max(1, near - steps); i <= Math.Min(samples.Length - 1, near + steps); i++)
        {
            var above = SteadyHead(samples, i - 1);
            var below = SteadyHead(samples, i);
            if (!(above >= height && height >= below && above > below))
                continue;
            var at = TraceMath.Crossing(samples[i - 1].Ticks, above, samples[i].Ticks, below, height);
            if (Math.Abs(at - otherwise) < distance && Math.Abs(at - otherwise) <= reach)
            {
                distance = Math.Abs(at - otherwise);
                best = at;
            }
        }

        return best;
    }

    private static double HeadAt(ReadOnlySpan<Sample> samples, long ticks, int near)
    {
        var i = Math.Clamp(near, 0, samples.Length - 1);
        while (i > 0 && samples[i].Ticks > ticks)
            i--;
        while (i + 1 < samples.Length && samples[i + 1].Ticks <= ticks)
            i++;
        var here = SteadyHead(samples, i);
        if (i + 1 >= samples.Length)
            return here;
        var next = SteadyHead(samples, i + 1);
        if (float.IsNaN(here) || float.IsNaN(next))
            return float.IsNaN(here) ? next : here;
        var share = (double)(ticks - samples[i].Ticks) / (samples[i + 1].Ticks - samples[i].Ticks);
        return here + (Math.Clamp(share, 0, 1) * (next - here));
    }

    private static void MeasureHolds(ReadOnlySpan<Sample> samples, ref CutFacts facts)
    {
        var least = Math.Max(2 * TimeSpan.TicksPerSecond, 3 * facts.Interval);
        var threshold = facts.UsedLoad && !double.IsNaN(facts.IdleKw) ? HoldThreshold(samples, facts) : double.NaN;
        var start = -1;
        for (var i = facts.First; i <= facts.Last; i++)
        {
            var still = i > facts.First && IsIdle(samples, i, threshold);
            if (still && start < 0)
                start = i - 1;
            if (start < 0 || (still && i < facts.Last))
                continue;
            var length = samples[i].Ticks - samples[start].Ticks;
            if (length >= least && (!facts.UsedHead || Stood(samples, start, i, facts)))
            {
                facts.HoldSeconds += (double)length / TimeSpan.TicksPerSecond;
                facts.Holds++;
            }

            start = -1;
        }
    }

    private static double HoldThreshold(ReadOnlySpan<Sample> samples, in CutFacts facts)
    {
        Span<float> scratch = stackalloc float[256];
        var level = TraceMath.MedianLoad(samples, facts.First, facts.Last + 1, scratch);
        return facts.IdleKw + (0.3 * (level - facts.IdleKw));
    }

    private static bool IsIdle(ReadOnlySpan<Sample> samples, int i, double threshold) =>
        double.IsNaN(threshold)
            ? samples[i].Is(SampleFlags.CuttingKnown) && !samples[i].Is(SampleFlags.Cutting)
            : samples[i].Load <= threshold;

    // An idle load on a head that goes on down is air in the stock (a bundle, a tube) or a narrow end of it (a round bar), not a hold.
    private static bool Stood(ReadOnlySpan<Sample> samples, int from, int to, in CutFacts facts)
    {
        var (first, last) = (Math.Min(from + 1, to), Math.Max(to - 1, from));
        var usual = (facts.ContactHead - facts.LeaveHead) * (samples[last].Ticks - samples[first].Ticks) / Math.Max(1, facts.LeaveTicks - facts.ContactTicks);
        var limit = double.IsNaN(usual) ? 1 : Math.Clamp(0.5 * usual, 0.3, 1);
        return !(Math.Abs(SteadyHead(samples, first) - SteadyHead(samples, last)) > limit);
    }

    private static long Halfway(ReadOnlySpan<Sample> samples, int index) => samples[index].Ticks + ((samples[index + 1].Ticks - samples[index].Ticks) / 2);

    private static float Finite(float value, float otherwise) => float.IsNaN(value) ? otherwise : value;

    /// <summary>Head position freed of single-sample spikes: the median of a sample and its neighbours.</summary>
    public static float SteadyHead(ReadOnlySpan<Sample> samples, int i)
    {
        var b = samples[i].Head;
        if (float.IsNaN(b))
            return b;
        var a = i > 0 ? Finite(samples[i - 1].Head, b) : b;
        var c = i + 1 < samples.Length ? Finite(samples[i + 1].Head, b) : b;
        return Math.Max(Math.Min(a, b), Math.Min(Math.Max(a, b), c));
    }
}
