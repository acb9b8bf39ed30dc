using System.Diagnostics;
using System.Globalization;
using SawEdge.EndToEnd.Tests.Support;
using SawEdge.Gateway.Tests.History;
using SawEdge.TestSupport;

namespace SawEdge.EndToEnd.Tests;

/// <summary>The built program exports: broken off, without room, into pipes, in other languages, beside a running gateway.</summary>
public sealed class ExportTests(LongHistory history) : IClassFixture<LongHistory>
{
    private const string Former = "the former file";

    private static string Program => Path.Combine(AppContext.BaseDirectory, "sawedge.dll");

    [Theory]
    [InlineData("csv", 11)]
    [InlineData("csv.gz", 12)]
    [InlineData("jsonl", 13)]
    [InlineData("parquet", 14)]
    [InlineData("xlsx", 15)]
    public async Task BrokenOffAtAnyMoment_TheFormerFileStays_AndNoHalfOneIsLeft(string ending, int seed)
    {
        using var folder = new TempFolder();
        var file = folder.File($"cycles.{ending}");
        await GatewayProcess.GoodCommandAsync("export", "cycles", "--data", history.Folder, "--out", file);
        var whole = await File.ReadAllBytesAsync(file);
        var random = new Random(seed);
        var broken = 0;
        for (var i = 0; i < 6; i++)
        {
            await File.WriteAllTextAsync(file, Former);

            // The first before anything is written; the others at a random place of the file.
            var at = i == 0 ? -1 : random.NextInt64(whole.Length);
            await using var export = GatewayProcess.Start("export", "cycles", "--data", history.Folder, "--out", file);
            await Until.TrueAsync(() => export.HasExited || at < 0 || Written(folder.Path, file) >= at, $"byte {at} is written");
            await export.SignalAsync(i % 2 == 0 ? "INT" : "TERM");
            var code = await export.ExitsAsync();

            var context = string.Create(CultureInfo.InvariantCulture, $"seed {seed}, run {i}, byte {at} of {whole.Length}, exit code {code}: {export.Output}");
            Assert.True(Directory.GetFileSystemEntries(folder.Path) is [var only] && only == file, context);
            var left = await File.ReadAllBytesAsync(file);

            // The signal may meet the process when its work is done and said.
            if (code == 0 || export.Output.Contains("rows of cycles written", StringComparison.Ordinal))
            {
                Assert.True(left.AsSpan().SequenceEqual(whole), context);
                continue;
            }

            broken++;
            Assert.True(code is 130 or 143, context);
            Assert.True(left.AsSpan().SequenceEqual(System.Text.Encoding.UTF8.GetBytes(Former)), context);
            if (at >= 0)
                Assert.Equal($"Broken off; {file} is as it was before.", export.Output);
        }

        Assert.True(broken >= 3, $"seed {seed}: only {broken} of 6 came before the end");
    }

    [PeerFact("kill")]
    public async Task BrokenOff_WhileNobodyReadsThePipe_EndsAtOnce()
    {
        var start = new ProcessStartInfo(Dotnet, [Program, "export", "cycles", "--data", history.Folder]) { RedirectStandardOutput = true, RedirectStandardError = true };
        using var export = Process.Start(start)!;

        // Once something is there, the rest comes at once: a pipe holds 64 KiB, and the writing waits from then on.
        Assert.True(export.StandardOutput.BaseStream.ReadByte() >= 0);
        await Peer.RunAsync("kill", ["-INT", export.Id.ToString(CultureInfo.InvariantCulture)]);
        using var patience = new CancellationTokenSource(TimeSpan.FromMinutes(3));
        await export.WaitForExitAsync(patience.Token);
        Assert.Equal((130, "Broken off; what was written is not whole.\n"), (export.ExitCode, await export.StandardError.ReadToEndAsync()));
    }

    [PeerFact("bash", "head")]
    public async Task ReaderThatHasSeenEnough_EndsItQuietly()
    {
        var (_, output) = await Peer.RunAsync("bash", ["-c", $"'{Dotnet}' '{Program}' export cycles --columns cycle_id --data '{history.Folder}' | head -n 2; echo \"codes ${{PIPESTATUS[0]}} ${{PIPESTATUS[1]}}\""]);
        Assert.Equal("cycle_id\nsaw-1-000000\ncodes 141 0", output);
    }

    [PeerFact("bash")]
    public async Task NoRoom_OnStandardOutput_IsOneLine()
    {
        var (code, output) = await Peer.RunAsync("bash", ["-c", $"'{Dotnet}' '{Program}' export cycles --data '{history.Folder}' > /dev/full"]);
        Assert.Equal((2, "Standard output cannot be written: No space left on device; what was written is not whole."), (code, output.Split(" : ")[0]));
    }

    [PeerTheory("bash")]
    [InlineData("csv")]
    [InlineData("parquet")]
    [InlineData("xlsx")]
    public async Task NoRoom_ForAFileOfThatSize_LeavesTheFormerFile(string ending)
    {
        using var folder = new TempFolder();
        var file = folder.File($"cycles.{ending}");
        await File.WriteAllTextAsync(file, Former);

        // Blocks of 1,024 bytes; .NET passes over the signal that comes with it, so that the write fails. Its memory of two views (W^X) is a file as well.
        var (code, output) = await Peer.RunAsync("bash", ["-c", $"ulimit -f 64; export DOTNET_EnableWriteXorExecute=0; exec '{Dotnet}' '{Program}' export cycles --data '{history.Folder}' --out '{file}'"]);
        Assert.Equal((2, $"'{file}' cannot be written: it grows larger than the system allows; ask for less at once, or for a compressed file."), (code, output));
        Assert.Equal([file], Directory.GetFiles(folder.Path));
        Assert.Equal(Former, await File.ReadAllTextAsync(file));
    }

    [TmpfsFact]
    public async Task NoRoom_OnTheDisk_LeavesTheFormerFileAndItsRoom()
    {
        using var disk = TmpfsFactAttribute.Mount(megabytes: 2);
        var file = Path.Combine(disk.Path, "cycles.csv");
        await File.WriteAllTextAsync(file, Former);
        var (code, output) = await GatewayProcess.CommandAsync("export", "cycles", "--data", history.Folder, "--out", file);
        Assert.Equal((2, $"'{file}' cannot be written: the disk is full; make room."), (code, output));
        Assert.Equal([file], Directory.GetFiles(disk.Path));
        Assert.Equal(Former, await File.ReadAllTextAsync(file));

        // What little is asked for then has room.
        await GatewayProcess.GoodCommandAsync("export", "cycles", "--data", history.Folder, "--out", file, "--to", "2026-03-02T07:00:00Z");
        Assert.Equal(61, (await File.ReadAllTextAsync(file)).Split("\nsaw-1-").Length);
    }

    [Theory]
    [InlineData("csv")]
    [InlineData("jsonl")]
    [InlineData("xlsx")]
    public async Task InALanguageWithADecimalComma_TheBytesAreTheSame(string format)
    {
        using var folder = new TempFolder();
        async Task<byte[]> ExportAsync(string name, params (string Name, string Value)[] variables)
        {
            var file = folder.File($"{name}.{format}");
            var (code, output) = await Peer.RunAsync(Dotnet, [Program, "export", "cycles", "--data", history.Folder, "--to", "2026-03-03T06:00:00Z", "--min-score", "1.5", "--out", file], variables.ToDictionary(variable => variable.Name, variable => variable.Value));
            Assert.True(code == 0, output);
            return await File.ReadAllBytesAsync(file);
        }

        var expected = await ExportAsync("plain", ("LC_ALL", "C"));
        Assert.Equal(expected, await ExportAsync("german", ("LANG", "de_DE.UTF-8"), ("LC_ALL", "de_DE.UTF-8"), ("DOTNET_SYSTEM_GLOBALIZATION_INVARIANT", "0"), ("DOTNET_SYSTEM_GLOBALIZATION_PREDEFINED_CULTURES_ONLY", "0"), ("TZ", "Europe/Berlin")));
        Assert.Equal(expected, await ExportAsync("turkish", ("LC_ALL", "tr_TR.UTF-8"), ("DOTNET_SYSTEM_GLOBALIZATION_INVARIANT", "0")));
    }

    [PeerFact("bash")]
    public async Task TwoExports_IntoOneFile_StandOneAfterTheOther()
    {
        using var folder = new TempFolder();
        var both = folder.File("both.csv");
        var export = $"'{Dotnet}' '{Program}' export cycles --columns cycle_id --to 2026-03-02T06:02:00Z --data '{history.Folder}'";
        var (code, output) = await Peer.RunAsync("bash", ["-c", $"{{ echo begin; {export}; {export}; echo end; }} > '{both}'"]);
        Assert.Equal((0, ""), (code, output));
        Assert.Equal("begin\ncycle_id\nsaw-1-000000\nsaw-1-000001\ncycle_id\nsaw-1-000000\nsaw-1-000001\nend\n", await File.ReadAllTextAsync(both));
    }

    private static string Dotnet => Path.GetFileNameWithoutExtension(Environment.ProcessPath) == "dotnet" ? Environment.ProcessPath! : Peer.Find("dotnet")!;

    private static long Written(string folder, string file)
    {
        foreach (var draft in new DirectoryInfo(folder).EnumerateFiles())
        {
            try
            {
                if (draft.FullName != file)
                    return draft.Length;
            }
            catch (FileNotFoundException)
            {
                // It got its own name meanwhile.
            }
        }

        return 0;
    }
}
