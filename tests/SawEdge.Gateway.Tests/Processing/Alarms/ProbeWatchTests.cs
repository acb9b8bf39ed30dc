using SawEdge.Core.Alarms;
using SawEdge.Gateway.Processing.Alarms;

namespace SawEdge.Gateway.Tests.Processing.Alarms;

public sealed class ProbeWatchTests
{
    private static readonly AlarmVariable Silence = AlarmVariables.Of(AlarmTopic.Communication, "silence");
    private static readonly DateTimeOffset T = RunningDesk.Start;

    [Fact]
    public void Look_ValueIsALeastValue_TellsOnlyThatTheLimitIsExceeded()
    {
        var read = new ProbeValue(3, AtLeast: true);
        var watch = new ProbeWatch(RunningDesk.Rules, [new AlarmProbe(Silence, RunningDesk.North, () => read)]);
        Assert.Empty(Look(watch, 0));
        read = new ProbeValue(6, AtLeast: true);
        Assert.True(Assert.Single(Look(watch, 1)).Holds);
        read = new ProbeValue(0, AtLeast: true);
        Assert.Empty(Look(watch, 2));
        read = 0;
        Assert.False(Assert.Single(Look(watch, 3)).Holds);
    }

    [Fact]
    public void Look_FirstKnownValue_TellsHowThingsAre_AndThenOnlyChanges()
    {
        ProbeValue read = 1;
        var watch = new ProbeWatch(RunningDesk.Rules, [new AlarmProbe(Silence, RunningDesk.North, () => read) { Facts = () => new Dictionary<string, AlarmFact> { ["saws"] = AlarmFact.Words("north") } }]);
        Assert.False(Assert.Single(Look(watch, 0)).Holds);
        Assert.Empty(Look(watch, 1));
        read = 9;
        var change = Assert.Single(Look(watch, 2));
        Assert.Equal((RunningDesk.Effect, RunningDesk.North, T.AddSeconds(2), true, 9.0, 5.0), (change.Rule, change.Subject, change.At, change.Holds, change.Value, change.Limit));
        Assert.Equal("north", change.Facts["saws"].Text);
        read = double.NaN;
        Assert.Empty(Look(watch, 3));
    }

    [Fact]
    public void Look_RuleForOtherSubjects_OrProbeForAnotherRule_IsPassedOver()
    {
        var south = RunningDesk.Rules.Single(rule => rule.Name == RunningDesk.Effect) with { Name = "other", Subjects = new HashSet<string> { "south" } };
        Assert.Empty(Look(new ProbeWatch([south], [new AlarmProbe(Silence, RunningDesk.North, () => 9)]), 0));
        Assert.Empty(Look(new ProbeWatch(RunningDesk.Rules, [new AlarmProbe(Silence, RunningDesk.North, () => 9) { Rule = "other" }]), 0));
        Assert.Single(Look(new ProbeWatch([south], [new AlarmProbe(Silence, AlarmSubject.Saw("south"), () => 9) { Rule = "other" }]), 0));
    }

    private static List<ConditionChange> Look(ProbeWatch watch, int second)
    {
        var changes = new List<ConditionChange>();
        watch.Look(T.AddSeconds(second), changes);
        return changes;
    }
}
