using SawEdge.Core;
using SawEdge.Core.Oee;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Accounts;

/// <summary>The time of one saw in pieces: days from sums that are kept, all else from the account itself; new sums are kept.</summary>
internal sealed class SawPieces(OeeService oee, HistoryReader reader, HistoryWriter? writer, TimeProvider wall, SawOptions saw)
{
    // Worked out at once: more would hold too many cuts in memory.
    private static readonly TimeSpan LongestAccount = TimeSpan.FromDays(31);

    // Kept sums are a convenience: a disk that refuses must not hold up an answer.
    private static readonly TimeSpan StorePatience = TimeSpan.FromSeconds(2);

    // A sum that shows the open cycle is void with whatever comes next.
    private static readonly DateTimeOffset Ever = new(9000, 1, 1, 0, 0, 0, TimeSpan.Zero);

    private readonly List<AccountPiece> _pieces = [];

    /// <summary>The pieces of a period, in order; they cover it, and none lies in two of the spans.</summary>
    /// <param name="period">The period, as far as the saw is known.</param>
    /// <param name="spans">The spans that figures are wanted for.</param>
    /// <param name="blocks">The blocks that touch it; none where they are no help.</param>
    /// <param name="each">What the spans are.</param>
    /// <param name="cancellation">Ends the work.</param>
    public async Task<List<AccountPiece>> InAsync(Period period, IReadOnlyList<OeeSpan> spans, List<OeeBlock> blocks, OeeEach each, CancellationToken cancellation)
    {
        var whole = blocks.Where(block => block.Time.From >= period.From && block.Time.To <= period.To).ToList();
        var missing = await TakeKeptAsync(whole, each, cancellation);
        foreach (var run in Runs(missing))
            await WorkOutAsync(run, each, cancellation);
        var at = period.From;
        foreach (var block in whole)
        {
            await AddLiveAsync(at, block.Time.From, spans, cancellation);
            at = block.Time.To;
        }

        await AddLiveAsync(at, period.To, spans, cancellation);
        _pieces.Sort((a, b) => a.Time.From.CompareTo(b.Time.From));
        return _pieces;
    }

    private static IEnumerable<List<OeeBlock>> Runs(List<OeeBlock> blocks)
    {
        List<OeeBlock> run = [];
        foreach (var block in blocks)
        {
            if (run.Count > 0 && (run[^1].Time.To != block.Time.From || block.Time.To - run[0].Time.From > LongestAccount))
            {
                yield return run;
                run = [];
            }

            run.Add(block);
        }

        if (run.Count > 0)
            yield return run;
    }

    private async Task<List<OeeBlock>> TakeKeptAsync(List<OeeBlock> whole, OeeEach each, CancellationToken cancellation)
    {
        if (whole.Count == 0)
            return whole;
        var kept = (await reader.AccountSumsAsync(saw.Name, new Period(whole[0].Time.From, whole[^1].Time.To), oee.SettingsOf(saw), cancellation)).ToDictionary(sum => sum.Block, sum => sum.Parts);
        var missing = new List<OeeBlock>();
        foreach (var block in whole)
        {
            if (kept.TryGetValue(block.Time, out var parts) && parts.Count == block.Shifts.Count)
                Add(block, parts, each);
            else
                missing.Add(block);
        }

        return missing;
    }

    private async Task WorkOutAsync(List<OeeBlock> run, OeeEach each, CancellationToken cancellation)
    {
        // Read first: what changes while the account is made must not be overlooked.
        var version = writer is null ? 0 : await reader.AccountVersionAsync(saw.Name, cancellation);
        var made = await oee.AccountAsync(saw, new Period(run[0].Time.From, run[^1].Time.To), cancellation);
        var sums = new List<AccountSums>(run.Count);
        foreach (var block in run)
        {
            var parts = block.Shifts.Select(shift => PartOf(made, shift.Time)).ToArray();
            sums.Add(new AccountSums(block.Time, NeedsOf(made.Input, block.Time), parts));
            Add(block, parts, each);
        }

        if (writer is not null)
            await KeepAsync(writer, version, sums, cancellation);
    }

    private async Task KeepAsync(HistoryWriter keeper, long version, List<AccountSums> sums, CancellationToken cancellation)
    {
        using var patience = new CancellationTokenSource(StorePatience, wall);
        using var both = CancellationTokenSource.CreateLinkedTokenSource(patience.Token, cancellation);
        try
        {
            await keeper.SaveAccountSumsAsync(saw.Name, version, oee.SettingsOf(saw), sums, both.Token);
        }
        catch (OperationCanceledException) when (!cancellation.IsCancellationRequested)
        {
            // The writer has said why; the sums are worked out again when they are asked for.
        }
        catch (HistoryException e) when (e is not HistoryCorruptException)
        {
            // The same.
        }
    }

    // The time that was looked at for a block: as HistoryReader.SawAccountAsync looks.
    private static Period NeedsOf(OeeInput input, Period block)
    {
        if (input.OpenCycleFrom is null || input.OpenCycleFrom < block.To)
            return new Period(DateTimeOffset.UnixEpoch, Ever);
        var reach = input.HandlingBetweenCycles ? HistoryReader.HandlingReach : TimeSpan.Zero;
        var near = new Period(block.From - reach, block.To + reach);
        var (from, to) = (near.From, near.To);
        foreach (var cut in input.Cuts.Where(cut => cut.StartedAt < near.To && cut.EndedAt > near.From))
        {
            from = cut.StartedAt < from ? cut.StartedAt : from;
            to = cut.EndedAt > to ? cut.EndedAt : to;
        }

        // Scrap that is counted later in a shift may mean a cut that reaches out of the block.
        return to > block.To ? new Period(from, input.Calendar.Widen(new Period(block.To, to)).To) : new Period(from, to);
    }

    /// <summary>What an account says of a time.</summary>
    public static AccountPart PartOf(SawAccount made, Period time) => new(
        made.Account.Buckets(time),
        CounterSum.Of(made.Input.Cuts.Where(cut => LastMoment(cut) >= time.From && LastMoment(cut) < time.To)));

    // As in the account: a cycle that ends with a shift belongs to that shift.
    private static DateTimeOffset LastMoment(CycleRecord cut) => cut.EndedAt > cut.StartedAt ? cut.EndedAt.AddTicks(-1) : cut.StartedAt;

    private void Add(OeeBlock block, IReadOnlyList<AccountPart> parts, OeeEach each)
    {
        if (each == OeeEach.Shift || parts.Count == 1)
            _pieces.AddRange(parts.Select((part, i) => new AccountPiece(block.Shifts[i].Time, part)));
        else
            _pieces.Add(new AccountPiece(block.Time, new AccountPart(OeeBuckets.Total(parts.Select(part => part.Buckets)), parts.Aggregate(CounterSum.None, (sum, part) => CounterSum.Join(sum, part.Counter)))));
    }

    private async Task AddLiveAsync(DateTimeOffset from, DateTimeOffset to, IReadOnlyList<OeeSpan> spans, CancellationToken cancellation)
    {
        for (var begin = from; begin < to; begin = Min(begin + LongestAccount, to))
        {
            var time = new Period(begin, Min(begin + LongestAccount, to));
            var made = await oee.AccountAsync(saw, time, cancellation);
            foreach (var piece in Cut(time, spans))
                _pieces.Add(new AccountPiece(piece, PartOf(made, piece)));
        }
    }

    // What lies before the first shift belongs to no span; the spans themselves meet.
    private static IEnumerable<Period> Cut(Period time, IReadOnlyList<OeeSpan> spans)
    {
        foreach (var span in spans)
        {
            if (span.Time.Overlaps(time))
                yield return span.Time.Clip(time);
        }
    }

    private static DateTimeOffset Min(DateTimeOffset one, DateTimeOffset other) => one < other ? one : other;
}
