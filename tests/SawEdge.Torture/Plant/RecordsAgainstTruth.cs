using System.Globalization;
using System.Text.RegularExpressions;
using SawEdge.EndToEnd.Tests.Support;

namespace SawEdge.Torture.Plant;

/// <summary>What became of the cycles of one saw.</summary>
/// <param name="Cycles">Cycles that really were, from the first that is in the history on.</param>
/// <param name="Records">Records of them.</param>
/// <param name="Whole">Cycles that the gateway saw from begin to end.</param>
/// <param name="Missing">Cycles without a record.</param>
internal sealed record SawAccount(int Cycles, int Records, int Whole, int Missing)
{
    /// <summary>Cycles seen whole whose contact or breakthrough is off by more than the frames allow: no loss, so a figure. How well cuts are timed is measured elsewhere.</summary>
    public int Off { get; init; }
}

/// <summary>Holds the records of a saw against what it really did.</summary>
/// <param name="run">Where the checks are told.</param>
internal sealed partial class RecordsAgainstTruth(TrialRun run)
{
    // What a power cut can take of an open cut (SawProcessor.StoreInterval), and what was on its way.
    private static readonly TimeSpan Unstored = TimeSpan.FromSeconds(3);
    private static readonly TimeSpan Sampling = TimeSpan.FromMilliseconds(800);

    /// <summary>The outcomes that a saw that only ever completes its cuts may have.</summary>
    private static readonly string[] Possible = ["completed", "unobserved_start", "unobserved_end"];

    /// <summary>What single records were found to say wrongly, of all saws so far.</summary>
    public int Wrong { get; private set; }

    /// <summary>Checks one saw: nothing made up, nothing doubled, nothing missing that was seen, and the counter right in each record.</summary>
    public SawAccount Check(BaySaw saw, IReadOnlyList<CycleRow> records)
    {
        var truths = saw.Finished();
        var gaps = saw.Observed.Gaps();
        var of = new CycleRow?[truths.Count];
        foreach (var record in records)
        {
            var index = Match(record, truths);
            if (!run.Check(index >= 0, $"{saw.Name}: no cycle was there for {record}"))
                continue;
            var truth = truths[index];
            Hold(of[index] is null, $"{saw.Name}: the cycle of {truth.From:O} is recorded twice: {of[index]} AND {record}");
            of[index] = record;
            Hold(Possible.Contains(record.Outcome), $"{saw.Name}: a cut that was completed from {truth.Contact:O} to {truth.Breakthrough:O} is called {record}; nobody asked {Near(gaps, truth)}");

            // What was not seen to its end is closed by the first frame after the gap, with the counter as it stands there.
            Hold(record.Whole("part_count") == truth.Truth.PartCount || (record.Whole("part_count") > truth.Truth.PartCount && !IsWhole(truth, gaps)), $"{saw.Name}: the counter stood at {truth.Truth.PartCount} after {record}; nobody asked {Near(gaps, truth)}");
        }

        for (var i = 1; i < records.Count; i++)
            Hold(Begin(records[i]) >= End(records[i - 1]), $"{saw.Name}: two cuts at once: {records[i - 1]} AND {records[i]}");

        var first = Array.FindIndex(of, record => record is not null);
        if (!run.Check(first >= 0, $"{saw.Name}: none of {truths.Count} cycles is recorded"))
            return new SawAccount(0, 0, 0, 0);
        var (whole, off) = (0, 0);
        foreach (var (truth, record) in truths.Zip(of).Skip(first))
        {
            if (!IsWhole(truth, gaps))
                continue;
            whole++;
            if (!Hold(record is not null, $"{saw.Name}: the cycle {truth.From:O} to {truth.To:O} was seen whole and is not recorded"))
                continue;
            Hold(record!.Outcome == "completed", $"{saw.Name}: the cycle {truth.From:O} to {truth.To:O} was seen whole and is {record}");
            off += IsNear(record.Time("cut_started_at"), truth.Contact) && IsNear(record.Time("cut_ended_at"), truth.Breakthrough) ? 0 : 1;
        }

        return new SawAccount(truths.Count - first, records.Count, whole, of.Skip(first).Count(record => record is null)) { Off = off };
    }

    // Two cycles with nothing seen between them that tells one from the other, or a turn of the saw in a gap: it is rare, and has to stay so.
    private bool Hold(bool holds, FormattableString what)
    {
        if (holds)
            return true;
        Wrong++;
        run.Say($"not as it should be: {what.ToString(CultureInfo.InvariantCulture)}");
        return false;
    }

    /// <summary>How many cycles without a record are stated in the notes of the records.</summary>
    public static long Stated(IReadOnlyList<CycleRow> records) =>
        records.Sum(record => NotSeen().Matches(record.Text("notes") ?? "").Sum(match => long.Parse(match.Groups[1].ValueSpan, CultureInfo.InvariantCulture)));

    [GeneratedRegex("the controller counted ([0-9]+) parts? of (?:a cycle|cycles) that (?:was|were) not seen")]
    private static partial Regex NotSeen();

    // The cycle that the record shares most time with; -1: none.
    private static int Match(CycleRow record, IReadOnlyList<TrueCycle> truths)
    {
        var (best, most) = (-1, TimeSpan.Zero);
        for (var i = 0; i < truths.Count; i++)
        {
            var from = Max(Begin(record) - Sampling, truths[i].From);
            var to = Max(End(record), Begin(record)) + Sampling < truths[i].To ? Max(End(record), Begin(record)) + Sampling : truths[i].To;
            if (to - from > most)
                (best, most) = (i, to - from);
        }

        return best;
    }

    private static DateTimeOffset Begin(CycleRow record) => record.Time("cut_started_at") ?? record.Time("started_at")!.Value;

    private static DateTimeOffset End(CycleRow record) => record.Time("cut_ended_at") ?? record.Time("ended_at")!.Value;

    private static DateTimeOffset Max(DateTimeOffset a, DateTimeOffset b) => a > b ? a : b;

    private static bool IsWhole(TrueCycle truth, IReadOnlyList<(DateTimeOffset From, DateTimeOffset To)> gaps) => !gaps.Any(gap => truth.From < gap.To && truth.To > gap.From - Unstored);

    private static bool IsNear(DateTimeOffset? found, DateTimeOffset truth) => found is { } time && (time - truth).Duration() < Sampling;

    private static string Near(IReadOnlyList<(DateTimeOffset From, DateTimeOffset To)> gaps, TrueCycle truth) =>
        string.Join(" and ", gaps.Where(gap => gap.To > truth.From.AddSeconds(-20) && gap.From < truth.To.AddSeconds(20)).Select(gap => FormattableString.Invariant($"from {gap.From:O} to {gap.To:O}")));
}
