using System.Globalization;
using System.Text;
using CsCheck;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition.Recordings;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Acquisition.Recordings;

public class RecordingWriterTests
{
    private static readonly Signal[] AllSignals = [.. SignalInfo.All.Select(info => info.Signal)];

    [Fact]
    public void Write_ConfiguredSignalsOnly_InTheirUsualOrder()
    {
        var frame = new SignalFrame(new DateTimeOffset(2026, 3, 2, 7, 0, 0, TimeSpan.FromHours(1)));
        frame.Set(Signal.Cutting, true);
        frame.Set(Signal.MotorLoad, 0.1);
        frame.Set(Signal.Job, "6\" pipe, left");
        frame.Set(Signal.BladeSpeed, 70);

        Assert.Equal(
            "time,saw,motor_load,cutting,job\n2026-03-02T06:00:00.000Z,saw-1,0.1,true,\"6\"\" pipe, left\"\n",
            Write([Signal.Job, Signal.Cutting, Signal.MotorLoad], ("saw-1", frame)));
    }

    [Fact]
    public void Write_UnusableValues_AreNaNWhereTheyWereRead()
    {
        var frame = new SignalFrame(DateTimeOffset.UnixEpoch);
        frame.Mark(Signal.HeadPosition, SignalQuality.Invalid);
        frame.Mark(Signal.MotorLoad, SignalQuality.OutOfRange);
        frame.Mark(Signal.BladeSpeed, SignalQuality.SourceFault);
        frame.Mark(Signal.Job, SignalQuality.Invalid);

        Assert.EndsWith("\n1970-01-01T00:00:00.000Z,s,NaN,NaN,,\n", Write([Signal.HeadPosition, Signal.MotorLoad, Signal.BladeSpeed, Signal.Job], ("s", frame)), StringComparison.Ordinal);
    }

    [Fact]
    public async Task Write_AnyFrames_ReadBackEqual()
    {
        var texts = Gen.OneOf("", "a", "a,b", "\"", "\"\"", "6\" pipe", "Säge 1", "鋸", "😀", "=1+1", "line\"s,", "NaN", "true");
        var value = Gen.Frequency((6, Gen.Double), (3, Gen.Select(Gen.Int[-1_000_000, 1_000_000], Gen.Int[0, 4], (n, d) => n / Math.Pow(10, d))), (1, Gen.Const(double.NaN)));
        var row = Gen.Select(Gen.Long[0, DateTime.MaxValue.Ticks], texts, value.Array[3], Gen.Long[0, 1L << 53], Gen.Int[0, (1 << SignalInfo.Count) - 1], texts.Array[SignalInfo.TextCount]);
        await row.Array[1, 20].SampleAsync(
            async rows =>
            {
                var frames = rows.Select(r => ("s" + r.Item2, Frame(r.Item1, r.Item3, r.Item4, r.Item5, r.Item6))).ToArray();
                var read = await Recorded.ReadAsync(Write(AllSignals, frames));
                Assert.Equal(frames.Select(f => Row(f.Item1, f.Item2).Show()), read.Select(Recorded.Show));
            },
            iter: 2_000);
    }

    // The reference is another language's CSV module.
    [PeerFact("python3")]
    public async Task Write_HostileTexts_AreReadAlikeByPython()
    {
        using var folder = new TempFolder();
        var frame = new SignalFrame(DateTimeOffset.UnixEpoch);
        frame.Set(Signal.MotorLoad, 0.1 + 0.2);
        frame.Set(Signal.Mode, "a,\"b\" 'c'");
        frame.Set(Signal.Job, "Säge; \"\"鋸");
        await File.WriteAllTextAsync(folder.File("r.csv"), Write([Signal.MotorLoad, Signal.Mode, Signal.Job], ("left, \"big\" saw", frame)));

        var (exit, output) = await Peer.RunAsync("python3", ["-X", "utf8", "-c", "import csv,sys;print([tuple(r.items()) for r in csv.DictReader(open(sys.argv[1],encoding='utf-8',newline=''),strict=True)])", folder.File("r.csv")]);

        Assert.Equal(0, exit);
        Assert.Equal("[(('time', '1970-01-01T00:00:00.000Z'), ('saw', 'left, \"big\" saw'), ('motor_load', '0.30000000000000004'), ('mode', 'a,\"b\" \\'c\\''), ('job', 'Säge; \"\"鋸'))]", output);
    }

    [PeerFact("python3")]
    public async Task Read_WhatPythonWroteAndCompressed_IsTheSame()
    {
        const string Script =
            """
            import csv, gzip, io, sys
            def part(first, last, header):
                text = io.StringIO(newline='')
                w = csv.writer(text)
                if header: w.writerow(['time', 'saw', 'job', 'head_position', 'cutting'])
                for i in range(first, last):
                    w.writerow([f'2026-03-02T06:00:{i:02}.5+01:00', 'saw "1", left', 'a\r\nb,"' + str(i), repr(i / 7), i % 2 == 0])
                return gzip.compress(text.getvalue().encode('utf-8-sig' if header else 'utf-8'))
            open(sys.argv[1], 'wb').write(part(0, 20, True) + part(20, 40, False))
            """;
        using var folder = new TempFolder();
        var (exit, output) = await Peer.RunAsync("python3", ["-c", Script, folder.File("r.csv.gz")]);
        Assert.True(exit == 0, output);

        var problems = new RecordingProblems();
        await using var reader = await RecordingReader.OpenAsync(folder.File("r.csv.gz"), problems);
        var frames = await Recorded.ReadAsync(reader);

        Assert.Empty(problems.All);
        var expected = Enumerable.Range(0, 40).Select(i =>
        {
            var frame = new SignalFrame(new DateTimeOffset(2026, 3, 2, 5, 0, i, 500, TimeSpan.Zero));
            frame.Set(Signal.Job, string.Create(CultureInfo.InvariantCulture, $"ab,\"{i}"));
            frame.Set(Signal.HeadPosition, i / 7.0);
            frame.Set(Signal.Cutting, i % 2 == 0);
            return Row("saw \"1\", left", frame).Show();
        });
        Assert.Equal(expected, frames.Select(Recorded.Show));
        Assert.Equal(reader.Length, reader.Position);
    }

    private static RecordedFrame Row(string saw, SignalFrame frame)
    {
        var row = new RecordedFrame { Saw = saw };
        row.Frame = frame;
        return row;
    }

    private static string Write(IEnumerable<Signal> signals, params (string Saw, SignalFrame Frame)[] rows)
    {
        var stream = new MemoryStream();
        using (var writer = new RecordingWriter(stream, signals))
        {
            foreach (var (saw, frame) in rows)
                writer.Write(saw, frame);
        }

        return Encoding.UTF8.GetString(stream.ToArray());
    }

    private static SignalFrame Frame(long ticks, double[] numbers, long count, int present, string[] texts)
    {
        var frame = new SignalFrame(new DateTimeOffset(ticks, TimeSpan.Zero));
        foreach (var info in SignalInfo.All.Where(info => (present & (1 << (int)info.Signal)) != 0))
        {
            switch (info.Kind)
            {
                case SignalKind.Number:
                    frame.Set(info.Signal, numbers[(int)info.Signal % numbers.Length]);
                    break;
                case SignalKind.Flag:
                    frame.Set(info.Signal, (count & (1L << (int)info.Signal)) != 0);
                    break;
                case SignalKind.Integer:
                    frame.Set(info.Signal, count);
                    break;
                case SignalKind.Text:
                    frame.Set(info.Signal, texts[(int)info.Signal - SignalInfo.NumericCount]);
                    break;
            }
        }

        return frame;
    }
}
