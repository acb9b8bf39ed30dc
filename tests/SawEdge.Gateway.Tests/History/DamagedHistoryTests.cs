using Microsoft.Extensions.Time.Testing;
using SawEdge.Gateway.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.History;

/// <summary>A damaged history at the start of a gateway.</summary>
public sealed class DamagedHistoryTests : IDisposable
{
    private readonly TempFolder _folder = new();
    private readonly FakeTimeProvider _time = new(new DateTimeOffset(2026, 3, 9, 12, 0, 0, TimeSpan.Zero));

    public void Dispose() => _folder.Dispose();

    [Theory]
    [InlineData(true)]
    [InlineData(false)]
    public async Task OpenOrBegin_Damaged_IsSetAsideAsItIs_AndANewOneBegun(bool header)
    {
        var path = await FilledAsync();
        if (header)
            Damage.Header(path);
        else
            Damage.Middle(path, 8);
        File.WriteAllBytes(path + "-wal", new byte[100]);
        var damaged = File.ReadAllBytes(path);

        using (var database = HistoryDatabase.OpenOrBegin(_folder.Path, _time))
        {
            Assert.Equal(_folder.File("history-damaged-20260309T120000Z.db"), database.Damage!.File);
            Assert.NotEmpty(database.Damage.Finding);
            Assert.Equal(0, await new HistoryReader(database).CountAsync(CycleFilter.All));
        }

        // Opening it counts in the header; everything else is as the damage left it.
        Assert.Equal(damaged.AsSpan(4096), File.ReadAllBytes(_folder.File("history-damaged-20260309T120000Z.db")).AsSpan(4096));
        using var again = HistoryDatabase.OpenOrBegin(_folder.Path, _time);
        Assert.Null(again.Damage);
    }

    [Fact]
    public async Task OpenOrBegin_TwiceInTheSameSecond_KeepsBoth()
    {
        for (var i = 0; i < 2; i++)
        {
            Damage.Header(await FilledAsync());
            HistoryDatabase.OpenOrBegin(_folder.Path, _time).Dispose();
        }

        Assert.Equal(["history-damaged-20260309T120000Z-2.db", "history-damaged-20260309T120000Z.db"], AsideFiles.Find(_folder.Path, AsideFiles.Damaged).Select(Path.GetFileName));
    }

    [Fact]
    public async Task OpenOrBegin_Newer_IsRefusedAndNotSetAside()
    {
        var path = await FilledAsync();
        using (var connection = new Microsoft.Data.Sqlite.SqliteConnection($"Data Source={path};Pooling=False"))
        {
            connection.Open();
            HistorySchema.Execute(connection, null, "PRAGMA user_version = 99");
        }

        Assert.Throws<HistoryNewerException>(() => HistoryDatabase.OpenOrBegin(_folder.Path, _time));
        Assert.True(File.Exists(path));
        Assert.Empty(AsideFiles.Find(_folder.Path, AsideFiles.Damaged));
    }

    // A page that no start reads is found only where damage was met before: then all pages are looked through, and once.
    [Fact]
    public async Task Open_AfterDamageWasMet_LooksThroughEverything()
    {
        var path = await FilledAsync();
        Damage.Page(path, "cycles_by_job");
        HistoryDatabase.Open(_folder.Path).Dispose();

        Assert.True(AsideFiles.Distrust(_folder.Path));
        Assert.Throws<HistoryCorruptException>(() => HistoryDatabase.Open(_folder.Path));
        using (var database = HistoryDatabase.OpenOrBegin(_folder.Path, _time))
            Assert.NotNull(database.Damage);
        Assert.False(AsideFiles.IsDistrusted(_folder.Path));
    }

    [Fact]
    public async Task Open_AfterDamageWasMetThatIsNoneOnTheDisk_GoesOnAndForgetsIt()
    {
        await FilledAsync();
        Assert.True(AsideFiles.Distrust(_folder.Path));
        using var database = HistoryDatabase.OpenOrBegin(_folder.Path, _time);
        Assert.Null(database.Damage);
        Assert.Equal(200, await new HistoryReader(database).CountAsync(CycleFilter.All));
        Assert.False(AsideFiles.IsDistrusted(_folder.Path));
    }

    // The power goes when the history is aside and its log is not: SQLite would delete it, or take it into a file that it does not belong to.
    [Fact]
    public void OpenOrBegin_LogWithoutItsHistory_IsKept()
    {
        File.WriteAllBytes(_folder.File("history.db-wal"), new byte[5000]);
        HistoryDatabase.OpenOrBegin(_folder.Path, _time).Dispose();
        Assert.Equal(5000, new FileInfo(Assert.Single(Directory.GetFiles(_folder.Path, "history-replaced-*.db-wal"))).Length);
    }

    private async Task<string> FilledAsync()
    {
        await using var history = new RunningHistory(_folder.Path);
        await Task.WhenAll(Enumerable.Range(0, 200).Select(i => history.AppendAsync(Cycles.Make("saw0", i))));
        return history.FilePath;
    }
}
