using System.Globalization;
using SawEdge.Core;
using SawEdge.Core.Cycles;

namespace SawEdge.Gateway.Commands.Commissioning;

/// <summary>What the cycle detector thinks and why, and what a finished cycle was, in sentences.</summary>
internal sealed class CycleWords(WatchUnits units, bool readsLoad, bool readsHead)
{
    /// <summary>What the detector takes the saw to be doing, and what it waits for.</summary>
    public string Of(WatchMoment moment)
    {
        var now = moment.Cycle;
        var at = moment.LastFrameAt ?? default;
        return now.Phase switch
        {
            CyclePhase.Unknown => "Nothing came yet: the cycle detector waits for the first frame.",
            CyclePhase.Idle => $"Between cycles since {Span(at - moment.PhaseSince)}{Place(moment)}. {Begins(now)}{(now.AwaitsCounter ? " The last cycle waits for the part counter, 5 s at most." : "")}",
            CyclePhase.Stopped => $"Stopped in the stock: the cycle bit fell {Span(at - (now.StoppedAt ?? at))} ago{Place(moment)}. Waits whether somebody carries on with the cut; it ends when the head comes up by {Mm(CycleNow.ReturnMm)}, or after 10 min.",
            _ when !now.HasCut => $"In a cycle {Since(now, at)}; {(now.CuttingBit == true ? "the cutting bit is on, and the load shows no contact" : "blade and stock have not met")} yet{Place(moment)}. {Contact(now)}",
            _ when now.LeftAt is { } left => $"The cut is over since {Span(at - left)}{(double.IsNaN(now.LeaveHeadMm) ? "" : $", left at {Mm(now.LeaveHeadMm)}")}{Place(moment)}. {Ends(now)}",
            _ => $"In a cut since {Span(at - (now.ContactAt ?? now.StartedAt ?? at))}: {ContactPlace(now)}{Place(moment)}. {Ends(now)}",
        };
    }

    /// <summary>A finished cycle in one line.</summary>
    public string Of(CycleRecord record)
    {
        var parts = new List<string> { record.Outcome.ToName() };
        if (record.CutTimeS is { } cut)
            parts.Add(Text($"cut {cut:0.0} s"));
        if (record.StandardCutTimeS is { } standard)
            parts.Add(Text($"standard {standard:0.0} s"));
        if (record.CycleTimeS is { } cycle)
            parts.Add(Text($"cycle {cycle:0.0} s"));
        if (record.MeanLoadKw is { } load)
            parts.Add($"mean {units.Text(load, "kW")}");
        if (record.IdleLoadKw is { } idle)
            parts.Add($"idle {units.Text(idle, "kW")}");
        if (record.Job.Length > 0)
            parts.Add($"job {Core.Signals.ControllerText.Clean(record.Job)}");
        if (record.Basis.Length > 0)
            parts.Add($"from {record.Basis}");
        if (record.Notes.Length > 0)
            parts.Add(Core.Signals.ControllerText.CleanUpTo(record.Notes, 300));
        return string.Join(", ", parts);
    }

    private static string Since(CycleNow now, DateTimeOffset at) => now.Beginning switch
    {
        CycleBeginning.NotSeen => $"whose beginning was not seen, for {Span(at - (now.StartedAt ?? at))}",
        CycleBeginning.CycleBit => $"since {Span(at - (now.StartedAt ?? at))}, begun by the cycle bit",
        _ => $"since {Span(at - (now.StartedAt ?? at))}, begun by the {(now.CuttingBit == true ? "cutting bit" : "head that went down")}",
    };

    private string ContactPlace(CycleNow now) =>
        double.IsNaN(now.ContactHeadMm) ? now.ContactAt is null ? "contact not seen" : "contact seen" : $"contact at {Mm(now.ContactHeadMm)}";

    // What the detector looks at now, as far as it is read.
    private string Place(WatchMoment moment)
    {
        var head = double.IsNaN(moment.HeadMm) ? "" : $", head at {Mm(moment.HeadMm)}";
        if (double.IsNaN(moment.LoadKw))
            return head;
        var idle = moment.Cycle.IdleKw;
        return head + (double.IsNaN(idle)
            ? $", load {units.Text(moment.LoadKw, "kW")} (idle load not known yet)"
            : moment.LoadKw > idle
                ? $", load {units.Text(moment.LoadKw - idle, "kW")} above idle {units.Text(idle, "kW")}"
                : $", load at idle {units.Text(idle, "kW")}");
    }

    private string Begins(CycleNow now)
    {
        var ways = new List<string>();
        if (now.CycleBit is not null)
            ways.Add("the cycle bit comes");
        if (now.CuttingBit is not null)
            ways.Add("the cutting bit comes");
        if (!double.IsNaN(now.TopMm))
            ways.Add($"the head goes below {Mm(now.TopMm - CycleNow.DescentMm)}");
        return ways.Count == 0
            ? "A cycle cannot begin: neither head position nor cutting bit nor cycle bit is read."
            : $"A cycle begins when {string.Join(", or ", ways)}.";
    }

    private string Contact(CycleNow now) => readsLoad
        ? "The cut begins where the load rises and stays."
        : now.CuttingBit is not null ? "The cut begins with the cutting bit." : "The cut itself is not seen without motor load or cutting bit.";

    private string Ends(CycleNow now) => now.WaitsFor switch
    {
        CycleWait.Leave => $"It ends when {(readsLoad ? "the load is gone" : "the cutting bit falls")}{(readsHead ? " or the head comes up" : "")}{(now.Beginning == CycleBeginning.CycleBit ? "; the cycle when the cycle bit falls" : "")}.",
        CycleWait.CycleBitFalls => "The cycle ends when the cycle bit falls.",
        CycleWait.HeadUp => $"The cycle ends when the head has come up by {Mm(CycleNow.ReturnMm)}, out of the stock, and stands.",
        _ => "The cycle ends when the cutting bit has been off for 2 s.",
    };

    private string Mm(double mm) => units.Text(mm, "mm");

    private static string Span(TimeSpan span) => WatchUnits.Age(span);

    private static string Text(FormattableString text) => text.ToString(CultureInfo.InvariantCulture);
}
