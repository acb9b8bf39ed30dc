using System.Text.Json;
using SawEdge.Core;
using SawEdge.Core.Load;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Tests.History;

namespace SawEdge.Gateway.Tests.Commands.Explain;

public sealed class ExplainCommandTests
{
    [Fact]
    public async Task Explain_AnUnusualCut_SaysEveryNumberInWords()
    {
        using var asked = new Asked();
        await using var history = asked.Open();
        await history.Writer.AppendAsync(Row(1), CancellationToken.None);

        var said = string.Join(Environment.NewLine, asked.Done("explain", "north-000001", "--ascii"));

        foreach (var expected in new[]
        {
            "  contact to breakthrough             75.8 s",
            "  standard                            70.5 s; it took 1.08 times as long",
            "  expected of this saw                72.1 s, from the standard and its own cuts before this",
            "                                      one; 95 of 100 such cuts lie between 68 s and 76 s",
            "  energy above idle                   40.1 kJ",
            "  energy expected of such a cut       34 kJ",
            "  3.3: one normal cut in 1,800 looks this odd. A cut is called unusual from 3.1 on, so this one",
            "  is UNUSUAL.",
            "  Level: specific energy",
            "    measured                          +22.1 % against the model",
            "    expected                          +1.0 %",
            "    such cuts scatter by              5.1 % (one standard deviation)",
            "    so this one lies out by           +3.8 standard deviations",
            "    how rare that is                  one normal cut in 10,000 is as far out or further (score",
            "    that stands on                    321 accepted cuts of this saw",
            "    measured                          0.84 kW with the blade in air",
            "    such cuts scatter by              0.02 kW (one standard deviation)",
            "    measured                          1.50 times its neighbours in the load's rhythm",
            "  The saw learned from this cut: nothing stood out.",
            "  - 06:00:00Z The load was high and the head stood still for 2 s.",
            "  - The load never changes.",
            "  1. dull blade (100 %)",
            "     care:   caution",
            "  forecast                            2 m2 left (at least 1.5 m2), about 200 cuts like the last",
            "Load along the depth",
            "lock out and tag out",
        })
            Assert.Contains(expected, said, StringComparison.Ordinal);
        Assert.All(said, c => Assert.True(c is (>= ' ' and <= '~') or '\n' or '\r', $"'{c}' is no plain ASCII"));
    }

    [Fact]
    public async Task Explain_ASaw_IsItsLastCut_OrTheOneAtATime()
    {
        using var asked = new Asked();
        await using var history = asked.Open();
        for (var i = 1; i <= 3; i++)
            await history.Writer.AppendAsync(Row(i), CancellationToken.None);

        Assert.Equal("north-000003", asked.Done("explain", "north")[0]);
        Assert.Equal("north-000002", asked.Done("explain", "north", "2026-03-02 07:05")[0]);
        Assert.Equal("north has no cycle that began at 2026-03-02 06:00 or before.", asked.Refused("explain", "north", "2026-03-02 06:00"));
        Assert.Equal("There is no cycle and no saw 'nort'; did you mean 'north'?", asked.Refused("explain", "nort"));
        Assert.Equal("quay has no cycle yet.", asked.Refused("explain", "quay"));
        Assert.StartsWith("the time 'noon' is no time;", asked.Refused("explain", "north", "noon"), StringComparison.Ordinal);
    }

    [Fact]
    public async Task Explain_InInches_ShowsHorsepowerAndFeet()
    {
        using var asked = new Asked();
        await using var history = asked.Open();
        await history.Writer.AppendAsync(Row(1), CancellationToken.None);

        var said = asked.Done("explain", "north", "--units", "inch");

        Assert.Contains("  mean in the cut                     3.017 hp", said);
        Assert.Contains(said, line => line.EndsWith("hp", StringComparison.Ordinal) && line.StartsWith("         ", StringComparison.Ordinal));
        Assert.Contains(said, line => line.StartsWith("      in ░", StringComparison.Ordinal));
    }

    [Fact]
    public async Task Explain_AsJson_HoldsTheRecordAndTheAssessment()
    {
        using var asked = new Asked();
        await using var history = asked.Open();
        await history.Writer.AppendAsync(Row(1), CancellationToken.None);

        var json = JsonDocument.Parse(string.Join('\n', asked.Done("explain", "north", "--format", "json"))).RootElement;

        Assert.Equal(CycleColumns.All.Select(column => column.Name), json.GetProperty("record").EnumerateObject().Select(member => member.Name));
        Assert.Equal(75.802, json.GetProperty("record").GetProperty("cut_time_s").GetDouble());
        Assert.Equal(JsonValueKind.Null, json.GetProperty("record").GetProperty("blade").ValueKind);
        var assessment = json.GetProperty("assessment");
        Assert.True(assessment.GetProperty("unusual").GetBoolean());
        Assert.Equal(1e-4, assessment.GetProperty("views")[0].GetProperty("p_value").GetDouble());
        Assert.Equal("stall", assessment.GetProperty("findings")[0].GetProperty("kind").GetString());
        Assert.Equal(JsonValueKind.Null, assessment.GetProperty("findings")[0].GetProperty("limit").ValueKind);
        Assert.Equal(48, assessment.GetProperty("profile").GetProperty("load_kw").GetArrayLength());
        Assert.Equal(JsonValueKind.Null, assessment.GetProperty("wear").GetProperty("high_m2").ValueKind);
        Assert.InRange(json.GetProperty("expected_energy_kj").GetDouble(), 33.99, 34.01);
    }

    [Fact]
    public async Task Explain_ACutWithoutAnAssessment_SaysSo()
    {
        using var asked = new Asked();
        await using var history = asked.Open();
        await history.AppendAsync(Cycles.Bare() with { Saw = "north" });

        var said = asked.Done("explain", "bare");

        Assert.Contains("  Nothing is stored: this cut was recorded before the load score was computed, or that was", said);
        Assert.Contains("  contact to breakthrough             not known: its ends were not both seen", said);
        Assert.Equal(JsonValueKind.Null, JsonDocument.Parse(string.Join('\n', asked.Done("explain", "bare", "--format", "json"))).RootElement.GetProperty("assessment").ValueKind);
    }

    [Fact]
    public async Task Explain_ACutWhoseDetailsWereClearedAway_SaysSo_AndItsScore()
    {
        using var asked = new Asked();
        await using var history = asked.Open();
        await history.AppendAsync(Cycles.Make("north", 1) with { LoadScore = 3.4449 });

        var said = asked.Done("explain", "north-000001");

        Assert.Contains("  It was 3.4. What it was made of was cleared away to keep the history within its room.", said);
    }

    private static FinishedCycle Row(int number)
    {
        float[] Level(float value) => [.. Enumerable.Repeat(value, 48)];
        var record = Cycles.Make("north", number) with { CutTimeRatio = 1.0752, LearnedCutTimeS = 72.1, LearnedLowS = 68, LearnedHighS = 76, CuttingEnergyKj = 40.1, IdleLoadKw = 0.5 };

        // 48 bins of one second each, 48 x x = 34 kJ above idle.
        var profile = Cycles.Profile(1) with { Seconds = Level(1) };
        var row = Evidences.Row(record);
        var high = Level(1.4f);
        high[10] = 3;
        return row with
        {
            Profile = profile,
            Evidence = row.Evidence! with { Cut = row.Evidence.Cut with { Profile = profile, DepthMm = 100 } },
            Assessment = Evidences.Assessment() with
            {
                Views =
                [
                    .. Evidences.Assessment().Views,
                    new ViewScore { View = LoadView.Level, What = "idle load", Value = 0.84, Expected = 0.8, Spread = 0.02, Statistic = 2, PValue = 0.05, History = 40 },
                    new ViewScore { View = LoadView.Loop, What = "blade loop", Value = Math.Log(1.5), Expected = 0, Spread = 1, Statistic = 1, PValue = 0.3, History = 40 },
                ],
                Profile = new ResidualProfile(true, high, Level(0.5f + (34f / 48)), Level(1), Level(1.4f), Level(0)),
            },
        };
    }
}
