using SawEdge.Gateway.History;
using SawEdge.Gateway.Notification;

namespace SawEdge.Gateway.Tests.Notification;

public sealed class SendPlanTests
{
    private static readonly DateTimeOffset Now = Samples.Now;
    private static readonly TimeSpan Day = TimeSpan.FromDays(1);

    // The saw's name stands for the group.
    private static SendPlan Plan(Gathering gathering) => new(gathering, entry => entry.Saw, Day);

    private static JournalEntry Entry(long sequence, string group = "a", double minutesOld = 0) => new(sequence, JournalKinds.Notice, group, Now.AddMinutes(-minutesOld), null);

    private static long[] Numbers(Parcel parcel) => [.. parcel.Entries.Select(entry => entry.Sequence)];

    [Theory]
    [InlineData(Gathering.None)]
    [InlineData(Gathering.Merge)]
    [InlineData(Gathering.Latest)]
    internal void Next_NothingWaitedLong_GoesOneByOneInOrder(Gathering gathering)
    {
        var parcel = Plan(gathering).Next([Entry(1), Entry(2), Entry(3, "b")], Now);

        Assert.Equal([1], Numbers(parcel));
        Assert.False(parcel.Waited);
    }

    [Theory]
    [InlineData(Gathering.None, new long[] { 1 })]
    [InlineData(Gathering.Merge, new long[] { 1, 3, 4 })]
    [InlineData(Gathering.Latest, new long[] { 1, 3, 4 })]
    internal void Next_FirstWaited_GathersItsGroup(Gathering gathering, long[] expected)
    {
        var parcel = Plan(gathering).Next([Entry(1, minutesOld: 2), Entry(2, "b", 2), Entry(3, minutesOld: 1), Entry(4)], Now);

        Assert.Equal(expected, Numbers(parcel));
        Assert.True(parcel.Waited);
    }

    [Theory]
    [InlineData(Gathering.None, true)]
    [InlineData(Gathering.Merge, true)]
    [InlineData(Gathering.Latest, false)]
    internal void Next_TooOld_IsSetAsideUnlessItIsAState(Gathering gathering, bool aside)
    {
        var plan = Plan(gathering);
        var old = Entry(1, minutesOld: (24 * 60) + 1);
        plan.Failed(new Parcel([old], true), "no answer", othersWereTaken: false, Now);

        var parcel = plan.Next([old, Entry(2)], Now);

        Assert.Equal(aside ? "not delivered within 24 h: no answer" : null, parcel.SetAside);
    }

    [Fact]
    public void Next_AfterAFailure_TriesWhatWasTriedLeast()
    {
        var plan = Plan(Gathering.None);
        JournalEntry[] waiting = [Entry(1), Entry(2), Entry(3)];
        var tried = new List<long>();
        for (var i = 0; i < 6; i++)
        {
            var parcel = plan.Next(waiting, Now);
            tried.AddRange(Numbers(parcel));
            plan.Failed(parcel, "500", othersWereTaken: false, Now);
        }

        Assert.Equal([1L, 2, 3, 1, 2, 3], tried);
    }

    [Fact]
    public void Next_FailsAgainAndAgainWhileOthersAreTaken_IsSetAsideAfterAWhile()
    {
        var plan = Plan(Gathering.None);
        var bad = Entry(1);
        for (var i = 0; i < SendPlan.MostStrikes; i++)
        {
            Assert.Null(plan.Next([bad], Now.AddMinutes(20)).SetAside);
            plan.Failed(new Parcel([bad], false), "500", othersWereTaken: true, Now.AddMinutes(i));
        }

        Assert.Null(plan.Next([bad], Now.AddMinutes(14.9)).SetAside);
        Assert.Equal("refused again and again while others were taken: 500", plan.Next([bad], Now.AddMinutes(15)).SetAside);
    }

    [Fact]
    public void Next_InAnOutageOfAll_SetsNothingAside()
    {
        var plan = Plan(Gathering.None);
        var entry = Entry(1);
        for (var i = 0; i < 100; i++)
            plan.Failed(new Parcel([entry], false), "500", othersWereTaken: i == 0, Now.AddMinutes(i));

        Assert.Null(plan.Next([entry], Now.AddHours(23)).SetAside);
    }

    [Fact]
    public void Next_OneThatFailsWhileOthersWereTaken_IsNotMergedWithOthers()
    {
        var plan = Plan(Gathering.Merge);
        JournalEntry[] waiting = [Entry(1, minutesOld: 5), Entry(2, minutesOld: 5), Entry(3, minutesOld: 5)];
        plan.Failed(new Parcel([waiting[0]], true), "500", othersWereTaken: true, Now);
        plan.Failed(new Parcel([waiting[0]], true), "500", othersWereTaken: true, Now);

        Assert.Equal([2, 3], Numbers(plan.Next(waiting, Now)));
        Assert.Equal([1], Numbers(plan.Next([waiting[0]], Now)));
    }

    [Fact]
    public void Next_OneThatBeganAnOutage_IsMergedWithOthersAfterIt()
    {
        var plan = Plan(Gathering.Merge);
        JournalEntry[] waiting = [Entry(1, minutesOld: 5), Entry(2, minutesOld: 5)];
        plan.Failed(new Parcel([waiting[0]], true), "no answer", othersWereTaken: true, Now);
        plan.Failed(new Parcel([waiting[1]], true), "no answer", othersWereTaken: false, Now);

        Assert.Equal([1, 2], Numbers(plan.Next(waiting, Now)));
    }

    [Fact]
    public void Next_AStateThatFailedOften_IsTriedInOrderAllTheSame()
    {
        var plan = Plan(Gathering.Latest);
        JournalEntry[] waiting = [Entry(1, minutesOld: 5), Entry(2, "b", 5), Entry(3, minutesOld: 5)];
        for (var i = 0; i < 20; i++)
            plan.Failed(plan.Next(waiting, Now), "no answer", othersWereTaken: true, Now);

        Assert.Equal([1, 3], Numbers(plan.Next(waiting, Now.AddDays(9))));
    }

    [Fact]
    public void WaitFor_AskedFor_IsKeptWithinBounds()
    {
        static TimeSpan? Asked(double seconds) => SendRetry.WaitFor(new SendResult(SendVerdict.Wait, "", TimeSpan.FromSeconds(seconds)), 0.5);

        Assert.Equal(TimeSpan.FromSeconds(30), Asked(30));
        Assert.Equal(SendRetry.First, Asked(0));
        Assert.Equal(SendRetry.First, Asked(-5));
        Assert.Equal(SendRetry.LongestAsked, Asked(86_400));
    }

    [Fact]
    public void WaitFor_NotAskedFor_FollowsTheBackOffOrIsSlowWhereSomebodyMustMend()
    {
        Assert.Null(SendRetry.WaitFor(new SendResult(SendVerdict.Wait), 0.5));
        Assert.Equal(SendRetry.Mending, SendRetry.WaitFor(new SendResult(SendVerdict.Mend), 0.5));
        Assert.Equal(SendRetry.Mending * 1.2, SendRetry.WaitFor(new SendResult(SendVerdict.Mend), 1));
    }
}
