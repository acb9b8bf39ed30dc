using SawEdge.Core;
using SawEdge.Core.Cutting;
using SawEdge.Core.Materials;
using SawEdge.Core.Sections;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition.Sparkplug;
using SawEdge.Gateway.Configuration;
using SawEdge.Simulator.Saws;

namespace SawEdge.Gateway.Tests.Acquisition.Sparkplug;

/// <summary>Cuts whose signals come as changes of metrics are the same cuts.</summary>
public sealed class SparkplugCutTests
{
    private const int Cycles = 6;

    private static readonly Signal[] Mapped = [Signal.HeadPosition, Signal.MotorLoad, Signal.BladeSpeed, Signal.CycleActive, Signal.Cutting, Signal.BladeRunning, Signal.PartCount, Signal.Job];

    [Fact]
    public void Cuts_OverSparkplug_AreThoseOfTheFramesThemselves()
    {
        var direct = Pipeline();
        var host = Host(rebirth: false);
        var sent = 0;
        var frames = Play(host, (frame, changes) =>
        {
            direct.Push(frame);
            host.Send("DDATA", "saw-1", changes);
            sent += changes.Length;
        });

        Assert.Empty(host.Log.Entries);
        Assert.True(sent < frames * Mapped.Length / 2, "only what changed was sent");
        AreSame(Taken(direct), Cut(host));
    }

    /// <summary>A message lost in each cut, and a node that is born again when it is asked to: two seconds are not known, and the cut is the same.</summary>
    [Fact]
    public void Cuts_WithLostMessages_AreTheSameWhereTheNodeIsAskedForItsBirths()
    {
        var direct = Pipeline();
        var host = Host(rebirth: true);
        var (inCut, lost, answered) = (0, 0, 0);
        Play(host, (frame, changes) =>
        {
            direct.Push(frame);
            inCut = frame.Flag(Signal.Cutting) == true ? inCut + 1 : 0;
            if (inCut == 20)
            {
                host.Next(changes);
                lost++;
            }
            else
            {
                host.Send("DDATA", "saw-1", changes);
            }

            if (host.Published.Count == answered)
                return;
            answered = host.Published.Count;
            host.NodeBirth();
            host.Send("DBIRTH", "saw-1", [.. Mapped.Select(signal => MetricOf(signal, frame, isBirth: true)).OfType<Metric>()]);
        });

        Assert.True(lost >= Cycles - 1);
        Assert.Equal(lost, answered);
        AreSame(Taken(direct), Cut(host));
    }

    private static HostBench Host(bool rebirth)
    {
        var saw = HostBench.Saw();
        var source = (SparkplugSourceOptions)saw.Source;
        return new HostBench(
            new SparkplugHostOptions { Rebirth = rebirth },
            saw with { Interval = TimeSpan.FromMilliseconds(100), Source = source with { Signals = [.. Mapped.Select(signal => new SparkplugMapping { Signal = signal, Metric = SignalInfo.Of(signal).Name })] } });
    }

    private static int Play(HostBench host, Action<SignalFrame, Metric[]> send)
    {
        var saw = new VirtualSaw(new VirtualSawOptions
        {
            Machine = new MachineProfile { Name = "saw-1", RestHeightMm = 200 },
            Jobs = [new VirtualJob { Id = "RB-1", Section = SectionFactory.Rectangle(60, 30), Material = new VirtualMaterial("1045", 1800, 0.25), RateCm2Min = 60, BladeSpeedMMin = 70, PartLengthMm = 120, Quantity = 1000 }],
            Seed = 3,
            Start = HostBench.Start,
            Work = new WorkPattern { StopChance = 0 },
        });
        var frames = 0;
        var before = default(SignalFrame);
        for (var time = HostBench.Start; saw.Truth.Cycle <= Cycles; time += TimeSpan.FromMilliseconds(100), host.Advance(100))
        {
            saw.AdvanceTo(time);
            if (!saw.TrySample(time, out var frame))
                continue;
            if (frames++ == 0)
            {
                host.NodeBirth();
                host.Send("DBIRTH", "saw-1", [.. Mapped.Select(signal => MetricOf(signal, frame, isBirth: true)).OfType<Metric>()]);
                send(frame, []);
            }
            else
            {
                send(frame, [.. Mapped.Where(signal => frame.QualityOf(signal) != before.QualityOf(signal) || !frame.Number(signal).Equals(before.Number(signal)) || frame.Text(signal) != before.Text(signal)).Select(signal => MetricOf(signal, frame, isBirth: false)).OfType<Metric>()]);
            }

            before = frame;
        }

        return frames;
    }

    private static Metric? MetricOf(Signal signal, in SignalFrame frame, bool isBirth)
    {
        var info = SignalInfo.Of(signal);
        var (type, value) = info.Kind switch
        {
            SignalKind.Flag => (SparkplugDataType.Boolean, frame.Flag(signal)),
            SignalKind.Integer => (SparkplugDataType.UInt32, frame.Has(signal) ? (uint)frame.Number(signal) : null),
            SignalKind.Text => (SparkplugDataType.String, (object?)frame.Text(signal)),
            _ => (SparkplugDataType.Double, frame.Has(signal) ? frame.Number(signal) : null),
        };
        return new Metric(isBirth ? info.Name : null, value, isBirth ? type : SparkplugDataType.Unknown) { Alias = (ulong)signal + 1, IsNull = value is null };
    }

    private static SawPipeline Pipeline() => new(new SawMachine { Name = "saw-1" }, JobBook.Parse("job,material,section,part_length,standard\nRB-1,1045,rect 60 x 30 mm,120 mm,60 cm2/min\n", MaterialCatalogue.BuiltIn).Book);

    private static List<FinishedCut> Cut(HostBench host)
    {
        var pipeline = Pipeline();
        foreach (var frame in host.Frames())
            pipeline.Push(frame);
        return Taken(pipeline);
    }

    private static List<FinishedCut> Taken(SawPipeline pipeline)
    {
        pipeline.Complete();
        var cuts = new List<FinishedCut>();
        while (pipeline.TryTake(out var cut))
            cuts.Add(cut);
        return cuts;
    }

    private static void AreSame(List<FinishedCut> expected, List<FinishedCut> actual)
    {
        Assert.True(expected.Count >= Cycles - 1);
        Assert.Equal(expected.Select(cut => (cut.Record.Outcome, cut.Record.Job)), actual.Select(cut => (cut.Record.Outcome, cut.Record.Job)));
        Assert.All(expected.Zip(actual), pair =>
        {
            Assert.InRange((pair.Second.Record.StartedAt - pair.First.Record.StartedAt).TotalSeconds, -0.11, 0.11);
            Assert.InRange(pair.Second.Record.CutTimeS!.Value - pair.First.Record.CutTimeS!.Value, -0.11, 0.11);
        });
    }
}
