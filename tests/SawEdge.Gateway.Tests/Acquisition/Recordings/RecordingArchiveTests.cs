using System.IO.Compression;
using System.Text;
using Microsoft.Extensions.Time.Testing;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition.Recordings;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Tests.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Acquisition.Recordings;

/// <summary>What becomes of recordings over time: ended by size and age, compressed, bounded on the disk.</summary>
public sealed class RecordingArchiveTests : IDisposable
{
    private static readonly DateTimeOffset Start = new(2026, 3, 2, 22, 0, 0, TimeSpan.Zero);

    private readonly FakeTimeProvider _time = new(Start);
    private readonly TempFolder _folder = new();
    private readonly CollectedLog _log = new();

    public void Dispose() => _folder.Dispose();

    [Fact]
    public async Task Sink_FilesOfASize_GoOnFromOneToTheNextAndAreReadAsOne()
    {
        var options = Options() with { RollBytes = 3000 };
        await RecordAsync(options, 0, 400);

        var files = Files();
        Assert.InRange(files.Count, 5, 20);
        Assert.All(files, file => Assert.InRange(new FileInfo(file).Length, 1, 3000 + 200));
        Assert.Equal(Enumerable.Range(0, 400), await ReadAsync());
    }

    [Fact]
    public async Task Sink_AtMidnightUtc_BeginsANewFile()
    {
        using var sink = new RecordingSink(Options(), [Signal.MotorLoad], _time, _log.For<RecordingSink>());
        var run = sink.RunAsync(CancellationToken.None);
        for (var hour = 0; hour < 50; hour++)
        {
            var now = hour + 1;
            sink.Offer("s", Frame(hour));
            await Until.TrueAsync(() => sink.Recorded >= now || Tick(), "the frame is on the disk");
            _time.SetUtcNow(Start.AddHours(now));
        }

        sink.Complete();
        await run;
        Assert.Equal(["2026-03-02T22", "2026-03-03T00", "2026-03-04T00"], Files().Select(file => Path.GetFileName(file)[10..23]));
        Assert.Equal(Enumerable.Range(0, 50), await ReadAsync());
        Assert.Equal([2300, 2305, 2305, 2304], _log.Entries.Select(line => line.Id));
    }

    [Fact]
    public async Task Sink_Compressing_LeavesWholeCompressedFilesAndNoOther()
    {
        var options = Options() with { RollBytes = 3000, Compresses = true };
        using (var sink = new RecordingSink(options, [Signal.MotorLoad], _time, _log.For<RecordingSink>()))
        {
            var run = sink.RunAsync(CancellationToken.None);
            for (var i = 0; i < 400; i++)
                sink.Offer("s", Frame(i));
            await Until.TrueAsync(() => Tick() || (sink.Recorded == 400 && Files().Count(file => file.EndsWith(".csv", StringComparison.Ordinal)) == 1), "all but the open one are compressed");
            sink.Complete();
            await run;
        }

        // What was open at the end stays plain until the next start.
        var files = Files();
        Assert.Equal(files.Count - 1, files.Count(file => file.EndsWith(".csv.gz", StringComparison.Ordinal)));
        Assert.Equal(Enumerable.Range(0, 400), await ReadAsync());

        using var next = new RecordingSink(options, [Signal.MotorLoad], _time, _log.For<RecordingSink>());
        var second = next.RunAsync(CancellationToken.None);
        await Until.TrueAsync(() => Files().TrueForAll(file => file.EndsWith(".csv.gz", StringComparison.Ordinal)), "the next start compresses it");
        next.Complete();
        await second;
        Assert.Equal(Enumerable.Range(0, 400), await ReadAsync());
        Assert.DoesNotContain(_log.Entries, line => line.Level > Microsoft.Extensions.Logging.LogLevel.Information);
    }

    [Fact]
    public async Task Sink_Bounded_RemovesTheOldestAndOnlyItsOwn()
    {
        string[] others = ["recording-2020-01-01T000000Z.csv.bak", "recording-2020-01-01.csv", "a-recording-2020-01-01T000000Z.csv", "cuts of may.csv"];
        foreach (var other in others)
            await File.WriteAllTextAsync(_folder.File(other), new string('x', 20_000));
        await File.WriteAllTextAsync(_folder.File("recording-2020-01-01T000000Z.csv.gz"), new string('x', 1000));
        var options = Options() with { RollBytes = 3000, KeepBytes = 12_000 };
        using var sink = new RecordingSink(options, [Signal.MotorLoad], _time, _log.For<RecordingSink>());
        var run = sink.RunAsync(CancellationToken.None);
        var most = 0L;
        for (var i = 0; i < 1000; i++)
        {
            var now = i + 1;
            sink.Offer("s", Frame(i));
            if (i % 20 != 0)
                continue;
            await Until.TrueAsync(() => sink.Recorded >= now || Tick(), "the frame is on the disk");
            most = Math.Max(most, Files().Sum(file => new FileInfo(file).Length));
        }

        sink.Complete();
        await run;
        Assert.InRange(most, 8_000, 12_200);
        Assert.All(others, other => Assert.True(File.Exists(_folder.File(other))));
        var left = await ReadAsync();
        Assert.Equal(Enumerable.Range(1000 - left.Count, left.Count), left);
        var removed = _log.Entries.Where(line => line.Id == 2306).Select(line => line.Text).ToList();
        Assert.StartsWith($"Removed the recording {_folder.File("recording-2020-01-01T000000Z.csv.gz")}, the oldest", removed[0], StringComparison.Ordinal);
        Assert.Equal(removed.Count, removed.Distinct().Count());
        Assert.Equal(0, sink.Lost);
    }

    [Fact]
    public async Task Start_AfterABrokenOffCompression_DoesItAnew()
    {
        await RecordAsync(Options(), 0, 100);
        var plain = Assert.Single(Files());
        await File.WriteAllBytesAsync(plain + ".gz.part", [0x1F, 0x8B, 8, 0]);
        Assert.Equal(Enumerable.Range(0, 100), await ReadAsync());

        using var sink = new RecordingSink(Options() with { Compresses = true }, [Signal.MotorLoad], _time, _log.For<RecordingSink>());
        var run = sink.RunAsync(CancellationToken.None);
        await Until.TrueAsync(() => Directory.GetFiles(_folder.Path).SequenceEqual([plain + ".gz"]), "it is compressed and the draft gone");
        sink.Complete();
        await run;
        Assert.Equal(Enumerable.Range(0, 100), await ReadAsync());
    }

    [Fact]
    public async Task Start_WithTheCompressedFileThereAlready_RemovesThePlainOne()
    {
        await RecordAsync(Options(), 0, 100);
        var plain = Assert.Single(Files());
        await File.WriteAllBytesAsync(plain + ".gz", Recorded.Gzip(await File.ReadAllTextAsync(plain)));

        // Between renaming and removing, a replay finds both.
        Assert.Equal(Enumerable.Range(0, 100), await ReadAsync());

        using var sink = new RecordingSink(Options() with { Compresses = true }, [Signal.MotorLoad], _time, _log.For<RecordingSink>());
        var run = sink.RunAsync(CancellationToken.None);
        await Until.TrueAsync(() => Directory.GetFiles(_folder.Path).SequenceEqual([plain + ".gz"]), "the plain one is gone");
        sink.Complete();
        await run;
        Assert.Equal(Enumerable.Range(0, 100), await ReadAsync());
    }

    [Fact]
    public async Task Compression_ProcessKilledInTheMiddle_LosesNothing()
    {
        // Large enough that the kill comes in the middle; numbers that do not compress well.
        var random = new Random(1);
        var plain = _folder.File("recording-2026-03-01T000000Z.csv");
        await using (var writer = new StreamWriter(plain))
        {
            await writer.WriteAsync("time,saw,motor_load\n");
            for (var i = 0; i < 300_000; i++)
                await writer.WriteAsync(FormattableString.Invariant($"{Start.AddDays(-1).AddMilliseconds(i):yyyy-MM-dd'T'HH:mm:ss.fff}Z,s,{random.NextDouble()}\n"));
        }

        var whole = await File.ReadAllBytesAsync(plain);
        await using (var process = Peer.Start(TestHost.Dotnet, [TestHost.AssemblyPath, "record", _folder.Path]))
        {
            await Until.TrueAsync(() => new FileInfo(plain + ".gz.part") is { Exists: true, Length: > 0 }, () => $"the compression runs; it printed {process.Output}");
            await process.KillAsync();
        }

        Assert.Equal(whole, await File.ReadAllBytesAsync(plain));
        Assert.True(File.Exists(plain + ".gz.part"));
        Assert.False(File.Exists(plain + ".gz"));

        using var sink = new RecordingSink(Options() with { Compresses = true }, [Signal.MotorLoad], _time, _log.For<RecordingSink>());
        var run = sink.RunAsync(CancellationToken.None);
        await Until.TrueAsync(() => !File.Exists(plain) && Directory.GetFiles(_folder.Path).All(file => file.EndsWith(".gz", StringComparison.Ordinal)), "it is compressed");
        sink.Complete();
        await run;
        await using var packed = new GZipStream(File.OpenRead(plain + ".gz"), CompressionMode.Decompress);
        using var memory = new MemoryStream();
        await packed.CopyToAsync(memory);
        Assert.True(whole.AsSpan().SequenceEqual(memory.ToArray()));
    }

    [Fact]
    public async Task Start_FilesOfAnotherProcess_AreLeftAlone()
    {
        await using var process = Peer.Start(TestHost.Dotnet, [TestHost.AssemblyPath, "record", _folder.Path]);
        await Until.TrueAsync(() => Files().Count == 1 && new FileInfo(Files()[0]).Length > 0, () => $"it records; it printed {process.Output}");
        var open = Files()[0];

        await RecordAsync(Options() with { RollBytes = 3000, KeepBytes = 6000, Compresses = true }, 0, 400);
        Assert.True(File.Exists(open));
        Assert.False(File.Exists(open + ".gz"));
        await process.KillAsync();
    }

    [TmpfsFact]
    public async Task Sink_DiskFull_SaysSoOnceLeavesNoLitterAndGoesOn()
    {
        using var disk = TmpfsFactAttribute.Mount(megabytes: 1);
        var ballast = Path.Combine(disk.Path, "ballast");
        await File.WriteAllBytesAsync(ballast, new byte[800_000]);
        var options = new RecordOptions { Folder = disk.Path, RollBytes = 100_000, Compresses = false };
        using var sink = new RecordingSink(options, [Signal.MotorLoad], _time, _log.For<RecordingSink>());
        var run = sink.RunAsync(CancellationToken.None);
        var i = 0;
        await Until.TrueAsync(() => Offer() || sink.Lost > 0, "the disk is full");
        await Until.TrueAsync(() => Offer() || sink.Lost > 20_000, "it stays full for many looks");
        Assert.Equal(1, _log.Entries.Count(line => line.Id == 2301));
        Assert.DoesNotContain(Directory.GetFiles(disk.Path), file => new FileInfo(file).Length == 0);

        File.Delete(ballast);
        var before = sink.Recorded;
        await Until.TrueAsync(() => Offer() || sink.Recorded > before, "it goes on");
        sink.Complete();
        await run;
        Assert.Equal(1, _log.Entries.Count(line => line.Id == 2302));
        Assert.Equal(i, sink.Recorded + sink.Lost);

        // Every line is whole.
        var problems = new RecordingProblems();
        await using var set = await RecordingSet.OpenAsync([disk.Path], problems);
        Assert.Equal(sink.Recorded, (await Recorded.ReadAsync(set)).Count);
        Assert.DoesNotContain(problems.All, problem => problem.Kind != "no recording");

        bool Offer()
        {
            for (var j = 0; j < 500; j++)
                sink.Offer("s", Frame(i++));
            return Tick();
        }
    }

    [TmpfsFact]
    public async Task Sink_NoRoomForTheCompressedFile_KeepsThePlainOneAndSaysSoOnce()
    {
        using var disk = TmpfsFactAttribute.Mount(megabytes: 1);
        var random = new Random(1);
        var text = new StringBuilder("time,saw,motor_load\n");
        for (var i = 0; i < 18_000; i++)
            text.Append(System.Globalization.CultureInfo.InvariantCulture, $"2026-03-01T00:00:00.{i:0000000}Z,s,{random.NextDouble()}\n");
        var plain = Path.Combine(disk.Path, "recording-2026-03-01T000000Z.csv");
        await File.WriteAllTextAsync(plain, text.ToString());
        using var sink = new RecordingSink(new RecordOptions { Folder = disk.Path }, [Signal.MotorLoad], _time, _log.For<RecordingSink>());
        var run = sink.RunAsync(CancellationToken.None);
        await Until.TrueAsync(() => _log.Entries.Any(line => line.Id == 2307), "it cannot be compressed");
        sink.Complete();
        await run;
        Assert.Equal([plain], Directory.GetFiles(disk.Path));
        Assert.Equal(text.ToString(), await File.ReadAllTextAsync(plain));
    }

    [Theory]
    [InlineData("recording-2026-03-02T060000Z.csv", true)]
    [InlineData("recording-2026-03-02T060000Z-12.csv.gz", true)]
    [InlineData("recording-2026-03-02T060000Z.csv.gz.part", true)]
    [InlineData("recording-2026-03-02T060000Z-0.csv", false)]
    [InlineData("recording-2026-13-02T060000Z.csv", false)]
    [InlineData("recording-2026-03-02T060000Z.CSV", false)]
    [InlineData("recording-2026-03-02T060000Z.csv\n", false)]
    [InlineData("my-recording-2026-03-02T060000Z.csv", false)]
    [InlineData("cycles.csv", false)]
    public void Name_OnlyOfItsOwnFiles(string name, bool isOwn)
    {
        Assert.Equal(isOwn, RecordingName.TryParse(Path.Combine("any", name), out var parsed));
        if (isOwn)
            Assert.Equal(name, parsed.ToString());
    }

    private RecordOptions Options() => new() { Folder = _folder.Path, Compresses = false };

    private async Task RecordAsync(RecordOptions options, int from, int count)
    {
        using var sink = new RecordingSink(options, [Signal.MotorLoad], _time, _log.For<RecordingSink>());
        for (var i = from; i < from + count; i++)
            sink.Offer("s", Frame(i));
        sink.Complete();
        await sink.RunAsync(CancellationToken.None);
        Assert.Equal(0, sink.Lost);
    }

    // Lets half a second pass; false, so that it can stand in a condition.
    private bool Tick()
    {
        _time.Advance(TimeSpan.FromMilliseconds(500));
        return false;
    }

    private List<string> Files() => [.. Directory.GetFiles(_folder.Path).Where(file => RecordingName.TryParse(file, out _)).Order(StringComparer.Ordinal)];

    private async Task<List<int>> ReadAsync()
    {
        await using var set = await RecordingSet.OpenAsync([Path.Combine(_folder.Path, "recording-*T*Z*")], new RecordingProblems());
        return [.. (await Recorded.ReadAsync(set)).Select(row => (int)row.Frame.Number(Signal.MotorLoad))];
    }

    private static SignalFrame Frame(int number)
    {
        var frame = new SignalFrame(Start.AddSeconds(number));
        frame.Set(Signal.MotorLoad, number);
        return frame;
    }
}
