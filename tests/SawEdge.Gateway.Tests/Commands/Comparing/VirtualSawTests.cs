using System.Text.Json;
using SawEdge.Core;
using SawEdge.Core.Cutting;
using SawEdge.Core.Load;
using SawEdge.Core.Materials;
using SawEdge.Gateway.History;
using SawEdge.Simulator.Saws;

namespace SawEdge.Gateway.Tests.Commands.Comparing;

/// <summary>A virtual saw whose blades are known to differ, through the pipeline of live operation into a history.</summary>
public sealed class VirtualSawTests
{
    private const string JobList = "job,material,section,blade\nfine,1045,round 80 mm,\"bimetal 4/6 tpi, kerf 1.6 mm\"\ncoarse,1045,round 80 mm,\"bimetal 3/4 tpi, kerf 1.6 mm\"\n";

    /// <summary>With the one type the saw runs at 0.95 of the catalogue's rate, with the other at 0.88: 7.4 % slower.</summary>
    [Fact]
    public async Task CompareAndStandards_FindWhatTheSawWasMadeToDo()
    {
        using var asked = new Asked();
        await PlayAsync(asked, ("fine", 0.95), ("coarse", 0.88));

        var json = JsonDocument.Parse(string.Join('\n', asked.Done("compare", "blades", "bimetal 4/6 tpi", "bimetal 3/4 tpi", "--json"))).RootElement;
        Assert.Equal("Blade type bimetal 3/4 tpi cut 7.4 % slower than blade type bimetal 4/6 tpi, 95 % interval 6.8 to 7.9 %, 183 against 184 cuts.", json.GetProperty("sentence").GetString());
        Assert.InRange(0.88 / 0.95, json.GetProperty("rate_ratio_low").GetDouble(), json.GetProperty("rate_ratio_high").GetDouble());
        Assert.True(json.GetProperty("of_these_blades_only").GetBoolean(), "there was one blade only");

        // The standards in the records are those that the configuration gives now: nothing is converted.
        Assert.Equal(0, json.GetProperty("converted_to_present_standards").GetInt32());
        var kinds = JsonDocument.Parse(string.Join('\n', asked.Done("standards", "--json"))).RootElement.GetProperty("kinds").EnumerateArray().ToList();
        Assert.Equal(["bimetal 3/4 tpi", "bimetal 4/6 tpi"], kinds.Select(kind => kind.GetProperty("blade_type").GetString()));
        // The saw was told its rate; how it comes down into the cut and out of it adds to the times of both alike.
        var (coarse, fine) = (kinds[0].GetProperty("typical_ratio").GetDouble(), kinds[1].GetProperty("typical_ratio").GetDouble());
        Assert.InRange(coarse, 1 / 0.88, 1.03 / 0.88);
        Assert.InRange(fine, 1 / 0.95, 1.03 / 0.95);
        Assert.Equal(0.95 / 0.88, coarse / fine, 0.01);
        Assert.All(kinds, kind => Assert.True(kind.GetProperty("cuts").GetInt32() > 50));
    }

    private static async Task PlayAsync(Asked asked, params (string Job, double Pace)[] jobs)
    {
        var book = JobBook.Parse(JobList, MaterialCatalogue.BuiltIn).Book;
        var machine = new MachineProfile { Name = "north" };
        var start = new DateTimeOffset(2026, 3, 4, 6, 0, 0, TimeSpan.Zero);
        var saw = new VirtualSaw(new VirtualSawOptions
        {
            Machine = machine,
            Jobs = [.. jobs.Select(job => Virtual(book.Find(job.Job)!, machine, job.Pace))],
            Seed = 77,
            Start = start,
            Blade = new BladeModel { StartAreaM2 = 2, LifeM2 = 100 },
            Noise = new NoiseModel { TransducerLagS = 0 },
            Work = new WorkPattern { StopChance = 0.02, StopS = 120, BarChangeS = 60, JobChangeS = 120 },
        });
        var pipeline = new SawPipeline(new SawMachine { Name = "north" }, book, null, new LoadSettings());
        await using var history = asked.Open();
        for (var at = start; at < start.AddHours(12); at = at.AddSeconds(1))
        {
            if (saw.TrySample(at, out var frame))
                pipeline.Push(frame);
            while (pipeline.TryTake(out var cut))
                await history.Writer.AppendAsync(new FinishedCycle { Record = cut.Record, Profile = cut.Profile, Evidence = cut.Evidence, Assessment = cut.Assessment }, CancellationToken.None);
        }
    }

    private static VirtualJob Virtual(CutJob job, MachineProfile machine, double pace)
    {
        var standard = CuttingModel.Standard(job, machine.ToSawMachine());
        return new VirtualJob
        {
            Id = job.JobId,
            Section = job.Section,
            Material = new VirtualMaterial(job.Material.Name, job.Material.Kc11NMm2.Value, job.Material.Mc.Value),
            RateCm2Min = standard.RateCm2Min * pace,
            BladeSpeedMMin = Math.Round(CuttingModel.RecommendedSpeedMMin(job, job.Blade!)),
            PartLengthMm = 200,
            Quantity = 12,
        };
    }
}
