using SawEdge.Core.Alarms;
using SawEdge.Gateway.Commands.Alarms;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Tests.Commands.Alarms;

public sealed class RuleWordsTests
{
    private static readonly AlarmRule Load = Rule(AlarmTopic.Signal, "motor_load", new AlarmTest { Comparison = AlarmComparison.Above, Limit = 5.5, ClearLimit = 5.5 });

    public static TheoryData<AlarmRule, string, string?> Rules => new()
    {
        { Load, "motor load above 5.5 kW", null },
        {
            Load with { Test = Load.Test with { ClearLimit = 5 }, OnDelay = TimeSpan.FromSeconds(30), OffDelay = TimeSpan.FromMinutes(2), While = SawStates.Cutting | SawStates.Stopped },
            "motor load above 5.5 kW for 30 s while the saw is stopped in a cut or cutting",
            "below 5 kW for 2 min"
        },
        {
            Rule(AlarmTopic.Gateway, "disk_free", new AlarmTest { Comparison = AlarmComparison.Below, Limit = 500, ClearLimit = 1000 }) with { OnDelay = TimeSpan.FromSeconds(90) },
            "disk free below 500 MB for 90 s",
            "above 1000 MB"
        },
        { Rule(AlarmTopic.Signal, "cutting", new AlarmTest { Comparison = AlarmComparison.IsNot }), "cutting is not so: the controller says the head feeds into the work", null },
        { Rule(AlarmTopic.Blade, "due", new AlarmTest { Comparison = AlarmComparison.Is }) with { Cuts = new CutCount(5, 5, 20) }, "due: the blade is dull, or will be soon, in 5 cuts in a row", "in 20 cuts in a row" },
        { Rule(AlarmTopic.Finding, "stall", new AlarmTest { Comparison = AlarmComparison.Is }), "stall: load high and the head not descending", null },
        {
            Rule(AlarmTopic.Cycle, "outcome", new AlarmTest { Comparison = AlarmComparison.Is, Words = ["aborted", "interrupted", "partial"] }) with { Cuts = new CutCount(3, 5, 2) },
            "outcome is aborted, interrupted or partial in 3 of the last 5 cuts",
            "in 2 cuts in a row"
        },
        { Rule(AlarmTopic.Cycle, "cutting_rate_cm2_min", new AlarmTest { Comparison = AlarmComparison.Below, Limit = 40, ClearLimit = 40 }), "cutting rate below 40 cm2/min", null },
        { Rule(AlarmTopic.Signal, "mode", new AlarmTest { Comparison = AlarmComparison.IsNot, Words = ["automatic"] }), "mode is not automatic", null },
        { Rule(AlarmTopic.Signal, "mode", new AlarmTest { Comparison = AlarmComparison.IsNot, Words = ["automatic", "manual"] }), "mode is none of automatic and manual", null },
        { Rule(AlarmTopic.Oee, "availability", new AlarmTest { Comparison = AlarmComparison.Below, Limit = 0.6, ClearLimit = 0.6 }), "availability below 60 % over the shift so far", null },
        { Rule(AlarmTopic.Oee, "availability", new AlarmTest { Comparison = AlarmComparison.Below, Limit = 0.6, ClearLimit = 0.65 }) with { Over = TimeSpan.FromHours(8) }, "availability below 60 % over the last 8 h", "above 65 %" },
    };

    [Theory]
    [MemberData(nameof(Rules))]
    public void Condition_SaysWhatRaisesAndWhatClears_WithUnits(AlarmRule rule, string condition, string? gone)
    {
        Assert.Equal(condition, RuleWords.Condition(rule, DisplayUnits.Metric));
        Assert.Equal(gone, RuleWords.Gone(rule, DisplayUnits.Metric));
    }

    [Fact]
    public void Condition_InInches_IsInHorsepower() =>
        Assert.Equal("motor load above 7.376 hp", RuleWords.Condition(Load, DisplayUnits.Inch));

    [Fact]
    public void Rest_NamesSubjectsHoursLatchAndSilencing()
    {
        var hours = new WorkingHours(TimeZoneInfo.Utc, [
            new WorkingSpan(new HashSet<DayOfWeek> { DayOfWeek.Monday, DayOfWeek.Tuesday, DayOfWeek.Wednesday, DayOfWeek.Saturday }, new TimeOnly(6, 0), new TimeOnly(14, 30)),
            new WorkingSpan(new HashSet<DayOfWeek> { DayOfWeek.Sunday, DayOfWeek.Saturday }, new TimeOnly(22, 0), TimeOnly.MinValue)]);
        var rule = Load with { Subjects = new HashSet<string> { "quay", "north" }, Hours = hours, Latch = true, Silences = true };
        Assert.Equal(
            [
                "only north and quay",
                "only Mon to Wed and Sat 06:00-14:30, Sat and Sun 22:00-24:00 (UTC)",
                "stays until somebody resets it",
                "while it is active, the other alarms of its saw are suppressed",
            ],
            RuleWords.Rest(rule));
        Assert.Empty(RuleWords.Rest(Load));
    }

    // Whatever rule the program brings must read as a sentence: no empty word, no NaN.
    [Fact]
    public void Condition_OfEachOwnRule_HasWords() => Assert.All(DefaultRules.All, rule =>
    {
        var words = RuleWords.Condition(rule, DisplayUnits.Metric);
        Assert.DoesNotContain("NaN", words, StringComparison.Ordinal);
        Assert.DoesNotContain("  ", words, StringComparison.Ordinal);
        Assert.Equal(words.Trim(), words);
        Assert.Equal("own rule", RuleOrigins.Of(rule));
        Assert.Equal("own rule, changed by the plant", RuleOrigins.Of(rule with { Latch = !rule.Latch }));
        Assert.Equal("the plant's rule", RuleOrigins.Of(rule with { Name = "another" }));
    });

    private static AlarmRule Rule(AlarmTopic topic, string variable, AlarmTest test) =>
        new() { Name = "r", Variable = AlarmVariables.Of(topic, variable), Test = test, Text = AlarmTemplate.Parse("x") };
}
