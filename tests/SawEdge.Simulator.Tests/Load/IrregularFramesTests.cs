using SawEdge.Core;
using SawEdge.Core.Cutting;
using SawEdge.Core.Load;
using SawEdge.Core.Materials;
using SawEdge.Simulator.Demo;
using SawEdge.Simulator.Saws;

namespace SawEdge.Simulator.Tests.Load;

/// <summary>Frames as a busy machine makes them: held up for seconds, then several at once.</summary>
public sealed class IrregularFramesTests
{
    [Fact]
    public void Push_FramesHeldUpAndThenAtOnce_FindNothingOnSawsWithoutFaults()
    {
        var start = new DateTimeOffset(2026, 3, 2, 6, 0, 0, TimeSpan.Zero);
        var found = new List<string>();
        for (var seed = 0; seed < 10; seed++)
        {
            var plant = Plant.Create(start.AddMinutes(seed), withFaults: false);
            var jobs = JobBook.Parse(plant.JobList, MaterialCatalogue.BuiltIn).Book;
            foreach (var saw in plant.Saws)
            {
                var random = new Random(seed);
                var machine = new VirtualSaw(saw.Options);
                var pipeline = new SawPipeline(new SawMachine { Name = saw.Name, RatedPowerKw = 5.5 }, jobs);
                var time = plant.Start;
                while (time < plant.Start.AddMinutes(25))
                {
                    time += random.NextDouble() switch
                    {
                        < 0.01 => TimeSpan.FromSeconds(0.4 + (8 * random.NextDouble())),
                        < 0.2 => TimeSpan.FromMilliseconds(1 + random.Next(20)),
                        _ => TimeSpan.FromMilliseconds(200),
                    };
                    machine.AdvanceTo(time);
                    if (!machine.TrySample(time, out var frame))
                        continue;
                    pipeline.Push(frame);
                    while (pipeline.TryTakeFinding(out var finding))
                        found.Add($"{seed} {saw.Name} {finding.At:HH:mm:ss.fff} {finding.Kind}: {finding.Words}");
                    while (pipeline.TryTake(out _))
                    {
                    }
                }
            }
        }

        Assert.Equal("", string.Join("\n", found));
    }
}
