using System.Reflection;
using SawEdge.Core;
using SawEdge.Core.Cycles;
using SawEdge.Gateway.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.History;

public sealed class HistoryWriterTests
{
    [Fact]
    public async Task AppendAsync_EveryPropertyKnown_EveryPropertyComesBack()
    {
        await using var history = new RunningHistory();
        var written = Cycles.Full();

        await history.AppendAsync(written);
        var read = await history.Reader.CycleAsync(written.CycleId);

        Assert.NotNull(read);
        foreach (var property in typeof(CycleRecord).GetProperties(BindingFlags.Public | BindingFlags.Instance))
            Assert.True(Equals(property.GetValue(written), property.GetValue(read)), $"{property.Name}: wrote {property.GetValue(written)}, read {property.GetValue(read)}");
        Assert.Equal(written, read);
    }

    [Fact]
    public async Task AppendAsync_OnlyTheRequiredKnown_TheRestIsNullInTheFileAndComesBackUnknown()
    {
        await using var history = new RunningHistory();
        var written = Cycles.Bare();

        await history.AppendAsync(written);

        Assert.Equal(written, await history.Reader.CycleAsync(written.CycleId));
        var unknown = CycleColumns.All.Where(column => column.Get(written) is null or "").Select(column => column.Name).ToList();
        Assert.Equal(CycleColumns.All.Count - 6, unknown.Count);
        Assert.Equal(1L, history.Ask($"SELECT count(*) FROM cycles WHERE {string.Join(" AND ", unknown.Select(name => name + " IS NULL"))}"));
    }

    [Fact]
    public async Task AppendAsync_NoFiniteNumber_IsStoredAsUnknown()
    {
        await using var history = new RunningHistory();
        await history.AppendAsync(Cycles.Bare() with { CutTimeS = double.NaN, MeanLoadKw = double.PositiveInfinity, CutTimeRatio = double.NegativeInfinity });

        Assert.Equal(Cycles.Bare(), await history.Reader.CycleAsync("bare"));
    }

    [Fact]
    public async Task AppendAsync_TheSameCycleAgain_WritesNothingNew()
    {
        await using var history = new RunningHistory();
        var cycle = new FinishedCycle { Record = Cycles.Full(), Profile = Cycles.Profile(1) };

        await history.Writer.AppendAsync(cycle, CancellationToken.None);
        await history.Writer.AppendAsync(cycle, CancellationToken.None);

        Assert.Equal(1, await history.Reader.CountAsync(CycleFilter.All));
        Assert.Single(await history.Reader.JournalAsync(0, 10));
    }

    [Fact]
    public async Task AppendAsync_TheSameCycleWithOtherContent_ReplacesTheRowAndJournalsAgain()
    {
        await using var history = new RunningHistory();
        var first = Cycles.Make("saw0", 1);
        var corrected = first with { Outcome = CutOutcome.Interrupted, CutTimeS = null, Notes = "power lost" };

        await history.AppendAsync(first);
        await history.AppendAsync(corrected);

        Assert.Equal(corrected, Assert.Single(await ToListAsync(history.Reader.CyclesAsync(CycleFilter.All))));
        Assert.Equal([corrected, corrected], (await history.Reader.JournalAsync(0, 10)).Select(entry => entry.Cycle));
        Assert.Equal([1L, 2L], (await history.Reader.JournalAsync(0, 10)).Select(entry => entry.Sequence));
    }

    [Fact]
    public async Task AppendAsync_OnlyTheProfileDiffers_IsACorrectionToo()
    {
        await using var history = new RunningHistory();
        var record = Cycles.Make("saw0", 1);
        foreach (var profile in (DepthProfile?[])[Cycles.Profile(1), Cycles.Profile(2), null, null])
            await history.Writer.AppendAsync(new FinishedCycle { Record = record, Profile = profile }, CancellationToken.None);

        Assert.Equal(3, (await history.Reader.JournalAsync(0, 10)).Count);
        Assert.Null(await history.Reader.ProfileAsync(record.CycleId));
    }

    [Fact]
    public async Task AppendAsync_Profile_ComesBackBitForBit()
    {
        await using var history = new RunningHistory();
        var record = Cycles.Make("saw0", 1);
        var written = Cycles.Profile(7);

        await history.Writer.AppendAsync(new FinishedCycle { Record = record, Profile = written }, CancellationToken.None);
        var read = await history.Reader.ProfileAsync(record.CycleId);

        Assert.NotNull(read);
        Assert.Equal(written.Basis, read.Basis);
        Assert.Equal(written.DepthMm, read.DepthMm);
        Assert.Equal(written.Seconds, read.Seconds);
        Assert.Equal(written.MeanLoadKw, read.MeanLoadKw);
        Assert.Equal(written.MeanBladeSpeedMMin, read.MeanBladeSpeedMMin);
        Assert.Equal(588L, history.Ask("SELECT length(data) FROM profiles"));
    }

    [Fact]
    public async Task AppendAsync_EndsTheOpenFramesOfThisSawAndStoresItsState()
    {
        await using var history = new RunningHistory();
        await history.Writer.SaveOpenFramesAsync("saw0", 1, new byte[] { 3, 4 }, CancellationToken.None);
        await history.Writer.SaveOpenFramesAsync("saw0", 0, new byte[] { 1, 2 }, CancellationToken.None);
        await history.Writer.SaveOpenFramesAsync("saw1", 0, new byte[] { 9 }, CancellationToken.None);

        var before = await history.Reader.LoadSawAsync("saw0");
        await history.Writer.AppendAsync(new FinishedCycle { Record = Cycles.Make("saw0", 1), SawState = new SawState(3, new byte[] { 7, 8 }) }, CancellationToken.None);
        var after = await history.Reader.LoadSawAsync("saw0");

        Assert.Null(before.State);
        Assert.Equal([[1, 2], [3, 4]], before.OpenFrames);
        Assert.Equal(3, after.State?.Version);
        Assert.Equal([7, 8], after.State?.Data.ToArray());
        Assert.Empty(after.OpenFrames);
        Assert.Equal([[9]], (await history.Reader.LoadSawAsync("saw1")).OpenFrames);
    }

    [Fact]
    public async Task AppendAsync_FramesOfTheNextCycle_ReplaceTheOpenFrames()
    {
        await using var history = new RunningHistory();
        await history.Writer.SaveOpenFramesAsync("saw0", 0, new byte[] { 1 }, CancellationToken.None);
        await history.Writer.SaveOpenFramesAsync("saw0", 1, new byte[] { 2 }, CancellationToken.None);

        await history.Writer.AppendAsync(new FinishedCycle { Record = Cycles.Make("saw0", 1), OpenFrames = new byte[] { 5 } }, CancellationToken.None);

        Assert.Equal([[5]], (await history.Reader.LoadSawAsync("saw0")).OpenFrames);
    }

    [Fact]
    public async Task SaveStateAsync_WithAndWithoutOpenFrames_IsWhatIsLoaded()
    {
        await using var history = new RunningHistory();
        await history.Writer.SaveStateAsync("saw0", new SawState(1, new byte[] { 1 }), new byte[] { 4, 5 }, CancellationToken.None);
        var open = await history.Reader.LoadSawAsync("saw0");
        await history.Writer.SaveStateAsync("saw0", new SawState(2, new byte[] { 2 }), null, CancellationToken.None);
        var idle = await history.Reader.LoadSawAsync("saw0");

        Assert.Equal([[4, 5]], open.OpenFrames);
        Assert.Empty(idle.OpenFrames);
        Assert.Equal(2, idle.State?.Version);
    }

    [Fact]
    public async Task AppendAsync_OneOfManyCannotBeStored_OnlyThatOneFails()
    {
        await using var history = new RunningHistory();
        var lame = Cycles.Profile(1) with { MeanLoadKw = [1f] };
        var tasks = Enumerable.Range(0, 50)
            .Select(i => history.Writer.AppendAsync(new FinishedCycle { Record = Cycles.Make("saw0", i), Profile = i == 20 ? lame : null }, CancellationToken.None))
            .ToList();

        var error = await Assert.ThrowsAsync<HistoryException>(() => tasks[20]);
        await Task.WhenAll(tasks.Where((_, i) => i != 20));

        Assert.Contains("one length", error.Message, StringComparison.Ordinal);
        Assert.Equal(49, await history.Reader.CountAsync(CycleFilter.All));
        Assert.Equal(49, (await history.Reader.JournalAsync(0, 100)).Count);
    }

    [Fact]
    public async Task AppendAsync_CyclesOfOneFrame_AreStoredTogetherOrNotAtAll()
    {
        await using var history = new RunningHistory();
        FinishedCycle[] cycles =
        [
            new() { Record = Cycles.Make("saw0", 1) },
            new() { Record = Cycles.Make("saw0", 2), Profile = Cycles.Profile(1) with { Seconds = [] } },
        ];

        await Assert.ThrowsAsync<HistoryException>(() => history.Writer.AppendAsync(cycles, CancellationToken.None));
        Assert.Equal(0, await history.Reader.CountAsync(CycleFilter.All));
        Assert.Empty(await history.Reader.JournalAsync(0, 10));
    }

    [Fact]
    public async Task AppendAsync_NoIdentityOrSaw_IsRefusedWhereItIsCalled()
    {
        await using var history = new RunningHistory();
        await Assert.ThrowsAsync<ArgumentException>(() => history.AppendAsync(Cycles.Bare() with { CycleId = "" }));
        await Assert.ThrowsAsync<ArgumentException>(() => history.AppendAsync(Cycles.Bare() with { Saw = "" }));
    }

    [Fact]
    public async Task Complete_WithRequestsWaiting_WritesThemAllAndThenRefuses()
    {
        await using var history = new RunningHistory(capacity: 8);
        var tasks = Enumerable.Range(0, 100).Select(i => history.AppendAsync(Cycles.Make("saw0", i))).ToList();
        await Task.WhenAll(tasks);

        history.Writer.Complete();
        await history.Run;

        Assert.Equal(100, await history.Reader.CountAsync(CycleFilter.All));
        await Assert.ThrowsAsync<HistoryException>(() => history.AppendAsync(Cycles.Make("saw0", 1000)));
    }

    [Fact]
    public async Task RunAsync_Cancelled_StoresWhatWaitsALastTimeAndEnds()
    {
        using var folder = new TempFolder();
        using var database = HistoryDatabase.Open(folder.Path);
        var writer = new HistoryWriter(database, TimeProvider.System, new CollectedLog().For<HistoryWriter>());
        var waiting = Enumerable.Range(0, 20).Select(i => writer.AppendAsync(new FinishedCycle { Record = Cycles.Make("saw0", i) }, CancellationToken.None)).ToList();

        await Assert.ThrowsAnyAsync<OperationCanceledException>(() => writer.RunAsync(new CancellationToken(canceled: true)));
        await Task.WhenAll(waiting);

        Assert.Equal(20, await new HistoryReader(database).CountAsync(CycleFilter.All));
        await Assert.ThrowsAsync<HistoryException>(() => writer.AppendAsync(new FinishedCycle { Record = Cycles.Make("saw0", 99) }, CancellationToken.None));
    }

    [Fact]
    public async Task SaveCursorAsync_StoresCursorAndRefusalsPerConsumer()
    {
        await using var history = new RunningHistory();
        await history.AppendAsync(Cycles.Make("saw0", 1));
        await history.AppendAsync(Cycles.Make("saw0", 2));

        await history.Writer.SaveCursorAsync("a", 2, [new Refusal(2, "field type conflict")], CancellationToken.None);

        Assert.Equal(2, await history.Reader.CursorAsync("a"));
        Assert.Equal(0, await history.Reader.CursorAsync("b"));
        var refused = Assert.Single(await history.Reader.RefusalsAsync("a"));
        Assert.Equal((2, "field type conflict", "saw0-000002"), (refused.Sequence, refused.Reason, refused.CycleId));
        Assert.Empty(await history.Reader.RefusalsAsync("b"));
    }

    private static async Task<List<T>> ToListAsync<T>(IAsyncEnumerable<T> source)
    {
        var list = new List<T>();
        await foreach (var item in source)
            list.Add(item);
        return list;
    }
}
