using System.Text.Json;
using SawEdge.Gateway.Tests.Configuration;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Commands.Estimate;

public sealed class EstimateCommandTests : IDisposable
{
    private static readonly string[] Whole =
    [
        "-m", "1045", "-s", "round 100 mm", "--blade", "bimetal 3/4 tpi, kerf 1.6 mm", "--part-length", "250 mm", "-n", "100", "--bar-length", "6 m", "--trim", "10 mm",
        "--rated-power", "5.5 kW", "--idle-power", "0.9 kW", "--maximum-descent", "600 mm/min", "--rest-height", "450 mm", "--approach-rate", "3 m/min", "--return-rate", "4.5 m/min",
        "--shuttle-stroke", "200 mm", "--stroke-time", "3 s", "--clamp-time", "1 s", "--unclamp-time", "0.5 s", "--capacity-height", "400 mm", "--capacity-width", "500 mm",
    ];

    private readonly TempFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Fact]
    public void Every_number_follows_from_the_factors_beside_it()
    {
        var answer = Estimated.Json(Whole);
        Assert.Equal(Product(answer, "band_speed"), answer.Number("band_speed", "recommended_m_min"), 6);
        Assert.Equal(Product(answer, "cutting_rate"), answer.Number("cutting_rate", "rate_cm2_min"), 6);
        var cut = answer.Number("cut_time", "cut_time_s");
        Assert.Equal(Math.PI * 25 / cut * 60, answer.Number("cutting_rate", "mean_cm2_min"), 5);
        Assert.Equal(cut + answer.Factors("cycle_time").Sum(f => f.GetProperty("value").GetDouble()), answer.Number("cycle_time", "cycle_time_s"), 5);

        // 250 mm with a stroke of 200 mm are 2 strokes; the head goes 350 mm down at 50 mm/s and 450 mm up at 75 mm/s.
        Assert.Equal(6 + 1 + 0.5 + 7 + 6, answer.Number("cycle_time", "handling_time_s"), 6);

        var (pitch, speed) = (answer.Factor("feed_per_tooth", "tooth_pitch"), answer.Factor("feed_per_tooth", "blade_speed"));
        Assert.Equal(25.4 / 3.5, pitch, 6);
        Assert.Equal(100 / cut * 60 * pitch / (1000 * speed), answer.Number("feed_per_tooth", "mean_mm"), 7);
        Assert.Equal(100 / pitch, answer.Number("teeth_in_the_cut", "most"), 6);
        Assert.Equal(25 * Math.PI / pitch, answer.Number("teeth_in_the_cut", "mean"), 6);
    }

    [Fact]
    public void The_peak_power_is_kienzles_at_the_widest_place()
    {
        var answer = Estimated.Json(Whole);
        var rate = answer.Number("cutting_rate", "rate_cm2_min");
        var feed = rate * 100 / 100 * answer.Factor("feed_per_tooth", "tooth_pitch") / (1000 * answer.Factor("feed_per_tooth", "blade_speed"));
        var kc = answer.Factor("motor_power", "kc11") * Math.Pow(feed, -answer.Factor("motor_power", "mc"));
        var peak = 0.9 + (kc * 1.6 * rate * 100 / (60e6 * 0.8));
        Assert.Equal(peak, answer.Number("motor_power", "peak_kw"), 6);
        Assert.Equal(peak / 5.5, answer.Number("motor_power", "peak_share_of_rated"), 6);
        Assert.InRange(answer.Number("motor_power", "mean_kw"), 0.9, peak);
    }

    [Fact]
    public void A_bar_gives_what_a_person_reckons()
    {
        // (6000 - 10 - 1.6) / 251.6 = 23.8: 23 parts, and 5988.4 - 23 x 251.6 = 201.6 mm are left. 100 parts are 4 bars and 8 parts of a fifth.
        var answer = Estimated.Json(Whole);
        Assert.Equal(23, answer.Number("bar", "parts"));
        Assert.Equal(24, answer.Number("bar", "cuts"));
        Assert.Equal(201.6, answer.Number("bar", "remnant_mm"), 6);
        Assert.Equal(5, answer.Number("quantity", "bars"));
        Assert.Equal(105, answer.Number("quantity", "cuts"));
        var (cut, handling) = (answer.Number("cut_time", "cut_time_s"), answer.Number("cycle_time", "handling_time_s"));

        // A trim cut of 10 mm needs one stroke of the shuttle where a part needs two.
        Assert.Equal((105 * cut) + (100 * handling) + (5 * (handling - 3)), answer.Number("quantity", "total_time_s"), 3);
        Assert.Equal(105 * cut, answer.Number("quantity", "total_cut_time_s"), 3);
    }

    [Fact]
    public void Every_factor_says_how_it_is_founded_and_where_it_comes_from()
    {
        var answer = Estimated.Json(Whole);
        var factors = answer.EnumerateObject().Where(p => p.Value.ValueKind == JsonValueKind.Object).SelectMany(p => answer.Factors(p.Name)).ToList();
        Assert.True(factors.Count > 35);
        Assert.All(factors, f =>
        {
            Assert.Contains(f.GetProperty("provenance").GetString(), new[] { "published", "published_uncertain", "derived", "common_practice", "from_memory", "plant", "measured" });
            Assert.NotEqual("", f.GetProperty("source").GetString());
        });
        Assert.Contains("starting point", answer.GetProperty("caution").GetString(), StringComparison.Ordinal);
    }

    [Fact]
    public void What_is_missing_for_the_cycle_is_named_with_its_option_and_nothing_is_guessed()
    {
        var answer = Estimated.Json("-m", "304", "-s", "IPE 200, web flat");
        Assert.Equal(JsonValueKind.Null, answer.GetProperty("cycle_time").GetProperty("cycle_time_s").ValueKind);
        Assert.Equal(JsonValueKind.Null, answer.GetProperty("motor_power").GetProperty("peak_share_of_rated").ValueKind);
        var help = string.Join('\n', Estimated.Run("--help").Output);
        var missing = answer.GetProperty("cycle_time").GetProperty("missing").EnumerateArray().Select(m => m.GetString()!).ToList();
        Assert.Equal(8, missing.Count);
        Assert.All(missing, m => Assert.Contains(m[(m.IndexOf('(', StringComparison.Ordinal) + 1)..^1] + " <", help, StringComparison.Ordinal));
        Assert.False(answer.TryGetProperty("bar", out _));
        Assert.False(answer.TryGetProperty("quantity", out _));
        Assert.False(answer.GetProperty("blade_is_stated").GetBoolean());
    }

    [Fact]
    public void Inches_and_millimetres_give_the_same_answer()
    {
        var inch = Estimated.Json("-m", "1045", "-s", "tube 4 in x 1/4 in wall", "--part-length", "10 in", "--bar-length", "20 ft", "--trim", "1/2 in", "--rated-power", "7.5 hp", "--blade-speed", "240 ft/min", "--blade-area", "10 in2", "-n", "9");
        var metric = Estimated.Json("-m", "1045", "-s", "tube 101.6 x 6.35 mm wall", "--part-length", "254 mm", "--bar-length", "6096 mm", "--trim", "12.7 mm", "--rated-power", "5.59274903686728 kW", "--blade-speed", "73.152 m/min", "--blade-area", "64.516 cm2", "-n", "9");
        Assert.Equal(metric.GetRawText(), inch.GetRawText());
    }

    [Theory]
    [InlineData("metric", " mm ")]
    [InlineData("inch", " in ")]
    public void The_text_stays_within_a_terminal_and_ends_with_the_caution(string units, string unit)
    {
        foreach (var question in new string[][] { Whole, ["-m", "1.4301", "-s", "bundle 2 x 3 of tube 2 in x 1/8 in wall, mitre 30 deg", "--part-length", "10 in", "--bar-length", "20 ft", "-n", "50", "--blade-area", "0 in2"] })
        {
            var (code, output, error) = Estimated.Run([.. question, "--units", units]);
            Assert.Equal(0, code);
            Assert.Empty(error);
            Assert.All(output, line => Assert.True(line.Length <= 98, line));
            Assert.Contains(output, line => (line + " ").Contains(unit, StringComparison.Ordinal));
            Assert.StartsWith("A catalogue rate is a starting point", output[^1], StringComparison.Ordinal);
        }
    }

    [Fact]
    public void A_saw_of_the_configuration_serves_and_options_stand_above_it()
    {
        var file = Config("{ \"ratedPower\": \"4 kW\", \"capacityHeight\": \"300 mm\", \"capacityWidth\": \"300 mm\" }");
        var answer = Estimated.Json("-m", "1045", "-s", "round 60 mm", "--config", file, "--saw", "saw-1");
        Assert.Equal(4, answer.Factor("motor_power", "rated_power"));
        Assert.Equal("saw-1", answer.GetProperty("saw").GetString());
        Assert.Equal("settings of saw-1", Source(answer, "rated_power"));
        answer = Estimated.Json("-m", "1045", "-s", "round 60 mm", "--config", file, "--saw", "saw-1", "--rated-power", "8 kW");
        Assert.Equal(8, answer.Factor("motor_power", "rated_power"));
        Assert.Equal("with the question", Source(answer, "rated_power"));
        Assert.Equal(["--section: round 400 mm has a height of 400 mm; saw-1 takes 300 mm at most.", "--section: round 400 mm has a width of 400 mm; saw-1 takes 300 mm at most."],
            Estimated.Refused("-m", "1045", "-s", "round 400 mm", "--config", file, "--saw", "saw-1"));
        Assert.Contains("did you mean 'saw-1'?", Assert.Single(Estimated.Refused("-m", "1045", "-s", "round 60 mm", "--config", file, "--saw", "saw1")), StringComparison.Ordinal);
        Assert.Contains("one of saw-1, saw-2", Assert.Single(Estimated.Refused("-m", "1045", "-s", "round 60 mm", "--config", file)), StringComparison.Ordinal);
    }

    [Fact]
    public void The_plants_own_catalogue_serves_and_its_mistakes_are_told()
    {
        var own = _folder.File("own.json");
        File.WriteAllText(own, "{ \"materials\": [ { \"name\": \"Spring 7\", \"like\": \"5160\", \"rate\": \"33 cm2/min\", \"source\": \"trial of March\" } ] }");
        var answer = Estimated.Json("-m", "spring 7", "-s", "round 60 mm", "--catalogue", own);
        Assert.Equal(33, answer.Factor("cutting_rate", "reference_rate"));
        Assert.Contains("trial of March", answer.Factors("cutting_rate")[0].GetProperty("source").GetString(), StringComparison.Ordinal);
        File.WriteAllText(own, "{ \"materials\": [ { \"name\": \"1045\", \"rate\": \"fast\" } ] }");
        var problem = Assert.Single(Estimated.Refused("-m", "1045", "-s", "round 60 mm", "--catalogue", own));
        Assert.StartsWith($"--catalogue: {own}, materials[0].rate: ", problem, StringComparison.Ordinal);
    }

    [Fact]
    public void The_plants_own_standard_stands_above_the_catalogue()
    {
        var answer = Estimated.Json("-m", "1045", "-s", "rect 100 x 50 mm", "--standard", "75 s");
        Assert.Equal(75, answer.Number("cut_time", "cut_time_s"), 9);
        Assert.Equal(40, answer.Number("cutting_rate", "mean_cm2_min"), 9);
        var factor = Assert.Single(answer.Factors("cutting_rate"));
        Assert.Equal(("plant_time", "with the question"), (factor.GetProperty("name").GetString(), factor.GetProperty("source").GetString()));
    }

    [Fact]
    public void A_motor_that_is_too_small_is_told_as_advice() =>
        Assert.Contains(Estimated.Json("-m", "1045", "-s", "round 200 mm", "--rated-power", "0.5 kW").GetProperty("advice").EnumerateArray(), a => a.GetString()!.Contains("more than its rated power", StringComparison.Ordinal));

    private string Config(string machine)
    {
        var file = _folder.File("sawedge.json");
        File.WriteAllText(file, Sample.With("saws[0].machine", machine));
        return file;
    }

    private static double Product(JsonElement answer, string item) => answer.Factors(item).Aggregate(1.0, (product, f) => product * f.GetProperty("value").GetDouble());

    private static string? Source(JsonElement answer, string factor) =>
        answer.Factors("motor_power").Single(f => f.GetProperty("name").GetString() == factor).GetProperty("source").GetString();
}
