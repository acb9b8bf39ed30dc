using SawEdge.Core.Alarms;
using SawEdge.Core.Tests.Cycles;

namespace SawEdge.Core.Tests.Alarms;

public sealed class AlarmFactsTests
{
    [Theory]
    [InlineData(AlarmTopic.Signal, "motor_load", "head_position")]
    [InlineData(AlarmTopic.Finding, "stall", "finding")]
    [InlineData(AlarmTopic.Cycle, "unusual", "evidence")]
    [InlineData(AlarmTopic.Cycle, "cut_time_s", "cut_time_ratio")]
    [InlineData(AlarmTopic.Blade, "due", "area_left_low")]
    [InlineData(AlarmTopic.Oee, "oee", "availability")]
    [InlineData(AlarmTopic.Communication, "stale", "signals")]
    [InlineData(AlarmTopic.Gateway, "disk_free", "value")]
    public void NamesFor_AVariable_HoldsWhatItsTextCanNameAndTheCommonNames(AlarmTopic topic, string variable, string name)
    {
        var names = AlarmFacts.NamesFor(AlarmVariables.Of(topic, variable));
        Assert.Contains(name, names);
        Assert.Equal(AlarmFacts.Common, names.Take(AlarmFacts.Common.Count));
        Assert.Equal(names.Count, names.Distinct().Count());
        Assert.DoesNotContain("no_such_name", names);
    }

    [Fact]
    public void NamesFor_EveryVariable_IsThere() => Assert.All(AlarmVariables.All, variable => Assert.NotEmpty(AlarmFacts.NamesFor(variable)));

    [Fact]
    public void Of_AChange_HoldsTheCommonNamesAndWhatItBrings()
    {
        var rule = MadeRules.Load(AlarmComparison.Above, 10, 8);
        var change = new ConditionChange
        {
            Rule = "r",
            Subject = AlarmSubject.Saw("Saw 1"),
            At = SawScript.At(0),
            Holds = true,
            Value = 11,
            Limit = 10,
            Facts = new Dictionary<string, AlarmFact> { ["limit"] = AlarmFact.Number(9, "kW"), ["job"] = AlarmFact.Words("J-1") },
        };
        var facts = AlarmFacts.Of(rule, change);
        Assert.Equal(("Saw 1", "Saw 1", "medium", "r", "J-1"), (facts["saw"].Text, facts["subject"].Text, facts["severity"].Text, facts["rule"].Text, facts["job"].Text));
        Assert.Equal((AlarmFact.Number(11, "kW"), AlarmFact.Number(9, "kW")), (facts["value"], facts["limit"]));
        Assert.False(AlarmFacts.Of(rule, change with { Subject = new AlarmSubject(AlarmSubjectKind.Source, "plc") }).ContainsKey("saw"));
    }
}
