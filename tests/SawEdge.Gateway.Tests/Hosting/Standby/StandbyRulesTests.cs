using Microsoft.Extensions.Time.Testing;
using SawEdge.Gateway.Acquisition.Mqtt;
using SawEdge.Gateway.Hosting.Standby;

namespace SawEdge.Gateway.Tests.Hosting.Standby;

public sealed class StandbyRulesTests
{
    private static readonly TimeSpan After = TimeSpan.FromSeconds(10);

    private readonly FakeTimeProvider _time = new();

    [Theory]
    [InlineData("standby", false)]
    [InlineData("yielding", true)]
    [InlineData("offline", true)]
    [InlineData(null, true)]
    public void First_OtherDoesNotWatch_WatchesAtOnce(string? other, bool leavesOut)
    {
        var rules = new StandbyRules(isFirst: true, After, _time);
        Assert.Equal("online", rules.Word);
        Assert.False(rules.Look(new(true, other, null), isDone: false));
        Assert.True(rules.Look(new(true, other, "online"), isDone: false));
        Assert.Equal((StandbyState.Active, leavesOut), (rules.State, rules.LeavesOut));
    }

    [Fact]
    public void First_OtherWatches_WaitsUntilItGivesBack()
    {
        var rules = new StandbyRules(isFirst: true, After, _time);
        Look(rules, new(true, "active", "online"), seconds: 9.9, StandbyState.Waiting);
        Look(rules, new(true, "yielding", "online"), seconds: 0, StandbyState.Active);
        Assert.True(rules.LeavesOut);
    }

    [Fact]
    public void First_OtherNeverGivesBack_GoesOnAfterAWhile()
    {
        var rules = new StandbyRules(isFirst: true, After, _time);
        Look(rules, new(true, "active", "online"), seconds: 10.1, StandbyState.Active);
        Assert.True(rules.LeavesOut);
    }

    [Fact]
    public void First_WithoutBroker_GoesOnAfterAWhileAndKeepsOn()
    {
        var rules = new StandbyRules(isFirst: true, After, _time);
        Look(rules, default, seconds: 9.9, StandbyState.Waiting);
        Look(rules, default, seconds: 0.3, StandbyState.Active);
        Look(rules, default, seconds: 3600, StandbyState.Active);
    }

    [Fact]
    public void First_ThatWatches_SaysWhenTheOtherDoesToo()
    {
        var rules = new StandbyRules(isFirst: true, After, _time);
        Look(rules, new(true, "standby", "online"), seconds: 0, StandbyState.Active);
        rules.Look(new(true, "active", "online"), isDone: false);
        Assert.True(rules.IsDoubled);
        rules.Look(new(true, "yielding", "online"), isDone: false);
        Assert.False(rules.IsDoubled);
        Assert.Equal(StandbyState.Active, rules.State);
    }

    [Theory]
    [InlineData("offline")]
    [InlineData(null)]
    public void Second_FirstIsSilentLongEnough_ClaimsAndWatchesOnceThatWasHandedRound(string? said)
    {
        var rules = Standing();
        Look(rules, new(true, said, "standby"), seconds: 9.8, StandbyState.Standby);
        Look(rules, new(true, said, "standby"), seconds: 0.4, StandbyState.Claiming);
        Assert.Equal("active", rules.Word);
        Look(rules, new(true, said, null), seconds: 1, StandbyState.Claiming);
        Look(rules, new(true, said, "active"), seconds: 0, StandbyState.Active);
        Assert.True(rules.LeavesOut);
    }

    [Fact]
    public void Second_FirstIsThereAgainInTime_KeepsStandingBy()
    {
        var rules = Standing();
        for (var i = 0; i < 5; i++)
        {
            Look(rules, new(true, "offline", "standby"), seconds: 9, StandbyState.Standby);
            Look(rules, new(true, "online", "standby"), seconds: 1, StandbyState.Standby);
        }
    }

    [Fact]
    public void Second_FirstSpeaksWhileItClaims_StandsBy()
    {
        var rules = Standing();
        Look(rules, new(true, "offline", "standby"), seconds: 10.1, StandbyState.Claiming);
        Look(rules, new(true, "online", null), seconds: 0, StandbyState.Standby);
        Assert.Equal("standby", rules.Word);
    }

    [Fact]
    public void Second_WithoutBroker_NeverTakesOver()
    {
        var rules = Standing();
        Look(rules, default, seconds: 3600, StandbyState.Standby);

        // Back with a broker that has forgotten everything: the first has its time to say that it is there.
        Look(rules, new(true, null, "standby"), seconds: 9.8, StandbyState.Standby);
        Look(rules, new(true, null, "standby"), seconds: 0.4, StandbyState.Claiming);
        Look(rules, default, seconds: 0, StandbyState.Standby);
    }

    [Fact]
    public void Second_ThatWatches_GivesBackAndStandsByOnceNothingIsOpen()
    {
        var rules = Watching();
        Look(rules, new(true, "offline", "active"), seconds: 3600, StandbyState.Active);
        Look(rules, new(true, "online", "active"), seconds: 0, StandbyState.Yielding);
        Assert.Equal("yielding", rules.Word);
        Look(rules, new(true, "offline", "yielding"), seconds: 3600, StandbyState.Yielding);
        rules.Look(new(true, "online", "yielding"), isDone: true);
        Assert.Equal(StandbyState.Standby, rules.State);
    }

    [Fact]
    public void Second_ThatWatchesAndLosesTheBroker_HasGivenBackBeforeAFirstGoesOnAlone()
    {
        var rules = Watching();
        Look(rules, default, seconds: 4.8, StandbyState.Active);
        Look(rules, new(true, "offline", "active"), seconds: 1, StandbyState.Active);
        Look(rules, default, seconds: 5.2, StandbyState.Yielding);
    }

    [Fact]
    public void Second_FirstIsSeenOtherwise_NeverTakesOver_AndGivesBackWhereItHad()
    {
        var rules = Standing();
        Look(rules, new(true, "offline", "standby"), seconds: 3600, StandbyState.Standby, isSeen: true);
        Look(rules, new(true, "offline", "standby"), seconds: 9.8, StandbyState.Standby);
        Look(rules, new(true, "offline", "standby"), seconds: 0.4, StandbyState.Claiming);
        rules.Look(new(true, "offline", null), isDone: false, isSeen: true);
        Assert.Equal(StandbyState.Standby, rules.State);

        var watching = Watching();
        watching.Look(new(true, "offline", "active"), isDone: false, isSeen: true);
        Assert.Equal(StandbyState.Yielding, watching.State);
    }

    /// <summary>Whatever the order in which two who begin at once hear each other through a broker that hands messages round in one order, one of them at most watches.</summary>
    [Theory]
    [InlineData(true)]
    [InlineData(false)]
    public void Both_AtTheSameMoment_OneWatches(bool firstIsHandedRoundFirst)
    {
        var (first, second) = (new StandbyRules(isFirst: true, After, _time), Standing());
        Look(second, new(true, "offline", "standby"), seconds: 10.1, StandbyState.Claiming);

        // Each hears what was handed round before its own word at the latest with it.
        first.Look(new(true, firstIsHandedRoundFirst ? "standby" : "active", "online"), isDone: false);
        second.Look(new(true, firstIsHandedRoundFirst ? "online" : "offline", firstIsHandedRoundFirst ? null : "active"), isDone: false);
        Assert.True(first.State == StandbyState.Active ^ second.State == StandbyState.Active);
    }

    private StandbyRules Standing()
    {
        var rules = new StandbyRules(isFirst: false, After, _time);
        Assert.Equal("standby", rules.Word);
        Look(rules, new(true, "online", "standby"), seconds: 60, StandbyState.Standby);
        return rules;
    }

    private StandbyRules Watching()
    {
        var rules = Standing();
        Look(rules, new(true, "offline", "standby"), seconds: 10.1, StandbyState.Claiming);
        Look(rules, new(true, "offline", "active"), seconds: 0, StandbyState.Active);
        return rules;
    }

    // As the loop does it: a look each tenth of a second.
    private void Look(StandbyRules rules, PresenceView view, double seconds, StandbyState expected, bool isSeen = false)
    {
        rules.Look(view, isDone: false, isSeen);
        for (var i = 0; i < seconds * 10 && rules.State != StandbyState.Claiming; i++)
        {
            _time.Advance(TimeSpan.FromMilliseconds(100));
            rules.Look(view, isDone: false, isSeen);
        }

        Assert.Equal(expected, rules.State);
    }
}
