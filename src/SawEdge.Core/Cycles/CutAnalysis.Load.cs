namespace SawEdge.Core.Cycles;

/// <summary>Where the cut begins and ends, from the load, helped by head and section, or from the cutting bit alone.</summary>
internal static partial class CutAnalysis
{
    private static void ReadLoad(ReadOnlySpan<Sample> samples, int from, int to, (int First, int Last) bits, in CutHints hints, Span<float> scratch, ref CutFacts facts)
    {
        var byHead = facts.UsedHead ? StockByHead.Find(samples, from, to, facts.Interval, hints, scratch) : StockByHead.None;
        if (byHead.IsStrokeInAir())
        {
            facts.IdleKw = byHead.AirKw;
            return;
        }

        var edges = LoadEdges.Find(samples, from, to, facts.Interval, hints, byHead.AirKw, scratch);
        facts.IdleKw = edges.IdleKw;
        var atTop = byHead.ContactIsAtTop(edges);
        if (edges.First < 0 && !atTop)
        {
            // A load that shows nothing does not overrule a cutting bit; a head that only moved does not make a cut.
            if (bits.First >= 0 && !facts.UsedHead && double.IsNaN(edges.IdleKw))
                ReadBits(samples, bits, ref facts);
            return;
        }

        facts.HasCut = true;
        facts.UsedLoad = true;
        facts.UsedBits = bits.First >= 0 && !facts.UsedHead;
        TakeEdges(samples, to, edges, ref facts);
        if (atTop)
        {
            facts.First = byHead.Top;
            facts.Last = Math.Max(facts.First, facts.Last);
            facts.ContactTicks = byHead.TopTicks;
            facts.ContactSeen = true;
        }

        if (byHead.LeaveIsAtTable(edges))
        {
            facts.Last = Math.Max(facts.First, byHead.Table - 1);
            facts.LeaveTicks = byHead.TableTicks;
            facts.LeaveSeen = true;
            facts.LoadedToTheEnd = false;
        }

        if (!facts.LeaveSeen)
            ReadEndElsewhere(samples, bits, ref facts);
    }

    // Where the load alone shows no edge, the cut lasts as long as the head is down.
    private static void TakeEdges(ReadOnlySpan<Sample> samples, int to, in LoadEdges edges, ref CutFacts facts)
    {
        var found = edges.First >= 0;
        facts.First = found ? edges.First : 0;
        facts.Last = found ? edges.Last : to;
        var gap = GapLimit(facts.Interval);
        facts.ContactSeen = edges.RiseSeen && (facts.First == 0 || samples[facts.First].Ticks - samples[facts.First - 1].Ticks <= gap);
        facts.ContactTicks = edges.ContactTicks;
        facts.LeaveSeen = (!found || edges.FallSeen) && facts.Last + 1 < samples.Length && samples[facts.Last + 1].Ticks - samples[facts.Last].Ticks <= gap;
        facts.LeaveTicks = found ? edges.LeaveTicks : samples[to].Ticks;
        facts.LoadedToTheEnd = found ? !edges.FallSeen : !facts.LeaveSeen;
    }

    // A load that froze in the cut does not show its end; the head at the table or the cutting bit still does.
    private static void ReadEndElsewhere(ReadOnlySpan<Sample> samples, (int First, int Last) bits, ref CutFacts facts)
    {
        var gap = GapLimit(facts.Interval);
        if (facts.UsedHead)
        {
            for (var i = facts.First + 1; i < samples.Length; i++)
            {
                var above = SteadyHead(samples, i - 1);
                var below = SteadyHead(samples, i);
                if (!(above >= 0 && below <= 0 && above > below) || samples[i].Ticks - samples[i - 1].Ticks > gap)
                    continue;
                facts.LeaveTicks = TraceMath.Crossing(samples[i - 1].Ticks, above, samples[i].Ticks, below, 0);
                facts.Last = Math.Max(facts.First, i - 1);
                facts.LeaveSeen = true;
                return;
            }
        }

        if (bits.Last > facts.First && bits.Last + 1 < samples.Length && samples[bits.Last + 1].Ticks - samples[bits.Last].Ticks <= gap && facts.LoadedToTheEnd && facts.Last > bits.Last)
        {
            facts.LeaveTicks = Halfway(samples, bits.Last);
            facts.Last = bits.Last;
            facts.LeaveSeen = true;
        }
    }

    private static void ReadBits(ReadOnlySpan<Sample> samples, (int First, int Last) bits, ref CutFacts facts)
    {
        facts.HasCut = true;
        facts.UsedBits = true;
        facts.First = bits.First;
        facts.Last = bits.Last;
        var gap = GapLimit(facts.Interval);

        // A bit that changed between two frames changed halfway, as far as anyone can tell.
        facts.ContactSeen = bits.First > 0 && samples[bits.First].Ticks - samples[bits.First - 1].Ticks <= gap;
        facts.ContactTicks = facts.ContactSeen ? Halfway(samples, bits.First - 1) : samples[bits.First].Ticks;
        facts.LeaveSeen = bits.Last + 1 < samples.Length && samples[bits.Last + 1].Ticks - samples[bits.Last].Ticks <= gap;
        facts.LeaveTicks = facts.LeaveSeen ? Halfway(samples, bits.Last) : samples[bits.Last].Ticks;
        facts.LoadedToTheEnd = !facts.LeaveSeen;
    }
}
