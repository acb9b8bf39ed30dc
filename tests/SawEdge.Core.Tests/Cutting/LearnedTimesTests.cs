using System.Text.Json;
using MathNet.Numerics.Distributions;
using SawEdge.Core.Cutting;

namespace SawEdge.Core.Tests.Cutting;

public class LearnedTimesTests
{
    private static readonly LearnedKey Kind = new("Saw 1", "1045", "round", "bimetal 3/4 tpi");

    [Fact]
    public void Predict_without_history_is_the_standard_time()
    {
        var time = new LearnedTimes().Predict(Kind, 100);
        Assert.Equal(100, time.ExpectedS, 9);
        Assert.Equal(0, time.OwnShare);
        Assert.True(time.LowS < 50 && time.HighS > 200);
    }

    [Fact]
    public void Predict_moves_from_the_catalogue_to_the_saws_own_history()
    {
        var times = new LearnedTimes();
        var before = 100.0;
        for (var i = 1; i <= 40; i++)
        {
            times.Observe(Kind, 140, 100);
            var now = times.Predict(Kind, 100);
            Assert.True(now.ExpectedS > before - 1e-9 && now.ExpectedS < 140);
            before = now.ExpectedS;
        }

        var learned = times.Predict(Kind, 100);
        Assert.Equal(140, learned.ExpectedS, 0.5);
        Assert.True(learned.OwnShare > 0.99);

        // It scales with the standard time: a longer cut of the same kind.
        Assert.Equal(3 * learned.ExpectedS, times.Predict(Kind, 300).ExpectedS, 9);
    }

    [Fact]
    public void A_kind_without_history_leans_on_the_saws_other_kinds_not_on_other_saws()
    {
        var times = new LearnedTimes();
        foreach (var material in new[] { "1018", "4140", "304", "D2" })
        {
            for (var i = 0; i < 20; i++)
                times.Observe(Kind with { Material = material }, 150, 100);
        }

        Assert.InRange(times.Predict(Kind, 100).ExpectedS, 130, 150);
        Assert.Equal(100, times.Predict(Kind with { Saw = "Saw 2" }, 100).ExpectedS, 9);
    }

    [Fact]
    public void One_cut_far_out_hardly_moves_it()
    {
        var times = new LearnedTimes();
        var random = new Random(7);
        for (var i = 0; i < 50; i++)
            times.Observe(Kind, 100 * Math.Exp(Normal.Sample(random, 0, 0.05)), 100);
        var before = times.Predict(Kind, 100).ExpectedS;
        times.Observe(Kind, 900, 100);
        Assert.InRange(times.Predict(Kind, 100).ExpectedS / before, 0.99, 1.01);
    }

    [Fact]
    public void It_follows_a_saw_that_changes()
    {
        var times = new LearnedTimes();
        for (var i = 0; i < 300; i++)
            times.Observe(Kind, 100 + (i % 7), 100);
        for (var i = 0; i < 600; i++)
            times.Observe(Kind, 130 + (i % 7), 100);
        Assert.InRange(times.Predict(Kind, 100).ExpectedS, 129, 135);
    }

    [Theory]
    [InlineData(0.80)]
    [InlineData(0.95)]
    public void The_interval_holds_the_share_of_next_cuts_that_it_states(double coverage)
    {
        // Kinds scatter about a slow saw's mean; each cut is foretold before it is learned. Seeded: the same numbers every time.
        var random = new Random(20);
        var (held, total) = (0, 0);
        for (var saw = 0; saw < 40; saw++)
        {
            var times = new LearnedTimes();
            var ofSaw = Normal.Sample(random, 0, 0.2);
            for (var kind = 0; kind < 8; kind++)
            {
                var key = Kind with { Material = $"m{kind}" };
                var ofKind = ofSaw + Normal.Sample(random, 0, 0.25);
                for (var cut = 0; cut < 30; cut++)
                {
                    var standard = 30 + (random.NextDouble() * 600);
                    var actual = standard * Math.Exp(ofKind + Normal.Sample(random, 0, 0.08));
                    var time = times.Predict(key, standard, coverage);
                    held += actual >= time.LowS && actual <= time.HighS ? 1 : 0;
                    total++;
                    times.Observe(key, actual, standard);
                }
            }
        }

        Assert.InRange((double)held / total, coverage - 0.03, coverage + 0.03);
    }

    [Fact]
    public void Shrinkage_foretells_better_than_catalogue_or_own_mean_alone()
    {
        var random = new Random(3);
        var (shrunk, catalogue, own) = (0.0, 0.0, 0.0);
        for (var saw = 0; saw < 60; saw++)
        {
            var times = new LearnedTimes();
            for (var kind = 0; kind < 6; kind++)
            {
                var key = Kind with { Material = $"m{kind}" };
                var theta = Normal.Sample(random, 0.1, 0.15);
                var sum = 0.0;
                for (var cut = 0; cut < 4; cut++)
                {
                    var y = theta + Normal.Sample(random, 0, 0.15);
                    if (cut > 0)
                    {
                        shrunk += Math.Pow(Math.Log(times.Predict(key, 1).ExpectedS) - theta, 2);
                        catalogue += theta * theta;
                        own += Math.Pow((sum / cut) - theta, 2);
                    }

                    sum += y;
                    times.Observe(key, Math.Exp(y), 1);
                }
            }
        }

        Assert.True(shrunk < 0.9 * own && shrunk < 0.6 * catalogue, $"{shrunk:0.##} against {own:0.##} and {catalogue:0.##}");
    }

    [Fact]
    public void A_job_without_a_standard_is_foretold_from_its_own_cuts()
    {
        var times = new LearnedTimes();
        Assert.Null(times.PredictJob("Saw 1", "X-9"));
        times.ObserveJob("Saw 1", "X-9", 80);
        var first = times.PredictJob("Saw 1", "X-9")!;
        Assert.Equal(80, first.ExpectedS, 9);
        for (var i = 0; i < 20; i++)
            times.ObserveJob("Saw 1", "X-9", 78 + (i % 5));
        var later = times.PredictJob("Saw 1", "X-9")!;
        Assert.True(later.HighS - later.LowS < first.HighS - first.LowS);
        Assert.Null(times.PredictJob("Saw 2", "X-9"));
    }

    [Fact]
    public void State_survives_a_restart()
    {
        var times = new LearnedTimes();
        for (var i = 0; i < 10; i++)
        {
            times.Observe(Kind, 120 + i, 100);
            foreach (var material in new[] { "304", "D2", "1018", "4140", "316" })
                times.Observe(Kind with { Material = material }, 90 + i + (material.Length * 7.3), 100);
            times.ObserveJob("Saw 1", "X", 50 + i);
        }

        var text = JsonSerializer.Serialize(times.Save());
        var restored = LearnedTimes.Restore(JsonSerializer.Deserialize<LearnedState>(text)!);
        Assert.Equal(times.Predict(Kind, 100), restored.Predict(Kind, 100));
        Assert.Equal(times.PredictJob("Saw 1", "X"), restored.PredictJob("Saw 1", "X"));
        Assert.Equal(text, JsonSerializer.Serialize(restored.Save()));
    }

    [Fact]
    public void What_is_no_time_is_not_learned()
    {
        var times = new LearnedTimes();
        foreach (var bad in new[] { 0, -1, double.NaN, double.PositiveInfinity })
        {
            times.Observe(Kind, bad, 100);
            times.Observe(Kind, 100, bad);
            times.ObserveJob("Saw 1", "X", bad);
        }

        Assert.Empty(times.Save().Kinds);
        Assert.Empty(times.Save().Jobs);
    }
}
