using System.Globalization;
using Microsoft.Extensions.Logging.Abstractions;
using Microsoft.Extensions.Time.Testing;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition.Recordings;
using SawEdge.Gateway.Configuration;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Acquisition.Recordings;

public class RecordingSinkTests
{
    private static readonly DateTimeOffset Start = new(2026, 3, 2, 6, 0, 0, TimeSpan.Zero);

    private readonly FakeTimeProvider _time = new(Start);

    [Fact]
    public async Task RunAsync_FramesThenHalfASecond_AreOnDiskWhileItRuns()
    {
        using var folder = new TempFolder();
        using var sink = NewSink(folder.Path);
        var run = sink.RunAsync(CancellationToken.None);

        sink.Offer("s", Frame(0));
        sink.Offer("s", Frame(1));
        await Until.TrueAsync(
            () =>
            {
                _time.Advance(TimeSpan.FromMilliseconds(500));
                return sink.Recorded == 2;
            },
            "both frames are flushed");

        var file = Path.Combine(folder.Path, Assert.Single(Directory.GetFiles(folder.Path)));
        Assert.StartsWith("recording-2026-03-02T0600", Path.GetFileName(file), StringComparison.Ordinal);
        Assert.Equal("time,saw,motor_load,cutting\n2026-03-02T06:00:00.000Z,s,0,true\n2026-03-02T06:00:01.000Z,s,1,true\n", await ReadSharedAsync(file));

        sink.Complete();
        await run;
        Assert.Equal(0, sink.Lost);
    }

    [Fact]
    public async Task RunAsync_Cancelled_StillWritesWhatWasGiven()
    {
        using var folder = new TempFolder();
        using var sink = NewSink(folder.Path);
        using var stop = new CancellationTokenSource();
        for (var i = 0; i < 1000; i++)
            sink.Offer("s", Frame(i));
        await stop.CancelAsync();

        await sink.RunAsync(stop.Token);

        await using var reader = await RecordingReader.OpenAsync(Assert.Single(Directory.GetFiles(folder.Path)), new RecordingProblems());
        Assert.Equal(1000, (await Recorded.ReadAsync(reader)).Count);
        Assert.Equal(1000, sink.Recorded);
    }

    [Fact]
    public async Task RunAsync_SecondStartInTheSameSecond_TakesAnotherFile()
    {
        using var folder = new TempFolder();
        for (var i = 0; i < 2; i++)
        {
            using var sink = NewSink(folder.Path);
            sink.Offer("s", Frame(i));
            sink.Complete();
            await sink.RunAsync(CancellationToken.None);
        }

        Assert.Equal(["recording-2026-03-02T060000Z-2.csv", "recording-2026-03-02T060000Z.csv"], Directory.GetFiles(folder.Path).Select(Path.GetFileName).Order(StringComparer.Ordinal));
    }

    [Fact]
    public async Task RunAsync_NoFrames_LeavesNoFile()
    {
        using var folder = new TempFolder();
        using var sink = NewSink(folder.File("recordings"));
        sink.Complete();
        await sink.RunAsync(CancellationToken.None);
        Assert.False(Directory.Exists(folder.File("recordings")));
    }

    [Fact]
    public async Task RunAsync_FolderCannotBeMadeAtFirst_GoesOnWhenItCan()
    {
        using var folder = new TempFolder();
        var blocked = folder.File("recordings");
        await File.WriteAllTextAsync(blocked, "a file where the folder should be");
        using var sink = NewSink(blocked);
        var run = sink.RunAsync(CancellationToken.None);

        sink.Offer("s", Frame(0));
        await Until.TrueAsync(() => sink.Lost == 1, "the frame is counted as lost");
        File.Delete(blocked);
        await Until.TrueAsync(
            () =>
            {
                _time.Advance(TimeSpan.FromMilliseconds(500));
                return Directory.Exists(blocked);
            },
            "the folder is made");
        sink.Offer("s", Frame(1));
        sink.Complete();
        await run;

        await using var reader = await RecordingReader.OpenAsync(Assert.Single(Directory.GetFiles(blocked)), new RecordingProblems());
        Assert.Equal(1.0, Assert.Single(await Recorded.ReadAsync(reader)).Frame.Number(Signal.MotorLoad));
        Assert.Equal(1, sink.Lost);
        Assert.Equal(1, sink.Recorded);
    }

    [Fact]
    public async Task RunAsync_ProcessKilled_WhatWasFlushedIsThere()
    {
        using var folder = new TempFolder();
        var safe = 0L;
        await using (var process = Peer.Start(TestHost.Dotnet, [TestHost.AssemblyPath, "record", folder.Path]))
        {
            long Printed() => process.Output.Split('\n', StringSplitOptions.RemoveEmptyEntries).Select(line => long.Parse(line, CultureInfo.InvariantCulture)).DefaultIfEmpty().Max();
            await Until.TrueAsync(() => (safe = Printed()) > 200, () => $"200 frames are safe; it printed {process.Output}");
            await process.KillAsync();
            safe = Printed();
        }

        var problems = new RecordingProblems();
        await using var reader = await RecordingReader.OpenAsync(Assert.Single(Directory.GetFiles(folder.Path)), problems);
        var frames = await Recorded.ReadAsync(reader);
        Assert.True(frames.Count >= safe, $"{frames.Count} of {safe} are there");
        Assert.Equal(Enumerable.Range(0, frames.Count).Select(i => (double)i), frames.Select(row => row.Frame.Number(Signal.MotorLoad)));
        Assert.Empty(problems.All);
    }

    // /dev/full refuses every byte, as a full disk does.
    [PeerFact("/dev/full")]
    public void Abandon_AfterADiskIsFull_DoesNotThrow()
    {
        using var writer = new RecordingWriter(new FileStream("/dev/full", FileMode.Open, FileAccess.Write, FileShare.Read, 0), [Signal.MotorLoad]);
        writer.Write("s", Frame(0));
        Assert.Throws<IOException>(writer.Flush);
        writer.Abandon();
    }

    private RecordingSink NewSink(string folder) =>
        new(new RecordOptions { Folder = folder, Compresses = false }, [Signal.Cutting, Signal.MotorLoad, Signal.Cutting], _time, NullLogger<RecordingSink>.Instance);

    private static SignalFrame Frame(int second)
    {
        var frame = new SignalFrame(Start.AddSeconds(second));
        frame.Set(Signal.MotorLoad, second);
        frame.Set(Signal.Cutting, true);
        return frame;
    }

    private static async Task<string> ReadSharedAsync(string file)
    {
        await using var stream = new FileStream(file, FileMode.Open, FileAccess.Read, FileShare.ReadWrite);
        using var reader = new StreamReader(stream);
        return await reader.ReadToEndAsync();
    }
}
