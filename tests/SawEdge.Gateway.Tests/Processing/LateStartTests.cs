using SawEdge.Core;
using SawEdge.Core.Cutting;
using SawEdge.Core.Cycles;
using SawEdge.Core.Materials;
using SawEdge.Simulator.Demo;
using SawEdge.Simulator.Recordings;
using SawEdge.Simulator.Saws;

namespace SawEdge.Gateway.Tests.Processing;

/// <summary>A gateway that is started while a saw is in the stock: a round, a tube whose load rises again inside, a flat.</summary>
public sealed class LateStartTests
{
    public static TheoryData<int, double> Starts()
    {
        var data = new TheoryData<int, double>();
        foreach (var saw in new[] { 0, 1, 2 })
        {
            foreach (var share in new[] { 0.02, 0.1, 0.3, 0.5, 0.7, 0.85, 0.95 })
                data.Add(saw, share);
        }

        return data;
    }

    [Theory]
    [MemberData(nameof(Starts))]
    public void FirstFrameInTheStock_ClaimsNoCutTime(int saw, double share)
    {
        var plant = Plant.Create(new DateTimeOffset(2026, 3, 2, 6, 0, 0, TimeSpan.Zero), withFaults: false);
        var options = plant.Saws[saw].Options;
        var virtualSaw = new VirtualSaw(options);
        var truth = virtualSaw.Truth;
        var from = truth.Contact!.Value + ((truth.Breakthrough!.Value - truth.Contact.Value) * share);
        var pipeline = new SawPipeline(options.Machine.ToSawMachine(), JobBook.Parse(plant.JobList, MaterialCatalogue.BuiltIn).Book);
        var frames = RecordingGenerator.Frames(virtualSaw, new RecordingOptions { Cycles = 1, Interval = TimeSpan.FromMilliseconds(200) });
        foreach (var frame in frames.Where(frame => frame.Time > from))
            pipeline.Push(frame);
        pipeline.Complete();

        Assert.True(pipeline.TryTake(out var cut));
        Assert.Equal(CutOutcome.UnobservedStart, cut.Record.Outcome);
        Assert.Null(cut.Record.CutStartedAt);
        Assert.Null(cut.Record.CutTimeS);
        Assert.Equal(truth.Breakthrough.Value, cut.Record.CutEndedAt!.Value, TimeSpan.FromSeconds(0.5));
        Assert.False(pipeline.TryTake(out _));
    }
}
