using System.IO.Compression;
using SawEdge.EndToEnd.Tests.Support;
using SawEdge.Simulator.Recordings;
using SawEdge.Simulator.Saws;
using SawEdge.TestSupport;

namespace SawEdge.EndToEnd.Tests;

/// <summary><c>sawedge replay</c> as a process: the same frames give the same cycles, however they are laid into files.</summary>
public sealed class ReplayTests : IDisposable
{
    private readonly TempFolder _folder = new();

    [Fact]
    public async Task TheSameFrames_GiveTheSameBytes_WhateverFilesTheyComeIn()
    {
        VirtualSawOptions[] saws = [.. FaultySaws.Of(5).Take(2)];
        Record("both.csv", saws);
        Record($"{saws[0].Machine.Name}.csv", saws[..1]);
        Record($"{saws[1].Machine.Name}.csv", saws[1..]);
        await using (var packed = new GZipStream(File.Create(_folder.File("both.csv.gz")), CompressionLevel.Fastest))
            await packed.WriteAsync(await File.ReadAllBytesAsync(_folder.File("both.csv")));
        await File.WriteAllTextAsync(_folder.File("jobs.csv"), FaultySaws.JobList);

        var tables = await Task.WhenAll(
            ReplayAsync("once", "both.csv"),
            ReplayAsync("again", "both.csv"),
            ReplayAsync("packed", "both.csv.gz"),
            ReplayAsync("apart", $"{saws[1].Machine.Name}.csv", $"{saws[0].Machine.Name}.csv"),
            ReplayAsync("first", $"{saws[0].Machine.Name}.csv"),
            ReplayAsync("second", $"{saws[1].Machine.Name}.csv"));
        var (once, first, second) = (tables[0], tables[4], tables[5]);

        // Every cycle of both saws, the one without stock too.
        Assert.Equal(2 * FaultySaws.Cycles, Rows(once).Count);
        Assert.Equal(once, tables[1]);
        Assert.Equal(once, tables[2]);
        Assert.Equal(once, tables[3]);
        Assert.Equal(Rows(first), Rows(once).Where(row => row.Contains($",{saws[0].Machine.Name},", StringComparison.Ordinal)));
        Assert.Equal(Rows(second), Rows(once).Where(row => row.Contains($",{saws[1].Machine.Name},", StringComparison.Ordinal)));

        // The table is the history's, cycle by cycle.
        Assert.Equal(new HistoryFile(_folder.File("once")).Cycles().Select(cycle => cycle.Id), Rows(once).Select(row => row.Split(',')[0]));
    }

    public void Dispose() => _folder.Dispose();

    private void Record(string name, IReadOnlyList<VirtualSawOptions> saws)
    {
        using var writer = new StreamWriter(_folder.File(name));
        RecordingGenerator.Write(saws, new RecordingOptions { Cycles = FaultySaws.Cycles, Interval = TimeSpan.FromMilliseconds(250), IdleMargin = TimeSpan.FromSeconds(20) }, writer);
    }

    private async Task<string> ReplayAsync(string name, params string[] inputs)
    {
        await GatewayProcess.GoodCommandAsync(["replay", "--input", .. inputs.Select(_folder.File), "--out", _folder.File(name), "--jobs", _folder.File("jobs.csv")]);
        return await File.ReadAllTextAsync(Path.Combine(_folder.File(name), "cycles.csv"));
    }

    private static List<string> Rows(string table) => [.. table.Split('\n', StringSplitOptions.RemoveEmptyEntries).Skip(1).Select(row => row.TrimEnd('\r'))];
}
