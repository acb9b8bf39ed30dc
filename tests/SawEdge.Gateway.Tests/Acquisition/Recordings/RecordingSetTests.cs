using System.Globalization;
using SawEdge.Gateway.Acquisition.Recordings;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Acquisition.Recordings;

public sealed class RecordingSetTests : IDisposable
{
    private readonly TempFolder _folder = new();
    private readonly RecordingProblems _problems = new();

    public void Dispose() => _folder.Dispose();

    [Fact]
    public async Task Read_FilesThatFollowEachOther_ComeInTheOrderOfTimeHoweverTheyAreNamed()
    {
        var later = Write("a.csv", ("s", 10), ("s", 11));
        var first = Write("b.csv", ("s", 0), ("s", 1));
        var middle = Write("c.csv.gz", ("s", 5), ("s", 6));

        foreach (var order in new[] { new[] { later, first, middle }, [middle, later, first], [_folder.Path] })
            Assert.Equal(["s 0", "s 1", "s 5", "s 6", "s 10", "s 11"], await ReadAsync(order));
        Assert.Empty(_problems.All);
    }

    [Fact]
    public async Task Read_FilesSideBySide_AreMergedByTime()
    {
        var a = Write("a.csv", ("a", 0), ("a", 2), ("a", 4), ("a", 20));
        var b = Write("b.csv", ("b", 1), ("b", 3), ("b", 5), ("b", 20));
        var both = Write("later.csv", ("a", 21), ("b", 21));
        Assert.Equal(["a 0", "b 1", "a 2", "b 3", "a 4", "b 5", "a 20", "b 20", "a 21", "b 21"], await ReadAsync(both, b, a));
    }

    [Fact]
    public async Task Read_SawsOneBehindTheOtherInAFile_KeepsEachSawsTimesRising()
    {
        var monday = Write("monday.csv", ("a", 0), ("a", 1), ("b", 0), ("b", 1));
        var tuesday = Write("tuesday.csv", ("a", 10), ("a", 11), ("b", 10), ("b", 11));
        Assert.Equal(["a 0", "a 1", "b 0", "b 1", "a 10", "a 11", "b 10", "b 11"], await ReadAsync(tuesday, monday));
        Assert.Empty(_problems.All);
    }

    [Fact]
    public async Task Read_SameFileTwice_IsReadOnceAndSaid()
    {
        var file = Write("a.csv", ("s", 0), ("s", 1));
        Assert.Equal(["s 0", "s 1"], await ReadAsync(file, Path.Combine(_folder.Path, ".", "a.csv"), _folder.Path));
        Assert.Equal("same file", Assert.Single(_problems.All.Select(problem => problem.Kind).Distinct()));
    }

    [Fact]
    public async Task Read_CompressedCopy_IsReadOnceAndSaid()
    {
        Write("a.csv", ("s", 0), ("s", 1));
        Write("b.csv.gz", ("s", 0), ("s", 1));
        Write("c.csv", ("s", 0), ("s", 2));

        Assert.Equal(["s 0", "s 0", "s 1", "s 2"], await ReadAsync(_folder.Path));
        var problem = Assert.Single(_problems.All);
        Assert.Equal("same content", problem.Kind);
        Assert.EndsWith("b.csv.gz", problem.File, StringComparison.Ordinal);
        Assert.Contains("a.csv", problem.Message, StringComparison.Ordinal);
    }

    [Fact]
    public async Task Read_PatternsAndFolders_FindTheFiles()
    {
        Directory.CreateDirectory(_folder.File("north/hall"));
        Write("north/hall/x1.csv", ("s", 1));
        Write("north/x2.csv.gz", ("s", 2));
        Write("x3.csv", ("s", 3));
        await File.WriteAllTextAsync(_folder.File("readme.txt"), "no recording");

        Assert.Equal(["s 1", "s 2", "s 3"], await ReadAsync(_folder.Path));
        Assert.Equal(["s 1", "s 2"], await ReadAsync(Path.Combine(_folder.Path, "north")));
        Assert.Equal(["s 3"], await ReadAsync(Path.Combine(_folder.Path, "x*.csv")));
        Assert.Equal(["s 1", "s 3"], await ReadAsync(Path.Combine(_folder.Path, "**/*.csv")));
        Assert.Equal(["s 1"], await ReadAsync(Path.Combine(_folder.Path, "north/*/x?.csv".Replace('?', '*'))));
        Assert.Empty(_problems.All);
    }

    [Fact]
    public async Task Read_OtherTablesInAFolder_ArePassedOverAndSaid()
    {
        Write("a.csv", ("s", 0));
        await File.WriteAllTextAsync(_folder.File("cycles.csv"), "cycle_id,started_at\n1,2\n");

        Assert.Equal(["s 0"], await ReadAsync(_folder.Path));
        Assert.Contains("passed over", Assert.Single(_problems.All).Message, StringComparison.Ordinal);
        var e = await Assert.ThrowsAsync<RecordingException>(() => ReadAsync(_folder.File("cycles.csv")));
        Assert.Contains("no header of a recording", e.Message, StringComparison.Ordinal);
    }

    [Fact]
    public async Task OpenAsync_SeveralMistakes_AreSaidAtOnce()
    {
        Directory.CreateDirectory(_folder.File("empty"));
        await File.WriteAllTextAsync(_folder.File("none.csv"), "");
        var e = await Assert.ThrowsAsync<RecordingException>(() => ReadAsync(_folder.File("missing.csv"), _folder.File("empty"), _folder.File("x*.csv"), _folder.File("x?.csv")));
        Assert.Equal(4, e.Message.Split(Environment.NewLine).Length);
        Assert.Contains("missing.csv: there is no such file", e.Message, StringComparison.Ordinal);
        Assert.Contains("holds no file that ends in .csv", e.Message, StringComparison.Ordinal);
        Assert.Contains("no file matches", e.Message, StringComparison.Ordinal);
        await Assert.ThrowsAsync<RecordingException>(() => ReadAsync());
        await Assert.ThrowsAsync<RecordingException>(() => ReadAsync(_folder.Path));
    }

    [Fact]
    public async Task BytesRead_AtTheEnd_IsTheTotal()
    {
        Write("a.csv", ("s", 0), ("s", 1));
        Write("b.csv.gz", ("s", 0), ("s", 3));
        await using var set = await RecordingSet.OpenAsync([_folder.Path], _problems);
        Assert.Equal(0, set.BytesRead);
        Assert.Equal(4, (await Recorded.ReadAsync(set)).Count);
        Assert.Equal(set.TotalBytes, set.BytesRead);
        Assert.Equal(set.TotalBytes, Directory.GetFiles(_folder.Path).Sum(file => new FileInfo(file).Length));
    }

    /// <summary>A controller's clock that is an hour ahead: by their times alone, the saws' frames would change places where a file ends.</summary>
    [Fact]
    public async Task Read_FilesOfAGatewayWhoseSawsHaveOtherClocks_ComeOneAfterTheOther()
    {
        Write("recording-2026-03-02T060000Z.csv.gz", ("a", 3600), ("b", 0), ("a", 3601), ("b", 1), ("b", 2));
        Write("recording-2026-03-02T060000Z-2.csv", ("b", 3), ("a", 3602), ("b", 4));
        Write("recording-2026-03-02T060000Z-10.csv", ("b", 5), ("a", 3603));
        Assert.Equal(["a 3600", "b 0", "a 3601", "b 1", "b 2", "b 3", "a 3602", "b 4", "b 5", "a 3603"], await ReadAsync(_folder.Path));
        Assert.Empty(_problems.All);
    }

    [Fact]
    public async Task Read_AFileOfAGatewayThatBreaksOffInALine_LeavesTheLineOut()
    {
        await File.WriteAllTextAsync(_folder.File("recording-2026-03-02T060000Z.csv"), "time,saw,motor_load\n2026-03-02T06:00:00.000Z,s,1.5\n2026-03-02T06:00:01.000Z,s,1");
        await using var set = await RecordingSet.OpenAsync([_folder.Path], _problems);
        Assert.Single(await Recorded.ReadAsync(set));
        Assert.Equal("half line", Assert.Single(_problems.All).Kind);
    }

    [Fact]
    public async Task Read_HundredFilesInOneMinute_KeepsEverySawInOrder()
    {
        for (var file = 0; file < 100; file++)
            Write(string.Create(CultureInfo.InvariantCulture, $"f{file % 7}-{file}.csv"), [.. Enumerable.Range(0, 30).Select(i => ($"s{file % 10}", ((file / 10) * 30) + i))]);

        var rows = await ReadAsync(_folder.Path);

        Assert.Equal(3000, rows.Count);
        foreach (var saw in rows.GroupBy(row => row.Split(' ')[0]))
            Assert.Equal(Enumerable.Range(0, 300), saw.Select(row => int.Parse(row.Split(' ')[1], CultureInfo.InvariantCulture)));
    }

    private string Write(string name, params (string Saw, int Second)[] rows)
    {
        var text = "time,saw,cutting\n" + string.Concat(rows.Select(row => string.Create(CultureInfo.InvariantCulture, $"{DateTime.UnixEpoch.AddSeconds(row.Second):O},{row.Saw},true\n")));
        var path = _folder.File(name);
        if (name.EndsWith(".gz", StringComparison.Ordinal))
            File.WriteAllBytes(path, Recorded.Gzip(text));
        else
            File.WriteAllText(path, text);
        return path;
    }

    private async Task<List<string>> ReadAsync(params string[] inputs)
    {
        await using var set = await RecordingSet.OpenAsync(inputs, _problems);
        return [.. (await Recorded.ReadAsync(set)).Select(row => string.Create(CultureInfo.InvariantCulture, $"{row.Saw} {row.Frame.Time.ToUnixTimeSeconds()}"))];
    }
}
