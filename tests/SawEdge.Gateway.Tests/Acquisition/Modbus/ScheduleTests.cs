using CsCheck;
using SawEdge.Gateway.Acquisition.Modbus;

namespace SawEdge.Gateway.Tests.Acquisition.Modbus;

/// <summary>The decisions of the poll loop, apart from the loop.</summary>
public sealed class ScheduleTests
{
    // When the poll of the slot at 0 ended, slots missed, next slot; ms, interval 100.
    [Theory]
    [InlineData(10, 0, 100)]
    [InlineData(100, 0, 100)]
    [InlineData(199, 0, 100)]
    [InlineData(200, 1, 200)]
    [InlineData(250, 1, 200)]
    [InlineData(3_600_050, 35_999, 3_600_000)]
    public void Advance_PollOfAnyLength_KeepsTheGridAndCountsWhatWasMissed(int ended, long missed, int next)
    {
        var schedule = new PollSchedule(Milliseconds(100));
        Assert.Equal(missed, schedule.Advance(Milliseconds(ended)));
        Assert.Equal(Milliseconds(next), schedule.Due);
    }

    [Theory]
    [InlineData(10, 1000, 10, 1100)]
    [InlineData(0, 1000, 9, 1000)]
    [InlineData(950, 100, 10, 1100)]
    public void Advance_WithAPause_LeavesTheSawAloneAtLeastThatLong(int ended, int pause, long missed, int next)
    {
        var schedule = new PollSchedule(Milliseconds(100));
        Assert.Equal(missed, schedule.Advance(Milliseconds(ended), Milliseconds(pause)));
        Assert.Equal(Milliseconds(next), schedule.Due);
    }

    // A poll that ended after 150 ms, then a pause of 1 s until 1200 ms; slots from 100 to 1100 ms are missed.
    [Theory]
    [InlineData(160, 11, 100)]
    [InlineData(560, 7, 500)]
    [InlineData(600, 6, 600)]
    [InlineData(1150, 1, 1100)]
    [InlineData(1250, 0, 1200)]
    public void Recall_DuringAPause_MakesTheLatestSlotDue(int now, long served, int next)
    {
        var schedule = new PollSchedule(Milliseconds(100));
        Assert.Equal(11, schedule.Advance(Milliseconds(150), Milliseconds(1000)));
        Assert.Equal(served, schedule.Recall(Milliseconds(now)));
        Assert.Equal(Milliseconds(next), schedule.Due);
    }

    [Fact]
    public void Recall_RightAfterAPoll_DoesNotServeItsSlotAgain()
    {
        var schedule = new PollSchedule(Milliseconds(100));
        schedule.Advance(Milliseconds(10), Milliseconds(1000));
        Assert.Equal(10, schedule.Recall(Milliseconds(20)));
        Assert.Equal(Milliseconds(100), schedule.Due);
    }

    [Fact]
    public void Advance_AnyPolls_AccountsForEverySlotAndNeverDrifts() =>
        Gen.Select(Gen.Int[1, 500], Gen.Int[0, 2000].Array[1, 50]).Sample((interval, lengths) =>
        {
            var schedule = new PollSchedule(Milliseconds(interval));
            var now = TimeSpan.Zero;
            long slots = 0;
            foreach (var length in lengths)
            {
                now = (now > schedule.Due ? now : schedule.Due) + Milliseconds(length);
                slots += 1 + schedule.Advance(now);
                Assert.Equal(slots * Milliseconds(interval), schedule.Due);
                Assert.True(schedule.Due > now - Milliseconds(interval));
            }
        });

    [Fact]
    public void After_FailuresInARow_ForgivesOneThenGrowsToTheLongest() =>
        Assert.Equal([0, 0, 1, 2, 4, 8, 16, 30, 30], Enumerable.Range(0, 9).Select(failures => (int)PollPause.After(failures).TotalSeconds));

    [Theory]
    [InlineData(3)]
    [InlineData(5)]
    [InlineData(50)]
    public void Observe_HitchesNowAndThen_AreNoLag(int every)
    {
        var lag = new Lag();
        for (var i = 0; i < 1000; i++)
            Assert.Equal(Lag.Change.None, lag.Observe(i % every == 0 ? 3 : 0));
        Assert.False(lag.IsBehind);
    }

    [Fact]
    public void Observe_EverySecondPollLate_IsLagSoon()
    {
        var lag = new Lag();
        var begins = Enumerable.Range(0, 100).Select(i => lag.Observe(i % 2)).ToList().IndexOf(Lag.Change.Begins);
        Assert.InRange(begins, 5, 25);
        Assert.True(lag.IsBehind);
    }

    [Fact]
    public void Observe_FiveLatePollsInARow_IsLagUntilFiftyAreInTime()
    {
        var lag = new Lag();
        var begins = Enumerable.Range(0, 20).Select(_ => lag.Observe(2)).ToList();
        Assert.Equal(4, begins.IndexOf(Lag.Change.Begins));
        Assert.Single(begins, change => change == Lag.Change.Begins);
        var ends = Enumerable.Range(0, 60).Select(_ => lag.Observe(0)).ToList();
        Assert.Equal(49, ends.IndexOf(Lag.Change.Ends));
        Assert.Single(ends, change => change == Lag.Change.Ends);
        Assert.False(lag.IsBehind);
    }

    private static TimeSpan Milliseconds(int milliseconds) => TimeSpan.FromMilliseconds(milliseconds);
}
