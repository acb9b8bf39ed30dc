using SawEdge.Core.Blades;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Tests.History;

public sealed class BladeEntryTests
{
    private static readonly DateTimeOffset Now = new(2026, 3, 9, 12, 0, 0, TimeSpan.Zero);

    [Fact]
    public async Task Write_WhileTheGatewayOwnsTheFolder_IsWhatIsRead()
    {
        await using var history = new RunningHistory();
        BladeEntryRows.Write(history.Folder, [], [Entry(1, "B-1"), Entry(3, "", BladeEntryKind.NoChange), Entry(2, "B-0", BladeEntryKind.Retire) with { Note = "two teeth gone" }], Now);
        BladeEntryRows.Write(history.Folder, [], [Entry(1, "X") with { Saw = "saw1" }], Now);

        var (book, last) = await history.Reader.BladeEntriesAsync("saw0");

        Assert.Equal(3, last);
        Assert.Equal([Entry(1, "B-1") with { Id = 1 }, Entry(2, "B-0", BladeEntryKind.Retire) with { Id = 3, Note = "two teeth gone" }, Entry(3, "", BladeEntryKind.NoChange) with { Id = 2 }], book.Entries);
        Assert.Equal(4, await history.Reader.LastBladeEntryAsync());
        Assert.Equal(0, (await history.Reader.BladeEntriesAsync("saw2")).Last);
    }

    [Fact]
    public async Task Write_ACorrection_WithdrawsTheOldEntry_DeletesNothing_AndMakesTheNumberRise()
    {
        await using var history = new RunningHistory();
        BladeEntryRows.Write(history.Folder, [], [Entry(5, "B-1")], Now);
        var old = (await history.Reader.BladeEntriesAsync("saw0")).Book.Entries[0];

        BladeEntryRows.Write(history.Folder, [old], [Entry(9, "B-2")], Now);

        var (book, last) = await history.Reader.BladeEntriesAsync("saw0");
        Assert.Equal(("B-2", 3), (Assert.Single(book.Entries).Blade, last));
        // What the correction concerns begins at the old entry.
        Assert.Equal(old.At, await history.Reader.EarliestNewEntryAsync("saw0", 1));
        Assert.Equal(Entry(9, "").At, await history.Reader.EarliestNewEntryAsync("saw0", 2));
        Assert.Null(await history.Reader.EarliestNewEntryAsync("saw0", 3));
        Assert.Equal(3L, history.Ask("SELECT count(*) FROM blade_entries"));

        // Removing alone is seen as well, and a second removal of the same entry is refused whole.
        var next = book.Entries[0];
        BladeEntryRows.Write(history.Folder, [next], [], Now);
        Assert.Empty((await history.Reader.BladeEntriesAsync("saw0")).Book.Entries);
        var error = Assert.Throws<HistoryException>(() => BladeEntryRows.Write(history.Folder, [next], [Entry(1, "B-3")], Now));
        Assert.Contains("blade list", error.Message, StringComparison.Ordinal);
        Assert.Equal(4, await history.Reader.LastBladeEntryAsync());
    }

    [Fact]
    public void Write_NoHistory_SaysWhere()
    {
        using var folder = new TestSupport.TempFolder();
        var error = Assert.Throws<HistoryException>(() => BladeEntryRows.Write(folder.Path, [], [Entry(1, "B")], Now));
        Assert.Contains(folder.Path, error.Message, StringComparison.Ordinal);
    }

    [Fact]
    public async Task Checkpoints_TheLatestAtOrBeforeAMomentWithTheVersion_AndThoseAfterAMomentGo()
    {
        await using var history = new RunningHistory();
        for (var i = 1; i <= 4; i++)
            await history.Writer.AppendAsync(new FinishedCycle { Record = Cycles.Make("saw0", i), Checkpoint = new StoredCheckpoint(Cycles.Make("saw0", i).StartedAt, new SawState(i == 3 ? 7 : 8, new[] { (byte)i })) }, CancellationToken.None);

        var at = Cycles.Make("saw0", 3).StartedAt;
        Assert.Null(await history.Reader.CheckpointAsync("saw0", Cycles.Start, 8));
        Assert.Null(await history.Reader.CheckpointAsync("saw1", at, 8));
        var found = await history.Reader.CheckpointAsync("saw0", at, 8);
        Assert.Equal(Cycles.Make("saw0", 2).StartedAt, found!.At);
        Assert.Equal([2], found.State.Data.ToArray());

        await history.Writer.DropCheckpointsAsync("saw0", found.At, CancellationToken.None);
        Assert.Equal(2L, history.Ask("SELECT count(*) FROM load_checkpoints"));
        await history.Writer.DropCheckpointsAsync("saw0", null, CancellationToken.None);
        Assert.Equal(0L, history.Ask("SELECT count(*) FROM load_checkpoints"));
    }

    [Fact]
    public async Task Checkpoints_OfYears_StayBounded_TheLatestCloseTogether()
    {
        await using var history = new RunningHistory();
        for (var round = 0; round < 10; round++)
            await history.Writer.AppendAsync([.. Enumerable.Range(100 * round, 100).Select(i => new FinishedCycle { Record = Cycles.Make("saw0", i), Checkpoint = new StoredCheckpoint(Cycles.Make("saw0", i).StartedAt, new SawState(1, new byte[] { 1 })) })], CancellationToken.None);

        Assert.InRange((long)history.Ask("SELECT count(*) FROM load_checkpoints")!, CheckpointThinning.Most / 2, CheckpointThinning.Most);
        var recent = Cycles.Make("saw0", 900).StartedAt.ToUnixTimeMilliseconds();
        Assert.Equal(100L, history.Ask($"SELECT count(*) FROM load_checkpoints WHERE at >= {recent}"));
        Assert.NotNull(await history.Reader.CheckpointAsync("saw0", Cycles.Make("saw0", 40).StartedAt, 1));
    }

    private static BladeEntry Entry(int hour, string blade, BladeEntryKind kind = BladeEntryKind.Change) => new(0, "saw0", Cycles.Start.AddHours(hour), kind, blade);
}
