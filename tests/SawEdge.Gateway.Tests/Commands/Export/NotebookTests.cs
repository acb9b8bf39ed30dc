using SawEdge.Core.Cycles;
using SawEdge.Gateway.Tests.Configuration;
using SawEdge.Gateway.Tests.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Commands.Export;

/// <summary>The lines for a notebook that stand in export.md, run as they stand there.</summary>
public sealed class NotebookTests
{
    [PeerFact("/usr/bin/python3", "/usr/lib/python3/dist-packages/pandas/__init__.py")]
    public async Task Page_InANotebook_FindsTheStandardThatIsWrong()
    {
        await using var exporting = new Exporting();
        await exporting.AppendAsync([.. Enumerable.Range(0, 40).SelectMany(i => new[]
        {
            Cycles.Make("north", i) with { CycleId = $"slow {i}", Material = "S355", CutTimeRatio = 1.15 + (0.001 * (i % 5)) },
            Cycles.Make("north", i) with { CycleId = $"right {i}", Material = "C45", CutTimeRatio = 1.01 },
            Cycles.Make("north", i) with { CycleId = $"broken {i}", Material = "16MnCr5", CutTimeRatio = null, Outcome = CutOutcome.Aborted },
        })]);
        await exporting.DoneAsync("cycles", "--from", "last week", "--to", "last week", "--out", exporting.Folder);

        var page = await File.ReadAllLinesAsync(Path.Combine(SchemaTests.Root, "deploy", "docs", "export.md"));
        var lines = page.SkipWhile(line => !line.StartsWith("In a notebook", StringComparison.Ordinal)).Skip(1).TakeWhile(line => line.Length == 0 || line.StartsWith("    ", StringComparison.Ordinal)).Select(line => line.Trim()).ToList();
        Assert.Contains(lines, line => line.Contains("read_csv", StringComparison.Ordinal));
        await File.WriteAllLinesAsync(exporting.File("notebook.py"), [.. lines, "print(cuts.started_at.dt.tz, cuts.started_at.min().isoformat())", "print([(*index, round(row['median'], 6), row['count']) for index, row in wrong.iterrows()])"]);
        await using var python = Peer.Start("/usr/bin/python3", [exporting.File("notebook.py")], folder: exporting.Folder);
        Assert.Equal(0, await python.ExitsAsync());
        await python.PrintsAsync("]");
        Assert.Equal("UTC 2026-03-02T06:00:00+00:00\n[('north', 'S355', 'round 100', 1.152, 40.0)]", python.Output);
    }
}
