using SawEdge.Core.Cycles;
using SawEdge.Core.Oee;

namespace SawEdge.Core.Tests.Oee;

/// <summary>What must hold whatever happens on a shop floor: made at random, with fixed seeds, in weeks in which clocks change.</summary>
public sealed class OeePropertyTests
{
    private static readonly string[] Zones = ["Europe/Berlin", "America/New_York", "Australia/Lord_Howe", "America/Havana", "Asia/Kathmandu"];
    private static readonly DateTimeOffset[] Changes =
    [
        new(2026, 3, 28, 12, 0, 0, TimeSpan.Zero), new(2026, 3, 7, 12, 0, 0, TimeSpan.Zero), new(2026, 4, 4, 6, 0, 0, TimeSpan.Zero),
        new(2026, 10, 31, 12, 0, 0, TimeSpan.Zero), new(2026, 10, 24, 12, 0, 0, TimeSpan.Zero),
    ];

    public static TheoryData<int> Seeds => [.. Enumerable.Range(1, 120)];

    [Theory]
    [MemberData(nameof(Seeds))]
    public void Buckets_WhateverHappens_SumToThePlannedTimeToTheTick(int seed)
    {
        var input = MadeAtRandom(seed);
        var account = new OeeAccount(input);
        foreach (var part in SplitAtRandom(input.Period, seed))
        {
            var buckets = account.Buckets(part);

            Assert.Equal(input.Calendar.PlannedTime(part, input.Saw), buckets.PlannedBusyTime);
            Assert.Equal(buckets.PlannedBusyTime, buckets.Sum);
            Assert.All(Enum.GetValues<OeeBucket>(), bucket => Assert.True(buckets[bucket] >= TimeSpan.Zero, $"{bucket} is {buckets[bucket]}"));
            Assert.Equal(buckets.Observed, buckets.ActualProductionTime + buckets[OeeBucket.Setup] + buckets[OeeBeside.Delay] + buckets[OeeBeside.Down]);
            Assert.Equal(buckets[OeeBucket.StopsByReason], Sum(buckets.Stops.Where(stop => stop.Class != StopClass.Setup).Select(stop => stop.Time)));
        }
    }

    [Theory]
    [MemberData(nameof(Seeds))]
    public void Figures_WhateverHappens_AreTheSameFromFormulasAndFromBuckets(int seed)
    {
        var input = MadeAtRandom(seed);
        var account = new OeeAccount(input);
        foreach (var part in SplitAtRandom(input.Period, seed).Append(input.Period))
            OeeAccountTests.SameFigures(OeeFigures.Of(account.Elements(part)), account.Buckets(part).Figures);
    }

    [Theory]
    [MemberData(nameof(Seeds))]
    public void Total_OfAllParts_IsTheWhole(int seed)
    {
        var input = MadeAtRandom(seed);
        var account = new OeeAccount(input);
        var whole = account.Buckets(input.Period);

        Same(whole, OeeBuckets.Total(SplitAtRandom(input.Period, seed).Select(account.Buckets)));
        foreach (var grain in Enum.GetValues<OeeGrain>())
            Same(whole, OeeBuckets.Total(OeeRollup.Spans(input.Calendar, input.Period, grain).Select(span => account.Buckets(span.Time))));
    }

    [Theory]
    [MemberData(nameof(Seeds))]
    public void Total_OfSeveralSaws_IsTheSumOfEachAndNotTheMeanOfRatios(int seed)
    {
        var input = MadeAtRandom(seed);
        OeeAccount[] accounts = [new(input), new(MadeAtRandom(seed, "Saw 2") with { Calendar = input.Calendar, Period = input.Period })];
        var site = OeeRollup.Total(accounts, input.Period);
        var elements = accounts.Select(account => account.Elements(input.Period)).ToArray();

        Assert.Equal(Sum(elements.Select(saw => saw.PlannedBusyTime)), site.PlannedBusyTime);
        OeeAccountTests.SameFigures(
            OeeFigures.Of(new OeeElements(site.PlannedBusyTime, Sum(elements.Select(saw => saw.Unknown)), Sum(elements.Select(saw => saw.ActualProductionTime)), Sum(elements.Select(saw => saw.PlannedRunTime)), Sum(elements.Select(saw => saw.GoodRunTime)))),
            site.Figures);
    }

    // Second by second, by the calendar's definition alone and the state of each second: nothing of the account's own way is used.
    [Theory]
    [MemberData(nameof(Seeds))]
    public void Buckets_Unknown_IsEverySecondThatNobodySaw(int seed)
    {
        var input = MadeAtRandom(seed);
        var (unknown, planned) = (0, 0);
        var pieces = input.Calendar.Planned(input.Period, input.Saw).Select(piece => piece.Time).ToArray();
        var at = 0;
        for (var second = input.Period.From; second < input.Period.To; second = second.AddSeconds(1))
        {
            while (at < pieces.Length && pieces[at].To <= second)
                at++;
            if (at == pieces.Length || !pieces[at].Contains(second))
                continue;
            planned++;
            if (!input.States.Any(state => state.State != TimelineState.Unknown && state.From <= second && state.To > second))
                unknown++;
        }

        var buckets = new OeeAccount(input).Buckets(input.Period);
        Assert.Equal(TimeSpan.FromSeconds(planned), buckets.PlannedBusyTime);
        Assert.Equal(TimeSpan.FromSeconds(unknown), buckets[OeeBucket.Unknown]);
    }

    // What cuts that lie wholly in planned time and were seen throughout earn is the sum of their own standards: PRI * PQ of mixed jobs.
    [Theory]
    [MemberData(nameof(Seeds))]
    public void Elements_CutsInPlannedTimeThatWereSeen_EarnTheirStandards(int seed)
    {
        var input = MadeAtRandom(seed) with { HandlingBetweenCycles = false };
        var pieces = input.Calendar.Planned(input.Period, input.Saw);
        var account = new OeeAccount(input);
        foreach (var cut in input.Cuts.Where(cut => cut.Outcome == CutOutcome.Completed && cut.StandardCycleTimeS is not null && cut.StandardCutTimeS is not null))
        {
            var time = new Period(cut.StartedAt, cut.EndedAt);
            var seen = StateTimeline.Of(time, input.States).TimeIn(TimelineState.Executing) == time.Duration;
            if (!seen || time.IsEmpty || !pieces.Any(piece => piece.Time.From <= time.From && piece.Time.To >= time.To))
                continue;

            var expected = TimeSpan.FromSeconds(cut.StandardCycleTimeS!.Value);
            var earned = account.Elements(time).PlannedRunTime;
            Assert.InRange((earned - expected).Ticks, -1, 1); // seconds to ticks, twice
            Assert.Equal(1, account.Buckets(time)[OeeCount.Parts]);
        }
    }

    [Theory]
    [MemberData(nameof(Seeds))]
    public void StateTimeline_OfAnySegments_HasNoGapAndNoOverlap(int seed)
    {
        var input = MadeAtRandom(seed);
        var line = StateTimeline.Of(input.Period, input.States);

        Assert.Equal((input.Period.From, input.Period.To), (line.Segments[0].From, line.Segments[^1].To));
        for (var i = 1; i < line.Segments.Count; i++)
            Assert.Equal(line.Segments[i - 1].To, line.Segments[i].From);
        Assert.All(line.Segments, segment => Assert.True(segment.To > segment.From));
        Assert.All(line.Segments, segment => Assert.Equal(segment, line.At(segment.From)));
        Assert.Equal(line.Segments, StateTimeline.Of(input.Period, line.Segments.Reverse()).Segments);
    }

    private static void Same(OeeBuckets one, OeeBuckets other)
    {
        Assert.Equal(one.PlannedBusyTime, other.PlannedBusyTime);
        Assert.All(Enum.GetValues<OeeBucket>(), bucket => Assert.Equal(one[bucket], other[bucket]));
        Assert.All(Enum.GetValues<OeeBeside>(), beside => Assert.Equal(one[beside], other[beside]));
        Assert.All(Enum.GetValues<OeeCount>(), count => Assert.Equal(one[count], other[count]));
        Assert.Equal(one.Stops.OrderBy(stop => stop.Reason, StringComparer.Ordinal).ThenBy(stop => stop.Class), other.Stops.OrderBy(stop => stop.Reason, StringComparer.Ordinal).ThenBy(stop => stop.Class));
    }

    private static TimeSpan Sum(IEnumerable<TimeSpan> times) => times.Aggregate(TimeSpan.Zero, (sum, time) => sum + time);

    private static List<Period> SplitAtRandom(Period period, int seed)
    {
        var random = new Random(seed);
        var parts = new List<Period>();
        var at = period.From;
        while (at < period.To)
        {
            var next = at.AddTicks(random.NextInt64(1, TimeSpan.TicksPerHour * 5));
            parts.Add(new Period(at, next < period.To ? next : period.To));
            at = parts[^1].To;
        }

        return parts;
    }

    private static ShiftCalendar CalendarAtRandom(Random random, int seed)
    {
        var every = Enum.GetValues<DayOfWeek>().ToHashSet();
        var late = new TimeOnly(14, random.Next(4) * 10);
        var night = new TimeOnly(21 + random.Next(3), 30);
        var end = new TimeOnly(random.Next(1, 6), random.Next(60));
        var stop = Changes[seed % Changes.Length].AddHours(random.Next(30));
        return new ShiftCalendar(new CalendarPlan
        {
            Zone = TimeZoneInfo.FindSystemTimeZoneById(Zones[seed % Zones.Length]),
            Shifts =
            [
                new WeeklyShift("early", every, new TimeOnly(6, 0), random.Next(2) == 0 ? new TimeOnly(14, 0) : late, [new ShiftBreak(new TimeOnly(9, 0), new TimeOnly(9, 20))]),
                new WeeklyShift("late", every, late, night, [new ShiftBreak(new TimeOnly(18, 0), new TimeOnly(18, 30))]),
                new WeeklyShift("night", every, night, end, [new ShiftBreak(new TimeOnly(23, 50), new TimeOnly(0, 20))]),
            ],
            PlannedStops = [new PlannedStop(new Period(stop, stop.AddMinutes(random.Next(90))), "service", random.Next(2) == 0 ? null : new HashSet<string> { "Saw 1" })],
        });
    }

    // Whole seconds, so that the account can be checked second by second; standards and reasons of any fraction.
    private static OeeInput MadeAtRandom(int seed, string saw = "Saw 1")
    {
        var random = new Random((seed * 31) + saw.Length + saw[^1]);
        var calendar = CalendarAtRandom(new Random(seed), seed);
        var begin = Changes[seed % Changes.Length];
        var period = calendar.Widen(new Period(begin, begin.AddHours(30)));
        var from = period.From.AddSeconds(-random.Next(3000));
        var states = new List<StateSegment>();
        for (var at = from; at < period.To.AddHours(1);)
        {
            var to = at.AddSeconds(random.Next(4) == 0 ? random.Next(1, 120) : random.Next(60, 4000));
            var state = (TimelineState)random.Next(5);
            states.Add(new StateSegment(at, to, random.Next(2) == 0 ? TimelineState.Executing : state, state == TimelineState.OutOfService ? "fault " + random.Next(3) : "", random.Next(3) == 0 ? "" : "A-1"));
            at = to.AddSeconds(random.Next(8) switch { 0 => random.Next(2000), 1 => -random.Next((int)(to - at).TotalSeconds), _ => 0 });
        }

        var cuts = new List<CycleRecord>();
        for (var at = from.AddSeconds(random.Next(600)); at < period.To;)
        {
            var length = random.Next(1, 3600);
            var end = at.AddSeconds(length);
            var contact = at.AddSeconds(random.Next(length));
            var through = contact.AddSeconds(random.Next((int)(end - contact).TotalSeconds + 1));
            var standard = random.Next(4) == 0 ? (double?)null : random.NextDouble() * length * 1.5;
            var whole = contact == at || through == end || contact == through || random.Next(5) == 0;
            cuts.Add(new CycleRecord
            {
                CycleId = $"{saw}-{cuts.Count}",
                Saw = saw,
                StartedAt = at,
                CutStartedAt = whole ? null : contact,
                CutEndedAt = whole ? null : through,
                EndedAt = end,
                Outcome = random.Next(3) == 0 ? (CutOutcome)random.Next(7) : CutOutcome.Completed,
                Job = "A-" + random.Next(2),
                StandardCutTimeS = standard,
                StandardCycleTimeS = random.Next(5) == 0 ? null : standard + (random.NextDouble() * 300),
                Frames = 1,
            });
            at = end.AddSeconds(random.Next(3) == 0 ? 0 : random.Next(900));
        }

        return new OeeInput
        {
            Saw = saw,
            Calendar = calendar,
            Period = period,
            States = [.. states.OrderBy(_ => random.Next())],
            Cuts = [.. cuts.OrderBy(_ => random.Next())],
            StopReasons = [.. Enumerable.Range(0, 6).Select(i => ReasonAtRandom(random, period, i))],
            Scrap =
            [
                new ScrapEntry(period.From.AddHours(3), cuts[random.Next(cuts.Count)].CycleId),
                new ScrapEntry(period.From.AddSeconds(random.Next((int)period.Duration.TotalSeconds)), null, random.Next(1, 5), random.Next(2) == 0 ? "A-1" : ""),
            ],
            HandlingBetweenCycles = random.Next(2) == 0,
            OpenCycleFrom = random.Next(2) == 0 ? null : period.To.AddHours(-1),
        };
    }

    private static StopReason ReasonAtRandom(Random random, Period period, int number)
    {
        var from = period.From.AddTicks(random.NextInt64(period.Duration.Ticks));
        return new StopReason(new Period(from, from.AddTicks(random.NextInt64(TimeSpan.TicksPerHour * 4))), "reason " + random.Next(3), (StopClass)random.Next(3), period.To.AddMinutes(random.Next(60) + number), "ana");
    }
}
