using SawEdge.Core.Cycles;
using SawEdge.Core.Oee;

namespace SawEdge.Core.Tests.Oee;

public sealed class OeeAccountTests
{
    // Worked by hand, minute by minute; no outside source. 480 min less breaks of 15 and 30.
    private static MadeShift Worked()
    {
        var shift = new MadeShift()
            .State("06:00", "06:20", TimelineState.NotExecuting)
            .State("06:20", "06:50", TimelineState.Executing)
            .Cut("06:20", "06:22", "06:48", "06:50", standardCut: 24, standardCycle: 28) // 26 cutting, 4 handling
            .State("06:50", "06:53", TimelineState.NotExecuting)
            .State("06:53", "07:25", TimelineState.Executing)
            .Cut("06:53", "06:54", "06:59", "07:00", 20, 24, CutOutcome.Trim)
            .Cut("07:00", "07:03", "07:20", "07:25", 20, 24) // 17 cutting, 8 handling
            .State("07:25", "07:45", TimelineState.OutOfService, reason: "fault 17")
            .State("07:45", "08:15", TimelineState.Executing)
            .Cut("07:45", "07:50", "08:10", "08:15", 18, 26) // 20 cutting, 10 handling; scrap
            .State("08:30", "09:30", TimelineState.Executing) // seen again from 08:30 on
            .Cut("08:30", "08:30", "09:30", "09:30", 48, 48) // 45 of its 60 minutes outside of the break
            .State("09:30", "12:30", TimelineState.NotExecuting, job: "")
            .State("12:30", "14:00", TimelineState.Executing)
            .Cut("12:30", "12:35", "12:55", "13:00", null, null) // no standard
            .Cut("13:00", "13:05", "13:40", "13:40", 20, 24, CutOutcome.Aborted);
        shift.Reasons.Add(new StopReason(MadeShift.Between("06:00", "06:20"), "blade change", StopClass.Setup, MadeShift.At("07:00"), "ana"));
        shift.Scrap.Add(new ScrapEntry(MadeShift.At("08:20"), "Saw 1-07:45", Reason: "wrong length", Who: "ana"));
        return shift;
    }

    [Theory]
    [InlineData(OeeBucket.CuttingAtStandard, 24 + 17 + 36 + 20)]
    [InlineData(OeeBucket.SlowCutting, 2 + 2 + 9 + 35)]
    [InlineData(OeeBucket.Handling, 4 + 4 + 10)]
    [InlineData(OeeBucket.SlowHandling, 4 + 2 + 5 + 20)]
    [InlineData(OeeBucket.ShortStops, 3)]
    [InlineData(OeeBucket.StopsByReason, 20 + 150)]
    [InlineData(OeeBucket.Setup, 20 + 7)]
    [InlineData(OeeBucket.ScrapTime, 18 + 8)]
    [InlineData(OeeBucket.Unknown, 15)]
    public void Buckets_TheWorkedShift_IsAsWorkedByHand(OeeBucket bucket, int minutes) =>
        Assert.Equal(TimeSpan.FromMinutes(minutes), Worked().Account().Buckets(MadeShift.Shift)[bucket]);

    [Fact]
    public void Buckets_TheWorkedShift_SumsAndCounts()
    {
        var buckets = Worked().Account().Buckets(MadeShift.Shift);

        Assert.Equal(TimeSpan.FromMinutes(435), buckets.PlannedBusyTime);
        Assert.Equal(buckets.PlannedBusyTime, buckets.Sum);
        Assert.Equal(TimeSpan.FromMinutes(3), buckets[OeeBeside.Gained]);
        Assert.Equal(TimeSpan.FromMinutes(30), buckets[OeeBeside.WithoutStandard]);
        Assert.Equal(TimeSpan.FromMinutes(40 + 20), buckets[OeeBeside.Lost]);
        Assert.Equal(TimeSpan.FromMinutes(3), buckets[OeeBeside.Delay]);
        Assert.Equal(TimeSpan.FromMinutes(20 + 150), buckets[OeeBeside.Down]);
        Assert.Equal((5, 1, 4), (buckets[OeeCount.Parts], buckets[OeeCount.Scrap], buckets.GoodParts));
        Assert.Equal((1, 1, 1), (buckets[OeeCount.Trims], buckets[OeeCount.Lost], buckets[OeeCount.WithoutStandard]));
        Assert.Equal(
            [new StopTime(StopClass.Down, "idle without a job", TimeSpan.FromMinutes(150)), new StopTime(StopClass.Down, "fault 17", TimeSpan.FromMinutes(20)), new StopTime(StopClass.Setup, "blade change", TimeSpan.FromMinutes(20))],
            buckets.Stops);
    }

    // PRI of each cut: 28, 24, 26 (scrap), 36 (its share of 48 outside of the break), 30 (its own time). APT 220 of 420 minutes that were seen.
    [Fact]
    public void Figures_TheWorkedShift_AreThoseOfTheFormulas()
    {
        var account = Worked().Account();
        var elements = account.Elements(MadeShift.Shift);
        var figures = account.Buckets(MadeShift.Shift).Figures;

        Assert.Equal(new OeeElements(Minutes(435), Minutes(15), Minutes(220), Minutes(28 + 24 + 26 + 36 + 30), Minutes(28 + 24 + 36 + 30)), elements);
        Assert.Equal(220 / 420d, figures.Availability, 1e-12);
        Assert.Equal(144 / 220d, figures.Effectiveness, 1e-12);
        Assert.Equal(118 / 144d, figures.QualityRatio, 1e-12);
        Assert.Equal(118 / 420d, figures.Oee, 1e-12);
        SameFigures(OeeFigures.Of(elements), figures);
    }

    // OPC UA for Machine Tools, C.2.3: operating time = APT + AUST + ADET + ADOT.
    [Fact]
    public void Buckets_TheWorkedShift_FollowTheTimeElementsOfOpc()
    {
        var buckets = Worked().Account().Buckets(MadeShift.Shift);

        Assert.Equal(buckets.Observed, buckets.ActualProductionTime + buckets[OeeBucket.Setup] + buckets[OeeBeside.Delay] + buckets[OeeBeside.Down]);
    }

    // OPC 40001-1, table 68 (https://reference.opcfoundation.org/specs/OPC-40001-1/c-2): not executing is delay with an order and down without one;
    // out of service and switched off in planned busy time are down.
    [Theory]
    [InlineData(TimelineState.NotExecuting, "A-1", "", OeeBeside.Delay, "idle with a job")]
    [InlineData(TimelineState.NotExecuting, "", "", OeeBeside.Down, "idle without a job")]
    [InlineData(TimelineState.OutOfService, "A-1", "fault 17", OeeBeside.Down, "fault 17")]
    [InlineData(TimelineState.NotAvailable, "A-1", "switched off", OeeBeside.Down, "switched off")]
    public void Buckets_AStop_IsBookedByStateAndJob(TimelineState state, string job, string reason, OeeBeside booked, string words)
    {
        var buckets = new MadeShift().State("06:00", "06:40", state, job, reason).Account().Buckets(MadeShift.Between("06:00", "06:40"));

        Assert.Equal(Minutes(40), buckets[booked]);
        Assert.Equal(words, Assert.Single(buckets.Stops).Reason);
        Assert.Equal(0, buckets.Figures.Availability);
    }

    [Fact]
    public void Buckets_AReasonGivenLater_ChangesEveryFigureThatDependsOnIt()
    {
        var shift = Worked();
        var before = shift.Account().Buckets(MadeShift.Shift);
        shift.Reasons.Add(new StopReason(MadeShift.Between("07:30", "07:45"), "coolant filled", StopClass.Setup, MadeShift.At("15:00"), "ben"));
        shift.Reasons.Add(new StopReason(MadeShift.Between("07:40", "07:45"), "belt", StopClass.Down, MadeShift.At("15:05"), "ana"));
        var after = shift.Account().Buckets(MadeShift.Shift);

        Assert.Equal(before[OeeBucket.Setup] + Minutes(10), after[OeeBucket.Setup]);
        Assert.Equal(before[OeeBucket.StopsByReason] - Minutes(10), after[OeeBucket.StopsByReason]);
        Assert.Contains(new StopTime(StopClass.Down, "belt", Minutes(5)), after.Stops);
        Assert.Contains(new StopTime(StopClass.Down, "fault 17", Minutes(5)), after.Stops);
        Assert.Equal(after.PlannedBusyTime, after.Sum);
    }

    [Fact]
    public void Buckets_AReasonForAShortStop_MakesItAStopByReason()
    {
        var shift = Worked();
        shift.Reasons.Add(new StopReason(MadeShift.Between("06:45", "07:00"), "bar end", StopClass.Delay, MadeShift.At("15:00"), "ben"));
        var buckets = shift.Account().Buckets(MadeShift.Shift);

        Assert.Equal(TimeSpan.Zero, buckets[OeeBucket.ShortStops]);
        Assert.Contains(new StopTime(StopClass.Delay, "bar end", Minutes(3)), buckets.Stops);
    }

    [Fact]
    public void Buckets_AReasonForUnknownTime_LeavesItUnknown()
    {
        var shift = Worked();
        shift.Reasons.Add(new StopReason(MadeShift.Between("08:15", "08:30"), "power cut", StopClass.Down, MadeShift.At("15:00"), "ben"));

        Assert.Equal(Minutes(15), shift.Account().Buckets(MadeShift.Shift)[OeeBucket.Unknown]);
    }

    [Fact]
    public void Buckets_ARuleForAFault_NamesAndBooksIt()
    {
        var shift = Worked();
        shift.Settings = new OeeSettings { Meanings = new Dictionary<string, StopMeaning> { ["fault 17"] = new("bar change", StopClass.Setup) } };

        var buckets = shift.Account().Buckets(MadeShift.Shift);

        Assert.Equal(Minutes(47), buckets[OeeBucket.Setup]);
        Assert.Contains(new StopTime(StopClass.Setup, "bar change", Minutes(20)), buckets.Stops);
    }

    [Fact]
    public void Buckets_ScrapWithoutACut_TakesTheLastPartsBeforeIt()
    {
        var shift = Worked();
        shift.Scrap.Clear();
        shift.Scrap.Add(new ScrapEntry(MadeShift.At("08:20"), null, Quantity: 2, Who: "ana"));
        var account = shift.Account();
        var buckets = account.Buckets(MadeShift.Shift);

        // 26 of the last cut, 17 + 4 and 3 gained of the one before it; the trim cut between is no part.
        Assert.Equal(2, buckets[OeeCount.Scrap]);
        Assert.Equal(Minutes(26 + 21), buckets[OeeBucket.ScrapTime]);
        Assert.Equal(Minutes(3), buckets[OeeBeside.ScrapGained]);
        Assert.Empty(account.UnassignedScrap);
        SameFigures(OeeFigures.Of(account.Elements(MadeShift.Shift)), buckets.Figures);
    }

    [Fact]
    public void UnassignedScrap_MoreThanWasMade_IsStated()
    {
        var shift = Worked();
        shift.Scrap.Clear();
        shift.Scrap.Add(new ScrapEntry(MadeShift.At("07:10"), null, Quantity: 3));
        shift.Scrap.Add(new ScrapEntry(MadeShift.At("07:10"), "Saw 1-06:53"));

        Assert.Equal([1, 2], shift.Account().UnassignedScrap.Select(entry => entry.Quantity).Order());
    }

    [Theory]
    [InlineData(CutOutcome.UnobservedStart, 1, 0)]
    [InlineData(CutOutcome.UnobservedEnd, 0, 1)]
    [InlineData(CutOutcome.Partial, 0, 0)]
    public void Buckets_ACutThatWasSeenInPart_CountsAsWhatItTook(CutOutcome outcome, int parts, int uncertain)
    {
        var buckets = new MadeShift().State("06:00", "06:10", TimelineState.Executing).Cut("06:00", "06:02", "06:09", "06:10", 30, 40, outcome)
            .Account().Buckets(MadeShift.Between("06:00", "06:10"));

        Assert.Equal(Minutes(7), buckets[OeeBucket.CuttingAtStandard]);
        Assert.Equal(Minutes(10), buckets[OeeBeside.WithoutStandard]);
        Assert.Equal(1, buckets.Figures.Effectiveness);
        Assert.Equal((parts, uncertain), (buckets[OeeCount.Parts], buckets[OeeCount.Uncertain]));
    }

    [Fact]
    public void Buckets_ACutStandardWithoutHandling_CountsTheHandlingAsWhatItTook()
    {
        var buckets = new MadeShift().State("06:00", "06:30", TimelineState.Executing).Cut("06:00", "06:05", "06:25", "06:30", 16, null)
            .Account().Buckets(MadeShift.Between("06:00", "06:30"));

        Assert.Equal((Minutes(16), Minutes(4), Minutes(10)), (buckets[OeeBucket.CuttingAtStandard], buckets[OeeBucket.SlowCutting], buckets[OeeBucket.Handling]));
        Assert.Equal(Minutes(10), buckets[OeeBeside.WithoutStandard]);
        Assert.Equal(1, buckets[OeeCount.WithoutStandard]);
    }

    [Fact]
    public void Buckets_AStopInsideACut_IsAStopAndNotSlowCutting()
    {
        var buckets = new MadeShift()
            .State("06:00", "06:10", TimelineState.Executing).State("06:10", "06:30", TimelineState.OutOfService, reason: "fault 4").State("06:30", "06:45", TimelineState.Executing)
            .Cut("06:00", "06:02", "06:43", "06:45", 21, 25)
            .Account().Buckets(MadeShift.Between("06:00", "06:45"));

        Assert.Equal((Minutes(21), TimeSpan.Zero), (buckets[OeeBucket.CuttingAtStandard], buckets[OeeBucket.SlowCutting]));
        Assert.Equal((Minutes(4), Minutes(20)), (buckets[OeeBucket.Handling], buckets[OeeBucket.StopsByReason]));
        Assert.Equal(1, buckets.Figures.Effectiveness, 1e-12);
    }

    [Fact]
    public void Buckets_ACutThatWasUnseenForAWhile_EarnsItsShareOfWhatWasSeen()
    {
        var account = new MadeShift()
            .State("06:00", "06:10", TimelineState.Executing).State("06:20", "06:40", TimelineState.Executing)
            .Cut("06:00", null, null, "06:40", 20, 20)
            .Account();
        var buckets = account.Buckets(MadeShift.Between("06:00", "06:40"));

        Assert.Equal((Minutes(15), Minutes(15), Minutes(10)), (buckets[OeeBucket.CuttingAtStandard], buckets[OeeBucket.SlowCutting], buckets[OeeBucket.Unknown]));
        Assert.Equal(0.5, buckets.Figures.Effectiveness, 1e-12);
        Assert.Equal(1, buckets.Figures.Availability);
    }

    // Where a cycle is what the head does, clamping and feeding lie before it: 6 minutes of handling by the standard, 2 in the cycle.
    [Fact]
    public void Buckets_HandlingBetweenCycles_TakesWhatTheStandardHasLeft()
    {
        var shift = new MadeShift { HandlingBetweenCycles = true }
            .State("06:00", "06:20", TimelineState.Executing).Cut("06:00", "06:01", "06:19", "06:20", 18, 20)
            .State("06:20", "06:27", TimelineState.NotExecuting)
            .State("06:27", "06:47", TimelineState.Executing).Cut("06:27", "06:28", "06:46", "06:47", 18, 24);
        var account = shift.Account();
        var buckets = account.Buckets(MadeShift.Between("06:00", "06:47"));

        Assert.Equal((Minutes(8), Minutes(3)), (buckets[OeeBucket.Handling], buckets[OeeBucket.ShortStops]));
        Assert.Equal(1, buckets.Figures.Effectiveness, 1e-12);
        Assert.Equal(44 / 47d, buckets.Figures.Availability, 1e-12);
        SameFigures(OeeFigures.Of(account.Elements(MadeShift.Between("06:00", "06:47"))), buckets.Figures);
    }

    [Fact]
    public void Buckets_TheOpenCycle_CountsAsWhatItTakes()
    {
        var shift = new MadeShift { OpenFrom = MadeShift.At("06:20") }.State("06:00", "06:50", TimelineState.Executing).Cut("06:00", "06:01", "06:19", "06:20", 18, 20);
        var buckets = shift.Account().Buckets(MadeShift.Between("06:00", "06:50"));

        Assert.Equal(Minutes(18 + 30), buckets[OeeBucket.CuttingAtStandard]);
        Assert.Equal(1, buckets.Figures.Effectiveness, 1e-12);
        Assert.Equal(1, buckets[OeeCount.Parts]);
    }

    [Fact]
    public void Buckets_AnHourOfTheShift_WeighsAStopAsTheWholeShiftDoes()
    {
        // 8 minutes over the full hour: no hour's part of it is short.
        var account = new MadeShift().State("06:00", "06:56", TimelineState.Executing).State("06:56", "07:04", TimelineState.NotExecuting).State("07:04", "08:00", TimelineState.Executing).Account();

        Assert.Equal(Minutes(4), account.Buckets(MadeShift.Between("06:00", "07:00"))[OeeBucket.StopsByReason]);
        Assert.Equal(Minutes(4), account.Buckets(MadeShift.Between("07:00", "08:00"))[OeeBucket.StopsByReason]);
    }

    [Fact]
    public void Buckets_APartAfterTheShift_IsStatedApart()
    {
        var buckets = new MadeShift().State("08:50", "09:10", TimelineState.Executing).Cut("08:50", "08:51", "09:09", "09:10", 18, 20)
            .Account().Buckets(MadeShift.Shift);

        Assert.Equal((0, 1), (buckets[OeeCount.Parts], buckets[OeeCount.PartsOutside]));
        Assert.Equal(Minutes(10), buckets.PlannedRunTime);
    }

    [Fact]
    public void Account_OfHalfAShift_IsRefused() =>
        Assert.Throws<ArgumentException>(() => new OeeAccount(new OeeInput { Saw = "Saw 1", Calendar = MadeShift.Calendar, Period = MadeShift.Between("06:00", "10:00") }));

    internal static void SameFigures(OeeFigures one, OeeFigures other)
    {
        Same(one.Availability, other.Availability);
        Same(one.Effectiveness, other.Effectiveness);
        Same(one.QualityRatio, other.QualityRatio);
        Same(one.Oee, other.Oee);
        Same(one.UnknownShare, other.UnknownShare);
        Same(one.AvailabilityLow, other.AvailabilityLow);
        Same(one.AvailabilityHigh, other.AvailabilityHigh);
    }

    private static void Same(double one, double other) => Assert.True(double.IsNaN(one) ? double.IsNaN(other) : Math.Abs(one - other) <= 1e-12 * Math.Max(1, Math.Abs(one)), $"{one} and {other}");

    private static TimeSpan Minutes(double minutes) => TimeSpan.FromMinutes(minutes);
}
