using System.IO.Compression;
using System.Text;
using System.Text.Json;
using SawEdge.Core;
using SawEdge.Core.Cycles;
using SawEdge.Gateway.Commands;
using SawEdge.Gateway.Tests.History;
using Spectre.Console;

namespace SawEdge.Gateway.Tests.Commands.Export;

public sealed class ExportCommandTests
{
    [Fact]
    public async Task Export_ChosenColumns_AreTheseBytes()
    {
        await using var exporting = new Exporting();
        await exporting.AppendAsync(
            Cycles.Make("north", 0) with { Job = "=1+1", LoadScore = 0.1 + 0.2 },
            Cycles.Make("north", 1) with { Job = "say \"x\"; y", CutTimeS = null },
            Cycles.Make("quay", 2) with { Job = "A,\nB \u200f\U0001FA9A" });

        const string Columns = "started_at,saw,job,cut_time_s,load_score";
        var safe = await exporting.DoneAsync("cycles", "--columns", Columns);
        Assert.Equal(
            "started_at,saw,job,cut_time_s,load_score\n"
            + "2026-03-02T06:00:00.000Z,north,\"'=1+1\",75.802,0.30000000000000004\n"
            + "2026-03-02T06:02:00.000Z,north,\"say \"\"x\"\"; y\",,\n"
            + "2026-03-02T06:04:00.000Z,quay,\"A,\nB \u200f\U0001FA9A\",75.802,\n",
            safe.Text);
        Assert.Empty(safe.Output);

        var plain = await exporting.DoneAsync("cycles", "--columns", Columns, "--text", "as-is", "--out", "-");
        Assert.Equal(safe.Text.Replace("\"'=1+1\"", "=1+1", StringComparison.Ordinal), plain.Text);

        var lines = await exporting.DoneAsync("cycles", "--columns", "job", "--columns", "saw , load_score", "--format", "jsonl");
        Assert.Equal("{\"job\":\"=1+1\",\"saw\":\"north\",\"load_score\":0.30000000000000004}", lines.Text.Split('\n')[0]);
        Assert.Equal("A,\nB \u200f\U0001FA9A", JsonDocument.Parse(lines.Text.Split('\n')[2]).RootElement.GetProperty("job").GetString());
    }

    [Theory]
    [InlineData("", "north-0 north-1 quay-2 quay-3")]
    [InlineData("--saw quay", "quay-2 quay-3")]
    [InlineData("--saw quay --saw north", "north-0 north-1 quay-2 quay-3")]
    [InlineData("--job A", "north-0 quay-2")]
    [InlineData("--job A --job B --material S355", "quay-2")]
    [InlineData("--blade B-1", "north-1")]
    [InlineData("--outcome aborted --outcome trim", "north-1 quay-3")]
    [InlineData("--min-score 1", "north-0 north-1")]
    [InlineData("--min-score 1 --max-score 2.5", "north-0")]
    [InlineData("--from '2026-03-02 07:02' --to '2026-03-02 07:04'", "north-1")]
    [InlineData("--from 2026-03-02T06:04:00Z", "quay-2 quay-3")]
    [InlineData("--to 2026-03-02T06:02:00Z", "north-0")]
    [InlineData("--from 'last week' --to 'last week' --saw north", "north-0 north-1")]
    public async Task Export_EachFilter_LeavesThoseThatFit(string arguments, string expected)
    {
        await using var exporting = new Exporting();
        await exporting.AppendAsync(
            Cycles.Make("north", 0) with { CycleId = "north-0", Job = "A", LoadScore = 1 },
            Cycles.Make("north", 1) with { CycleId = "north-1", Job = "B", LoadScore = 3, Outcome = CutOutcome.Aborted, Blade = "B-1" },
            Cycles.Make("quay", 2) with { CycleId = "quay-2", Job = "A", Material = "S355" },
            Cycles.Make("quay", 3) with { CycleId = "quay-3", Job = "C", Outcome = CutOutcome.Trim });

        var outcome = await exporting.DoneAsync(["cycles", "--columns", "cycle_id", .. Words(arguments)]);

        Assert.Equal(expected, string.Join(' ', outcome.Text.Split('\n')[1..^1]));
    }

    [Fact]
    public async Task Export_InInches_RenamesAndConverts()
    {
        await using var exporting = new Exporting();
        await exporting.AppendAsync(Cycles.Make("north", 0) with { CutAreaCm2 = 64.516, PartLengthMm = 254 });
        Assert.Equal("saw,cut_area_in2,part_length_in\nnorth,10,10\n", (await exporting.DoneAsync("cycles", "--units", "inch", "--columns", "saw,cut_area_cm2,part_length_mm")).Text);
    }

    [Fact]
    public async Task Export_NothingFits_IsSaidAndStillAFile()
    {
        await using var exporting = new Exporting();
        await exporting.AppendAsync(Cycles.Make("north", 0));

        var outcome = await exporting.RunAsync("cycles", "--columns", "saw,job", "--from", "yesterday");
        Assert.Equal((0, "saw,job\n"), (outcome.Code, outcome.Text));
        Assert.Equal("Nothing in the history fits: no row of cycles was written (from 2026-03-08 00:00).", Assert.Single(outcome.Error));

        var file = await exporting.RunAsync("cycles", "--columns", "saw,job", "--from", "yesterday", "--out", exporting.File("none.csv"));
        Assert.Equal((0, "saw,job\n"), (file.Code, await File.ReadAllTextAsync(exporting.File("none.csv"))));
        Assert.Equal($"0 rows of cycles written to {exporting.File("none.csv")} (8 bytes)", Assert.Single(file.Output));
    }

    [Theory]
    [InlineData("", "The table is missing; write one of cycles, profiles, states")]
    [InlineData("cycels", "There is no table 'cycels'; did you mean 'cycles'?")]
    [InlineData("cycles --columns saw,load_scor", "The table cycles has no column 'load_scor': did you mean 'load_score'?")]
    [InlineData("cycles --columns saw,saw", "The column 'saw' is named twice; name each column once.")]
    [InlineData("cycles --columns ,", "No column is named; name at least one, or leave the columns out to get all.")]
    [InlineData("cycles --format cvs", "There is no format 'cvs'; did you mean 'csv'?")]
    [InlineData("cycles --format excel", "There is no format 'excel'; known here: csv, jsonl, parquet, xlsx.")]
    [InlineData("cycles --outcome complete", "There is no outcome 'complete'; did you mean 'completed'?")]
    [InlineData("cycles --saw nort", "There is no saw 'nort'; did you mean 'north'?")]
    [InlineData("cycles --job J-2", "There is no job 'J-2' in the history; did you mean 'J-1'?")]
    [InlineData("cycles --job zzzzzz", "There is no job 'zzzzzz' in the history; known are for example J-1.")]
    [InlineData("cycles --blade B-1", "There is no blade 'B-1' in the history; there is none at all.")]
    [InlineData("cycles --material C46", "There is no material 'C46' in the history; did you mean 'C45'?")]
    [InlineData("cycles --min-score 2,5", "--min-score '2,5' is no number; write it with a decimal point, for example --min-score 2.5.")]
    [InlineData("cycles --min-score 3 --max-score 2", "--min-score 3 is greater than --max-score 2: nothing lies between them.")]
    [InlineData("cycles --from noon", "--from 'noon' is no time; write for example")]
    [InlineData("cycles --from 2026-03-02 --to '2026-03-01 10:00'", "--from '2026-03-02' to --to '2026-03-01 10:00' ends before it begins: 2026-03-02 00:00 to 2026-03-01 10:00.")]
    [InlineData("cycles --text raw", "--text 'raw' is not known; known here: safe, as-is.")]
    [InlineData("cycles --format parquet --gzip", "parquet is compressed by itself; leave --gzip out.")]
    [InlineData("cycles --out week.xls", "--out week.xls: no format ends like that; end it with .csv, .jsonl, .parquet or .xlsx")]
    [InlineData("cycles --out week.xlsx --format csv", "--out week.xlsx ends like xlsx, and --format says csv; leave one of them out.")]
    [InlineData("cycles --out week.xlsx.gz", "xlsx is compressed by itself; leave the .gz out.")]
    [InlineData("cycles --out week.csv --gzip", "--gzip: whoever reads week.csv would not know that it is compressed; name it week.csv.gz.")]
    [InlineData("cycles --out /nowhere/at/all/week.csv", "--out /nowhere/at/all/week.csv: there is no folder /nowhere/at/all; make it first.")]
    [InlineData("cycles --out /dev/null --format csv", "--out /dev/null: a device cannot be replaced by a file; write to standard output (--out -) and direct that to it.")]
    [InlineData("states --blade B-1 --format csv", "The table states cannot be filtered by blades: it can be by period, saws or jobs.")]
    [InlineData("cycels --describe", "There is no table 'cycels'; did you mean 'cycles'?")]
    [InlineData("--describe --format markdwon", "--describe --format 'markdwon' is not known; did you mean 'markdown'?")]
    public async Task Export_AskedWrongly_SaysWhatWouldBeRight(string arguments, string expected)
    {
        await using var exporting = new Exporting();
        await exporting.AppendAsync(Cycles.Make("north", 0));
        var said = await exporting.RefusedAsync(Words(arguments));
        Assert.StartsWith(expected, said, StringComparison.Ordinal);
    }

    [Fact]
    public async Task Export_ToAFile_HoldsTheSameBytes_AndReplacesTheFormer()
    {
        await using var exporting = new Exporting();
        await exporting.AppendAsync(Cycles.Make("north", 0), Cycles.Make("north", 1));
        var expected = (await exporting.DoneAsync("cycles")).Bytes;

        var file = exporting.File("week.csv");
        await File.WriteAllTextAsync(file, "former");
        var outcome = await exporting.DoneAsync("cycles", "--out", file);
        Assert.Equal(expected, await File.ReadAllBytesAsync(file));
        Assert.Equal(string.Create(System.Globalization.CultureInfo.InvariantCulture, $"2 rows of cycles written to {file} ({expected.Length:N0} bytes)"), Assert.Single(outcome.Output));
        Assert.Empty(outcome.Bytes);

        await exporting.DoneAsync("cycles", "--out", file + ".gz");
        await using var packed = new GZipStream(File.OpenRead(file + ".gz"), CompressionMode.Decompress);
        using var unpacked = new MemoryStream();
        await packed.CopyToAsync(unpacked);
        Assert.Equal(expected, unpacked.ToArray());

        // A folder: the file is named by table and period.
        await exporting.DoneAsync("cycles", "--from", "2026-03-02", "--to", "2026-03-02", "--out", exporting.Folder, "--gzip");
        await exporting.DoneAsync("cycles", "--from", "last week", "--to", "last week", "--out", exporting.Folder, "--format", "jsonl");
        await exporting.DoneAsync("cycles", "--from", "2026-03-02 06:30", "--out", exporting.Folder);
        await exporting.DoneAsync("cycles", "--out", exporting.Folder);
        Assert.Equal(["cycles-20260302-20260308.jsonl", "cycles-20260302.csv.gz", "cycles-from-20260302T0630.csv", "cycles.csv", "week.csv", "week.csv.gz"], Directory.GetFiles(exporting.Folder).Select(Path.GetFileName).Order(StringComparer.Ordinal));
    }

    [Fact]
    public async Task Export_OntoTheHistory_IsRefused()
    {
        await using var exporting = new Exporting();
        await exporting.AppendAsync(Cycles.Make("north", 0));
        foreach (var own in new[] { exporting.History.FilePath, exporting.History.FilePath + "-wal" })
            Assert.Equal($"--out {own}: this file belongs to the gateway and is not replaced; name another.", await exporting.RefusedAsync("cycles", "--format", "csv", "--out", own));
        Assert.Equal("ok", exporting.History.Ask("PRAGMA integrity_check"));
    }

    [Theory]
    [InlineData("parquet", "parquet is nothing to look at in a terminal; write it to a file with --out cycles.parquet, or into a pipe.")]
    [InlineData("xlsx", "xlsx is nothing to look at in a terminal; write it to a file with --out cycles.xlsx, or into a pipe.")]
    [InlineData("csv --gzip", "csv with --gzip is nothing to look at in a terminal; write it to a file with --out cycles.csv.gz, or into a pipe.")]
    public async Task Export_BinaryToATerminal_IsRefused(string format, string expected)
    {
        await using var exporting = new Exporting { IsTerminal = true };
        await exporting.AppendAsync(Cycles.Make("north", 0));
        Assert.Equal(expected, await exporting.RefusedAsync(["cycles", "--format", .. format.Split(' ')]));
        Assert.StartsWith("saw\nnorth\n", (await exporting.DoneAsync("cycles", "--columns", "saw")).Text, StringComparison.Ordinal);
    }

    [Fact]
    public async Task Export_OnATerminal_ShowsRowsAndRate()
    {
        using var screen = new StringWriter();
        var console = AnsiConsole.Create(new AnsiConsoleSettings { Ansi = AnsiSupport.Yes, ColorSystem = ColorSystemSupport.NoColors, Interactive = InteractionSupport.Yes, Out = new AnsiConsoleOutput(screen) });
        await using var exporting = new Exporting { Progress = console };
        await exporting.AppendAsync(Cycles.Make("north", 0), Cycles.Make("north", 1));
        await exporting.DoneAsync("cycles", "--out", exporting.File("a.csv"));
        Assert.Matches("2 rows, [0-9,]+ a second", screen.ToString());

        // The cursor is there again.
        Assert.EndsWith("\u001b[?25h", screen.ToString().TrimEnd('\n', '\r'), StringComparison.Ordinal);
    }

    [Fact]
    public async Task Export_WithoutAHistory_SaysSo()
    {
        await using var exporting = new Exporting();
        var outcome = await exporting.RunRawAsync("cycles", "--data", exporting.Folder);
        Assert.Equal(ExitCodes.WrongInput, outcome.Code);
        Assert.StartsWith($"There is no history in '{exporting.Folder}'", Assert.Single(outcome.Error), StringComparison.Ordinal);
        outcome = await exporting.RunRawAsync("cycles", "--config", exporting.File("none.json"));
        Assert.Equal(ExitCodes.WrongInput, outcome.Code);
    }

    [Fact]
    public async Task Export_ADamagedHistory_EndsWithOneLine_AndTheFormerFileStays()
    {
        await using var exporting = new Exporting();
        await exporting.AppendAsync([.. Enumerable.Range(0, 2500).Select(i => Cycles.Make("north", i))]);
        var copy = Directory.CreateDirectory(exporting.File("copy")).FullName;
        exporting.History.Ask($"VACUUM INTO '{Path.Combine(copy, "history.db")}'");
        var length = new FileInfo(Path.Combine(copy, "history.db")).Length;
        using (var stream = File.OpenWrite(Path.Combine(copy, "history.db")))
        {
            stream.Position = length / 2;
            stream.Write(new byte[length / 4]);
        }

        await File.WriteAllTextAsync(exporting.File("week.csv"), "former");
        var outcome = await exporting.RunRawAsync("cycles", "--data", copy, "--out", exporting.File("week.csv"));
        Assert.Equal(ExitCodes.Failed, outcome.Code);
        Assert.Contains("is damaged", Assert.Single(outcome.Error), StringComparison.Ordinal);
        Assert.Equal("former", await File.ReadAllTextAsync(exporting.File("week.csv")));
        Assert.Equal("week.csv", Path.GetFileName(Assert.Single(Directory.GetFiles(exporting.Folder))));
    }

    // As a shell parts them.
    private static string[] Words(string arguments) => [.. arguments.Split('\'').Index().SelectMany(part => part.Index % 2 == 1 ? [part.Item] : part.Item.Split(' ', StringSplitOptions.RemoveEmptyEntries))];
}
