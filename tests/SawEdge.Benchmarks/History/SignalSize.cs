using System.Diagnostics;
using System.Globalization;
using Microsoft.Extensions.Logging.Abstractions;
using SawEdge.Core.Signals;
using SawEdge.Gateway.History;
using SawEdge.Simulator.Demo;
using SawEdge.Simulator.Recordings;
using SawEdge.Simulator.Saws;
using SawEdge.TestSupport;

namespace SawEdge.Benchmarks.History;

/// <summary>Downsampled signals: what a frame costs, what a saw takes on the disk in a day, how fast they are read and cleared away.</summary>
internal static class SignalSize
{
    private const int Saws = 50;
    private const int Rounds = 3;

    private static readonly DateTimeOffset Begin = new(2026, 3, 2, 0, 0, 0, TimeSpan.Zero);
    private static readonly TimeSpan Every = TimeSpan.FromSeconds(10);

    public static async Task RunAsync(int days, TextWriter output)
    {
        using var folder = new TempFolder();
        using var database = HistoryDatabase.Open(folder.Path);
        var writer = new HistoryWriter(database, TimeProvider.System, NullLogger<HistoryWriter>.Instance);
        var run = writer.RunAsync(CancellationToken.None);
        var reader = new HistoryReader(database);
        var empty = new FileInfo(database.FilePath).Length;

        // A day of work of each of the demo's saws, and a day of one that stands; the days and saws of the history are made of them.
        var working = Plant.Create(Begin).Saws.Select(saw => Day(saw.Options, output)).ToList();
        foreach (var (name, samples) in working.Select((samples, i) => (Said($"demo saw {i + 1} that cuts all day"), samples)).Append(("a saw that stands all day", Standing(working[0].Count))))
            await output.WriteLineAsync(Said($"{name,-30} {samples.Count,6:N0} samples, {samples.Average(sample => SampleCodec.Encode(sample).Length),6:0.0} bytes each"));

        var times = new List<double>();
        for (var day = 0; day < days; day++)
        {
            for (var hour = 0; hour < 24; hour++)
            {
                var rows = new List<SawSample>();
                foreach (var samples in Enumerable.Range(0, Saws).Select(saw => (Name: Said($"Saw {saw + 1}"), Day: working[saw % working.Count])))
                    rows.AddRange(samples.Day.Where(sample => sample.From.Hour == hour).Select(sample => new SawSample(samples.Name, Shifted(sample, day))));
                rows.Sort((a, b) => a.Sample.From.CompareTo(b.Sample.From));
                foreach (var moment in rows.Chunk(Saws * 6))
                {
                    var start = Stopwatch.GetTimestamp();
                    await writer.SaveSamplesAsync(moment, CancellationToken.None);
                    times.Add(Stopwatch.GetElapsedTime(start).TotalMilliseconds);
                }
            }
        }

        var count = await reader.CountSamplesAsync(SampleFilter.All);
        await output.WriteLineAsync(Said($"{Saws} saws, {days} days: {count:N0} samples; stored 300 at a time, {Percentile(times, 0.5):0.0} ms p50, {Percentile(times, 0.99):0.0} ms p99"));
        using (var connection = database.OpenForWriting())
            HistorySchema.Execute(connection, null, "PRAGMA wal_checkpoint(TRUNCATE)");
        var bytes = new FileInfo(database.FilePath).Length - empty;
        await output.WriteLineAsync(Said($"on the disk {bytes / 1048576.0:0} MiB: {(double)bytes / Saws / days:N0} bytes a saw and day, {(double)bytes / count:0.0} a sample"));

        var last = Begin.AddDays(days - 1);
        await ReadAsync(output, "all saws, all days", reader, SampleFilter.All);
        await ReadAsync(output, "all saws, one day", reader, new SampleFilter { From = last });
        await ReadAsync(output, "one saw, one day", reader, new SampleFilter { From = last, Saws = ["Saw 1"] });
        await ReadAsync(output, "one saw, all days", reader, new SampleFilter { Saws = ["Saw 1"] });

        var bites = new List<double>();
        while (true)
        {
            var start = Stopwatch.GetTimestamp();
            if (await writer.DeleteSamplesAsync(Begin.AddDays(1), 500, Takers.None, CancellationToken.None) == 0)
                break;
            bites.Add(Stopwatch.GetElapsedTime(start).TotalMilliseconds);
        }

        await output.WriteLineAsync(Said($"a day cleared away in {bites.Count:N0} bites of 500: {Percentile(bites, 0.5):0.0} ms p50, {Percentile(bites, 0.99):0.0} ms p99, {bites.Max():0.0} ms at most"));
        writer.Complete();
        await run;
    }

    private static List<SignalSample> Day(VirtualSawOptions options, TextWriter output)
    {
        var frames = RecordingGenerator.Frames(new VirtualSaw(options), new RecordingOptions { Cycles = 100_000, Interval = TimeSpan.FromMilliseconds(250) })
            .TakeWhile(frame => frame.Time < Begin.AddDays(1)).ToArray();
        var (best, samples) = (double.MaxValue, new List<SignalSample>());
        for (var round = 0; round < Rounds; round++)
        {
            samples.Clear();
            var sampler = new SignalSampler(Every);
            var start = Stopwatch.GetTimestamp();
            foreach (ref readonly var frame in frames.AsSpan())
            {
                sampler.Push(frame);
                if (sampler.TryTake(out var sample))
                    samples.Add(sample);
            }

            best = Math.Min(best, Stopwatch.GetElapsedTime(start).TotalNanoseconds / frames.Length);
            sampler.Complete();
            sampler.TryTake(out var open);
            samples.Add(open);
        }

        output.WriteLine(Said($"{frames.Length:N0} frames, {best:0} ns each"));
        return samples;
    }

    private static List<SignalSample> Standing(int count)
    {
        var sampler = new SignalSampler(Every);
        var samples = new List<SignalSample>();
        for (var n = 0; n < count * 40; n++)
        {
            var frame = new SignalFrame(Begin.AddMilliseconds(n * 250.0));
            foreach (var info in SignalSample.Signals)
                frame.Set(info.Signal, info.Signal == Signal.HeadPosition ? 412.5 : 0);
            sampler.Push(frame);
            if (sampler.TryTake(out var sample))
                samples.Add(sample);
        }

        return samples;
    }

    private static SignalSample Shifted(SignalSample sample, int days) => new(sample.From.AddDays(days), sample.Every, sample.Frames, sample.Figures.ToArray());

    private static async Task ReadAsync(TextWriter output, string what, HistoryReader reader, SampleFilter filter)
    {
        var start = Stopwatch.GetTimestamp();
        var (count, before) = (0, GC.GetTotalMemory(forceFullCollection: true));
        var most = 0L;
        await foreach (var _ in reader.SamplesAsync(filter))
        {
            if (++count % 100_000 == 0)
                most = Math.Max(most, GC.GetTotalMemory(forceFullCollection: true) - before);
        }

        var seconds = Stopwatch.GetElapsedTime(start).TotalSeconds;
        await output.WriteLineAsync(Said($"read {what,-20} {count,10:N0} samples in {seconds:0.00} s, {count / seconds:N0} a second, {most / 1024.0:0} KiB more in use on the way"));
    }

    private static double Percentile(List<double> values, double share)
    {
        values.Sort();
        return values[(int)(share * (values.Count - 1))];
    }

    private static string Said(FormattableString text) => text.ToString(CultureInfo.InvariantCulture);
}
