using SawEdge.Core;
using SawEdge.Core.Cycles;
using SawEdge.Gateway.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.History;

public sealed class HistoryReaderTests
{
    [Fact]
    public async Task CyclesAsync_MoreThanAPage_ComeOrderedByStartThenSaw()
    {
        await using var history = new RunningHistory();
        // Several saws start at the very same moments, and the page boundary (500) falls among them.
        var records = Enumerable.Range(0, 700).SelectMany(i => (string[])["saw2", "saw0", "saw1"], (i, saw) => Cycles.Make(saw, i)).ToList();
        var shuffled = records.ToArray();
        new Random(42).Shuffle(shuffled);
        await Task.WhenAll(shuffled.Select(history.AppendAsync));

        var read = await CollectAsync(history.Reader, CycleFilter.All);

        Assert.Equal(records.OrderBy(record => record.StartedAt).ThenBy(record => record.Saw, StringComparer.Ordinal), read);
    }

    [Fact]
    public async Task CyclesAsync_Filters_GiveExactlyWhatTheySay()
    {
        await using var history = new RunningHistory();
        var records = Enumerable.Range(0, 60)
            .Select(i => Cycles.Make("saw" + (i % 3), i) with { Outcome = i % 4 == 0 ? CutOutcome.Trim : CutOutcome.Completed })
            .ToList();
        await Task.WhenAll(records.Select(history.AppendAsync));
        var from = records[10].StartedAt;
        var to = records[50].StartedAt;

        foreach (var (filter, expected) in new (CycleFilter, Func<CycleRecord, bool>)[]
        {
            (new() { Saws = ["saw1"] }, r => r.Saw == "saw1"),
            (new() { Saws = ["saw1", "saw2"] }, r => r.Saw != "saw0"),
            (new() { Saws = [] }, _ => false),
            (new() { Saws = ["saw1' OR '1'='1"] }, _ => false),
            (new() { From = from }, r => r.StartedAt >= from),
            (new() { From = from, To = to }, r => r.StartedAt >= from && r.StartedAt < to),
            (new() { Outcomes = [CutOutcome.Trim], Saws = ["saw0"] }, r => r.Outcome == CutOutcome.Trim && r.Saw == "saw0"),
        })
        {
            Assert.Equal(records.Where(expected), await CollectAsync(history.Reader, filter));
            Assert.Equal(records.Count(expected), await history.Reader.CountAsync(filter));
        }
    }

    [Fact]
    public async Task JournalAsync_InBatches_GivesEveryEntryOnceInOrder()
    {
        await using var history = new RunningHistory();
        await Task.WhenAll(Enumerable.Range(0, 105).Select(i => history.AppendAsync(Cycles.Make("saw0", i))));

        var seen = new List<JournalEntry>();
        while (await history.Reader.JournalAsync(seen.Count == 0 ? 0 : seen[^1].Sequence, 10) is { Count: > 0 } batch)
            seen.AddRange(batch);

        Assert.Equal(Enumerable.Range(1, 105).Select(i => (long)i), seen.Select(entry => entry.Sequence));
        Assert.Equal(105, seen.Select(entry => entry.Cycle!.CycleId).Distinct().Count());
        Assert.All(seen, entry => Assert.Equal((JournalKinds.Cycle, "saw0"), (entry.Kind, entry.Saw)));
        Assert.Equal(105, await history.Reader.LastSequenceAsync());
        Assert.Equal(5, await history.Reader.CountAfterAsync(100));
    }

    [Fact]
    public async Task JournalAsync_KindOfALaterVersion_ComesWithoutACycle()
    {
        await using var history = new RunningHistory();
        await history.AppendAsync(Cycles.Make("saw0", 1));
        history.Ask("INSERT INTO journal(kind, saw, item, at) VALUES('alarm', 'saw0', 1, 0)");

        var entries = await history.Reader.JournalAsync(0, 10);

        Assert.NotNull(entries[0].Cycle);
        Assert.Equal("alarm", entries[1].Kind);
        Assert.Null(entries[1].Cycle);
    }

    [Fact]
    public async Task OpenFolder_WhileTheGatewayWrites_ReadsFromTheOutside()
    {
        await using var history = new RunningHistory();
        await history.AppendAsync(Cycles.Make("saw0", 1));

        var outside = HistoryReader.OpenFolder(history.Folder);

        Assert.Equal(1, await outside.CountAsync(CycleFilter.All));
    }

    [Fact]
    public void OpenFolder_NothingThere_SaysWhereItLooked()
    {
        using var folder = new TempFolder();
        var error = Assert.Throws<HistoryException>(() => HistoryReader.OpenFolder(folder.Path));
        Assert.Contains(folder.Path, error.Message, StringComparison.Ordinal);
    }

    [Fact]
    public async Task CyclesAsync_ManyCycles_HoldsNoMoreThanAPageOrTwo()
    {
        await using var history = new RunningHistory();
        await history.Writer.AppendAsync([.. Enumerable.Range(0, 5000).Select(i => new FinishedCycle { Record = Cycles.Make("saw0", i) })], CancellationToken.None);

        var given = new List<WeakReference>();
        var mostAlive = 0;
        await foreach (var record in history.Reader.CyclesAsync(CycleFilter.All))
        {
            given.Add(new WeakReference(record));
            if (given.Count % 1000 == 0)
            {
                GC.Collect();
                mostAlive = Math.Max(mostAlive, given.Count(reference => reference.IsAlive));
            }
        }

        Assert.Equal(5000, given.Count);
        Assert.InRange(mostAlive, 1, 1001);
    }

    private static async Task<List<CycleRecord>> CollectAsync(HistoryReader reader, CycleFilter filter)
    {
        var list = new List<CycleRecord>();
        await foreach (var record in reader.CyclesAsync(filter))
            list.Add(record);
        return list;
    }
}
