using SawEdge.Core.Cycles;
using SawEdge.Core.Oee;

namespace SawEdge.Core.Tests.Oee;

public sealed class CounterCheckTests
{
    [Fact]
    public void Of_PartsThatWereAllSeen_HasNothingToSay()
    {
        var check = CounterCheck.Of(Cuts(10, 11, 12, 13));

        Assert.Equal((3, 3, 0), (check.Parts, check.Counted, check.Difference));
        Assert.Empty(check.Steps);
    }

    [Fact]
    public void Of_CyclesWhileNobodyLooked_AreStatedWhereTheyShow()
    {
        var check = CounterCheck.Of(Cuts(10, 11, 16, 17));

        Assert.Equal(4, check.Difference);
        var step = Assert.Single(check.Steps);
        Assert.Equal((CounterEvent.Unseen, 5, 1), (step.Kind, step.Counted, step.Parts));
        Assert.Equal("the controller counted 5, 1 were seen: 4 more were made", step.Words);
    }

    [Theory]
    [InlineData(65535, 0, CounterEvent.Rollover, 1)]
    [InlineData(999, 0, CounterEvent.Rollover, 1)]
    [InlineData(255, 2, CounterEvent.Rollover, 3)]
    [InlineData(40, 1, CounterEvent.Reset, 1)]
    [InlineData(65535, 500, CounterEvent.Reset, 500)]
    [InlineData(40, 0, CounterEvent.Reset, 0)]
    public void Of_ACounterThatFalls_WasSetBackOrCameToItsEnd(long last, long next, CounterEvent kind, long counted)
    {
        var step = Assert.Single(CounterCheck.Of(Cuts(last, next)).Steps);

        Assert.Equal((kind, counted), (step.Kind, step.Counted));
    }

    [Fact]
    public void Of_TrimAndAbortedCuts_AreNoParts()
    {
        var cuts = Cuts(10, 10, 10, 11);
        cuts[1] = cuts[1] with { Outcome = CutOutcome.Trim };
        cuts[2] = cuts[2] with { Outcome = CutOutcome.Aborted };

        Assert.Empty(CounterCheck.Of(cuts).Steps);
    }

    [Fact]
    public void Of_APartTheCounterDidNotCount_IsStated()
    {
        var check = CounterCheck.Of(Cuts(10, 11, 11, 12));

        Assert.Equal(CounterEvent.NotCounted, Assert.Single(check.Steps).Kind);
        Assert.Equal(-1, check.Difference);
    }

    [Fact]
    public void Of_ACounterThatIsNotInUse_SaysSo() => Assert.True(CounterCheck.Of(Cuts(3, 3, 3)).DoesNotCount);

    [Fact]
    public void Of_NoCounter_HasNoDifference()
    {
        var check = CounterCheck.Of([.. Cuts(1, 2).Select(cut => cut with { PartCount = null })]);

        Assert.Null(check.Difference);
        Assert.Empty(check.Steps);
    }

    [Fact]
    public void Of_CutsWithoutAReadingBetween_AreHeldAgainstTheNextReading()
    {
        var cuts = Cuts(10, 0, 12);
        cuts[1] = cuts[1] with { PartCount = null };

        Assert.Equal(0, CounterCheck.Of(cuts).Difference);
    }

    private static CycleRecord[] Cuts(params long[] counts) =>
        [.. counts.Select((count, i) => new CycleRecord
        {
            CycleId = "Saw 1-" + i,
            Saw = "Saw 1",
            StartedAt = MadeShift.At("06:00").AddMinutes(10 * i),
            EndedAt = MadeShift.At("06:05").AddMinutes(10 * i),
            Outcome = CutOutcome.Completed,
            PartCount = count,
            Frames = 1,
        })];
}
