using System.Diagnostics;
using System.Globalization;
using System.IO.Compression;
using SawEdge.Core.Cutting;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition.Recordings;
using SawEdge.Gateway.Commands;
using SawEdge.Gateway.Configuration;
using SawEdge.Simulator.Demo;
using SawEdge.Simulator.Recordings;
using SawEdge.TestSupport;

namespace SawEdge.Benchmarks.Recordings;

/// <summary>
/// Frames a second read from recordings, beside two yardsticks on the same files: only getting the bytes (what disk and
/// decompression allow), and the plain way of lines, split and double.Parse. Seconds are of processor time, so that other work on
/// the machine does not count.
/// </summary>
internal static class RecordingBenchmark
{
    private const int Frames = 1_000_000;
    private const int Rounds = 3;

    /// <summary>Measures and prints a table.</summary>
    public static async Task<int> RunAsync(TextWriter output)
    {
        using var folder = new TempFolder();
        var plain = folder.File("recording.csv");
        var packed = folder.File("recording.csv.gz");
        Write(plain);
        await using (var from = File.OpenRead(plain))
        await using (var to = new GZipStream(File.Create(packed), CompressionLevel.Optimal))
            await from.CopyToAsync(to);

        output.WriteLine(FormattableString.Invariant($"{Frames:N0} frames of 10 signals; {new FileInfo(plain).Length / 1e6:0} MB, {new FileInfo(packed).Length / 1e6:0} MB packed; best of {Rounds}; seconds of one core"));
        output.WriteLine("what                              frames/s   bytes/frame   times the plain way");
        var naive = await BestAsync(() => SplitAsync(plain));
        Print(output, "lines, split, double.Parse: csv", naive, naive);
        Print(output, "reader: csv", await BestAsync(() => ReadAsync(plain)), naive);
        Print(output, "reader: csv.gz", await BestAsync(() => ReadAsync(packed)), naive);
        Print(output, "set of files: csv", await BestAsync(() => ReadSetAsync(plain)), naive);
        Print(output, "another logger's columns: csv", await BestAsync(() => ReadMappedAsync(plain)), naive);
        Print(output, "bytes only: csv", await BestAsync(() => BytesAsync(plain)), naive);
        Print(output, "bytes only: csv.gz", await BestAsync(() => BytesAsync(packed)), naive);
        await PrintOtherAsync(output, "zcat | wc -l: csv.gz", "sh", ["-c", $"zcat '{packed}' | wc -l"], naive);
        await PrintOtherAsync(output, "Python csv and float: csv", "python3", ["-c", PythonReader, plain], naive);
        await PrintReplaysAsync(output, folder);
        return 0;
    }

    private const string PythonReader = """
        import csv, sys
        with open(sys.argv[1], newline='') as file:
            rows = csv.reader(file)
            next(rows)
            frames = sum(1 for row in rows if [float(row[i]) for i in (2, 3, 4)])
        print(frames + 1)
        """;

    // Programs of others, by the wall clock: what runs side by side in them counts once.
    private static async Task PrintOtherAsync(TextWriter output, string what, string program, string[] arguments, (double Seconds, long Allocated) naive)
    {
        if (Peer.Find(program) is null)
        {
            output.WriteLine($"{what,-32} {program} is not installed");
            return;
        }

        var best = double.MaxValue;
        for (var i = 0; i < Rounds; i++)
        {
            var started = Stopwatch.GetTimestamp();
            var (exit, said) = await Peer.RunAsync(program, arguments);
            if (exit != 0 || int.Parse(said.Trim(), CultureInfo.InvariantCulture) != Frames + 1)
                throw new InvalidOperationException($"{program}: {said}");
            best = Math.Min(best, Stopwatch.GetElapsedTime(started).TotalSeconds);
        }

        output.WriteLine(FormattableString.Invariant($"{what,-32} {Frames / best,10:N0} {"",12} {naive.Seconds / best,16:0.0}"));
    }

    // What the whole replay does depends on the cuts: frames of virtual saws, not made-up numbers. By the wall clock, since it works side by side.
    private static async Task PrintReplaysAsync(TextWriter output, TempFolder folder)
    {
        var plain = folder.File("saws.csv");
        var packed = folder.File("saws.csv.gz");
        var plant = Plant.Create(new DateTimeOffset(2026, 3, 2, 6, 0, 0, TimeSpan.Zero));
        await using (var writer = new StreamWriter(plain))
            RecordingGenerator.Write([.. plant.Saws.Select(saw => saw.Options)], new RecordingOptions { Cycles = 100, Interval = TimeSpan.FromMilliseconds(100), IdleMargin = TimeSpan.FromSeconds(20) }, writer);
        await using (var from = File.OpenRead(plain))
        await using (var to = new GZipStream(File.Create(packed), CompressionLevel.Optimal))
            await from.CopyToAsync(to);
        var frames = await BytesAsync(plain);
        output.WriteLine(FormattableString.Invariant($"{frames:N0} frames of {plant.Saws.Count} virtual saws through the whole replay, wall clock"));
        foreach (var path in new[] { plain, packed })
        {
            var best = double.MaxValue;
            for (var i = 0; i < Rounds; i++)
            {
                var started = Stopwatch.GetTimestamp();
                await ReplayAsync(folder, path);
                best = Math.Min(best, Stopwatch.GetElapsedTime(started).TotalSeconds);
            }

            output.WriteLine(FormattableString.Invariant($"{"whole replay: " + Path.GetFileName(path),-32} {frames / best,10:N0}"));
        }
    }

    private static async Task<long> ReplayAsync(TempFolder folder, string path)
    {
        var said = new StringWriter();
        var settings = new ReplaySettings { Inputs = [path], OutFolder = folder.File("replayed"), Overwrite = true };
        var replay = new Replay(settings, (asked, options, cancellation) => ReplayRun.StartAsync(asked, options, TimeProvider.System, said.WriteLine, cancellation), TimeProvider.System);
        var code = await replay.RunAsync(said, said, null, CancellationToken.None);
        return code == ExitCodes.Done ? Frames : throw new InvalidOperationException(said.ToString());
    }

    // The same file, read as if its columns had to be looked up and its numbers converted.
    private static async Task<long> ReadMappedAsync(string path)
    {
        Signal[] signals = [Signal.HeadPosition, Signal.MotorLoad, Signal.BladeSpeed, Signal.CycleActive, Signal.Cutting, Signal.BladeRunning, Signal.FaultCode, Signal.Mode, Signal.Job, Signal.PartCount];
        var saws = Enumerable.Range(0, 3).Select(i => new SawOptions
        {
            Machine = new SawMachine { Name = $"saw-{i}" },
            Interval = TimeSpan.FromMilliseconds(100),
            Source = new RecordingSourceOptions
            {
                TimeColumn = "time",
                SawColumn = "saw",
                Signals = [.. signals.Select(signal => new ColumnMapping { Signal = signal, Column = SignalInfo.Of(signal).Name, Conversion = SignalInfo.Of(signal).Kind == SignalKind.Number ? ValueConversion.Linear(1.5, 1) : ValueConversion.Identity })],
            },
        });
        var layouts = new RecordingLayouts(new GatewayOptions { Site = "s", Gateway = "g", DataFolder = "", Saws = [.. saws], TimeZone = TimeZoneInfo.Utc });
        await using var reader = await RecordingReader.OpenAsync(path, new RecordingProblems(), null, layouts);
        var row = default(RecordedFrame);
        var frames = 0L;
        do
        {
            while (reader.TryRead(ref row))
                frames++;
        }
        while (await reader.FillAsync());
        return frames;
    }

    private static void Print(TextWriter output, string what, (double Seconds, long Allocated) best, (double Seconds, long Allocated) naive) =>
        output.WriteLine(FormattableString.Invariant($"{what,-32} {Frames / best.Seconds,10:N0} {(double)best.Allocated / Frames,12:0.00} {naive.Seconds / best.Seconds,16:0.0}"));

    private static async Task<(double Seconds, long Allocated)> BestAsync(Func<Task<long>> work)
    {
        var best = (Seconds: double.MaxValue, Allocated: 0L);
        for (var i = 0; i < Rounds; i++)
        {
            var allocated = GC.GetTotalAllocatedBytes(precise: true);
            var cpu = Environment.CpuUsage.TotalTime;
            var frames = await work();
            var seconds = (Environment.CpuUsage.TotalTime - cpu).TotalSeconds;
            allocated = GC.GetTotalAllocatedBytes(precise: true) - allocated;
            if (frames != Frames)
                throw new InvalidOperationException($"{frames} frames were read.");
            if (seconds < best.Seconds)
                best = (seconds, allocated);
        }

        return best;
    }

    private static void Write(string path)
    {
        using var writer = new RecordingWriter(File.Create(path), [Signal.HeadPosition, Signal.MotorLoad, Signal.BladeSpeed, Signal.CycleActive, Signal.Cutting, Signal.BladeRunning, Signal.FaultCode, Signal.Mode, Signal.Job, Signal.PartCount]);
        var start = new DateTimeOffset(2026, 3, 2, 6, 0, 0, TimeSpan.Zero);
        var random = new Random(1);
        for (var i = 0; i < Frames; i++)
        {
            var frame = new SignalFrame(start.AddMilliseconds(100 * (i / 3)));
            frame.Set(Signal.HeadPosition, Math.Round(300 - (i % 3000 * 0.1) + random.NextDouble(), 3));
            frame.Set(Signal.MotorLoad, Math.Round(1.5 + random.NextDouble(), 4));
            frame.Set(Signal.BladeSpeed, Math.Round(70 + random.NextDouble(), 2));
            frame.Set(Signal.CycleActive, i % 3000 < 2500);
            frame.Set(Signal.Cutting, i % 3000 < 2000);
            frame.Set(Signal.BladeRunning, true);
            frame.Set(Signal.FaultCode, 0);
            frame.Set(Signal.Mode, "automatic");
            frame.Set(Signal.Job, string.Create(CultureInfo.InvariantCulture, $"J-{i / 30000}"));
            frame.Set(Signal.PartCount, i / 3000);
            writer.Write($"saw-{i % 3}", in frame);
            if (writer.Pending > 1 << 20)
                writer.Flush();
        }
    }

    private static async Task<long> ReadAsync(string path)
    {
        await using var reader = await RecordingReader.OpenAsync(path, new RecordingProblems());
        var row = default(RecordedFrame);
        var frames = 0L;
        do
        {
            while (reader.TryRead(ref row))
                frames++;
        }
        while (await reader.FillAsync());
        return frames;
    }

    private static async Task<long> ReadSetAsync(string path)
    {
        await using var set = await RecordingSet.OpenAsync([path], new RecordingProblems());
        var row = default(RecordedFrame);
        var frames = 0L;
        while (await set.FillAsync())
        {
            while (set.TryRead(ref row))
                frames++;
        }

        return frames;
    }

    private static async Task<long> BytesAsync(string path)
    {
        await using var stream = RecordingReader.OpenText(path);
        var buffer = new byte[256 * 1024];
        var lines = -1L;
        int read;
        while ((read = await stream.ReadAsync(buffer)) > 0)
            lines += buffer.AsSpan(0, read).Count((byte)'\n');
        return lines;
    }

    private static async Task<long> SplitAsync(string path)
    {
        using var reader = new StreamReader(path);
        await reader.ReadLineAsync();
        var frames = 0L;
        while (await reader.ReadLineAsync() is { } line)
        {
            var fields = line.Split(',');
            var frame = new SignalFrame(DateTimeOffset.Parse(fields[0], CultureInfo.InvariantCulture));
            frame.Set(Signal.HeadPosition, double.Parse(fields[2], CultureInfo.InvariantCulture));
            frame.Set(Signal.MotorLoad, double.Parse(fields[3], CultureInfo.InvariantCulture));
            frame.Set(Signal.BladeSpeed, double.Parse(fields[4], CultureInfo.InvariantCulture));
            frame.Set(Signal.CycleActive, bool.Parse(fields[5]));
            frame.Set(Signal.Cutting, bool.Parse(fields[6]));
            frame.Set(Signal.BladeRunning, bool.Parse(fields[7]));
            frame.Set(Signal.FaultCode, double.Parse(fields[8], CultureInfo.InvariantCulture));
            frame.Set(Signal.Mode, fields[9]);
            frame.Set(Signal.Job, fields[10]);
            frame.Set(Signal.PartCount, double.Parse(fields[11], CultureInfo.InvariantCulture));
            frames++;
        }

        return frames;
    }
}
