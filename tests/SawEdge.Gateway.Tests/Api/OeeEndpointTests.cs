using System.Net;
using System.Text.Json;
using SawEdge.Core;
using SawEdge.Core.Cycles;
using SawEdge.Core.Oee;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Tests.History;

namespace SawEdge.Gateway.Tests.Api;

/// <summary>Where the time went, over HTTP: one shift written down by hand.</summary>
public sealed class OeeEndpointTests
{
    private static readonly DateTimeOffset Shift = new(Cycles.Start.UtcDateTime.Date.AddHours(6), TimeSpan.Zero);
    private static readonly string Period = $"from={Shift:yyyy-MM-ddTHH:mm:ssZ}&to={Shift.AddHours(8):yyyy-MM-ddTHH:mm:ssZ}";

    [Fact]
    public async Task Oee_OfAShift_AddsUpAndShowsItsParts()
    {
        await using var api = await FilledAsync();
        var item = (await api.GetAsync($"oee?{Period}&saw=Saw%201&each=shift")).GetProperty("items")[0];

        // 8 h: a cut of an hour whose standard is half an hour, one of an hour that has its standard and is scrap, a fault of an hour, the rest not seen.
        Assert.Equal(8 * 3600, item.GetProperty("plannedBusyTimeS").GetDouble());
        Assert.Equal(8 * 3600, item.GetProperty("bucketsS").EnumerateObject().Sum(bucket => bucket.Value.GetDouble()), 1e-6);
        Assert.Equal(("Saw 1", "early", 2, 1), (item.GetProperty("subject").GetString(), item.GetProperty("label").GetString(), item.GetProperty("counts").GetProperty("parts").GetInt32(), item.GetProperty("counts").GetProperty("scrap").GetInt32()));
        Assert.Equal(1800, item.GetProperty("bucketsS").GetProperty("slowCutting").GetDouble());
        Assert.Equal(3600, item.GetProperty("bucketsS").GetProperty("scrapTime").GetDouble());
        Assert.Equal(5 * 3600, item.GetProperty("bucketsS").GetProperty("unknown").GetDouble());
        Assert.Equal(2 / 3d, item.GetProperty("figures").GetProperty("availability").GetDouble(), 1e-9);
        Assert.Equal(5400 / 7200d, item.GetProperty("figures").GetProperty("effectiveness").GetDouble(), 1e-9);
        Assert.Equal(1 / 3d, item.GetProperty("figures").GetProperty("qualityRatio").GetDouble(), 1e-9);
        Assert.Equal(1800 / 10_800d, item.GetProperty("figures").GetProperty("oee").GetDouble(), 1e-9);
        Assert.Equal("fault 7", item.GetProperty("stops")[0].GetProperty("reason").GetString());
        Assert.Equal(0, item.GetProperty("counter").GetProperty("difference").GetInt32());
    }

    [Theory]
    [InlineData("group", "bay 1")]
    [InlineData("site", "Riverbend")]
    public async Task Oee_OfMoreThanOneSaw_SumsAndNeverAverages(string by, string subject)
    {
        await using var api = await FilledAsync();
        var item = Assert.Single((await api.GetAsync($"oee?{Period}&by={by}")).GetProperty("items").EnumerateArray());

        // Saw 2 was never seen: its planned time is there, and it changes no ratio.
        Assert.Equal((subject, 16 * 3600), (item.GetProperty("subject").GetString(), item.GetProperty("plannedBusyTimeS").GetDouble()));
        Assert.Equal(2 / 3d, item.GetProperty("figures").GetProperty("availability").GetDouble(), 1e-9);
        Assert.Equal(13 / 16d, item.GetProperty("figures").GetProperty("unknownShare").GetDouble(), 1e-9);
        Assert.Equal(JsonValueKind.Null, item.GetProperty("counter").ValueKind);
    }

    [Fact]
    public async Task Oee_OfATimeWithoutAShift_KnowsNothingAndSaysSo()
    {
        await using var api = await FilledAsync();
        var item = (await api.GetAsync($"oee?from={Shift.AddHours(-4):yyyy-MM-ddTHH:mm:ssZ}&to={Shift.AddHours(-3):yyyy-MM-ddTHH:mm:ssZ}")).GetProperty("items")[0];

        Assert.Equal(JsonValueKind.Null, item.GetProperty("figures").GetProperty("oee").ValueKind);
        Assert.Equal(0, item.GetProperty("plannedBusyTimeS").GetDouble());
    }

    [Theory]
    [InlineData("oee", "from", "is missing")]
    [InlineData("oee?from=2026-03-02T06:00:00Z&to=2026-03-02T05:00:00Z", "to", "is not after from")]
    [InlineData("oee?from=2016-03-02T06:00:00Z&to=2026-03-02T05:00:00Z", "to", "ask for 400 days at most")]
    [InlineData("oee?from=2126-03-02T06:00:00Z&to=2127-03-02T05:00:00Z", "from", "lies in the future")]
    [InlineData("oee?from=2026-01-01T00:00:00Z&to=2026-02-01T00:00:00Z&by=machine", "by", "write one of saw, group, site")]
    [InlineData("oee?from=2026-01-01T00:00:00Z&to=2026-02-01T00:00:00Z&saw=Saw%209", "saw", "the saws are Saw 1, Saw 2")]
    [InlineData("timeline?from=2026-01-01T00:00:00Z&to=2026-01-16T00:00:00Z&saw=Saw%201", "to", "ask for 14 days at most")]
    [InlineData("timeline?from=2026-01-01T00:00:00Z&to=2026-01-02T00:00:00Z", "saw", "is missing")]
    [InlineData("stops?from=2026-01-01T00:00:00Z&to=2026-01-02T00:00:00Z&least=-1", "least", "is no number from 0 to 86400")]
    public async Task BadParameters_AreNamedWithWhatWouldBeRight(string path, string parameter, string words)
    {
        await using var api = await ReadingApi.StartAsync();
        var problem = await api.GetAsync(path, HttpStatusCode.BadRequest);

        Assert.Contains(problem.GetProperty("errors").EnumerateArray(), error => error.GetProperty("parameter").GetString() == parameter && error.GetProperty("detail").GetString()!.Contains(words, StringComparison.Ordinal));
    }

    [Fact]
    public async Task Timeline_OfAShift_HasStatesWithTheirBucketsAndCuts()
    {
        await using var api = await FilledAsync();
        var line = await api.GetAsync($"timeline?{Period}&saw=Saw%201");

        Assert.Equal("early", line.GetProperty("shifts")[0].GetProperty("label").GetString());
        Assert.Equal(
            [("executing", "cutting_at_standard"), ("executing", "scrap_time"), ("out_of_service", "stops_by_reason"), ("unknown", "unknown")],
            line.GetProperty("states").EnumerateArray().Select(state => (state.GetProperty("state").GetString()!, state.GetProperty("bucket").GetString()!)));
        Assert.Equal([false, true], line.GetProperty("cuts").EnumerateArray().Select(cut => cut.GetProperty("scrap").GetBoolean()));
        Assert.Equal(2, line.GetProperty("cuts")[0].GetProperty("cutTimeRatio").GetDouble());
    }

    /// <summary>Nights in which the clock changes: of a shift from 22:00 to 06:00 an hour comes twice in autumn and is not there in spring.</summary>
    [Theory]
    [InlineData("2026-10-24T20:00:00Z", 9, "2026-10-25 02:00", 2)]
    [InlineData("2026-03-28T21:00:00Z", 7, "2026-03-29 02:00", 0)]
    public async Task Oee_OfANightInWhichTheClockChanges_HasTheHoursThatPassed(string begin, int hours, string label, int times)
    {
        await using var api = await ReadingApi.StartAsync(ReadingApi.PlanOf(TimeZoneInfo.FindSystemTimeZoneById("Europe/Berlin"), "night", 22, 6));
        var from = DateTimeOffset.Parse(begin, System.Globalization.CultureInfo.InvariantCulture);
        api.Machine.SetUtcNow(from.AddDays(3));
        await api.History.Writer.SaveStatesAsync("Saw 1", [new StateSegment(from, from.AddHours(2.5), TimelineState.Executing), new StateSegment(from.AddHours(2.5), from.AddHours(hours), TimelineState.NotExecuting)], CancellationToken.None);
        var period = $"from={begin}&to={from.AddHours(hours):yyyy-MM-ddTHH:mm:ssZ}&saw=Saw%201";
        var shift = Assert.Single((await api.GetAsync($"oee?{period}&each=shift")).GetProperty("items").EnumerateArray());
        var each = (await api.GetAsync($"oee?{period}&each=hour")).GetProperty("items").EnumerateArray().ToList();

        Assert.Equal(hours * 3600, shift.GetProperty("plannedBusyTimeS").GetDouble());
        Assert.Equal(2.5 / hours, shift.GetProperty("figures").GetProperty("availability").GetDouble(), 1e-12);
        Assert.Equal(hours, each.Count);
        Assert.All(each, hour => Assert.Equal(3600, hour.GetProperty("plannedBusyTimeS").GetDouble()));
        Assert.Equal(times, each.Count(hour => hour.GetProperty("label").GetString() == label));
        Assert.Equal((hours - 2.5) * 3600, each.Sum(hour => hour.GetProperty("stops").EnumerateArray().Sum(stop => stop.GetProperty("timeS").GetDouble())), 1e-6);
    }

    /// <summary>What nobody saw in the middle of a shift, and a whole shift of which nothing is there, are neither uptime nor downtime, and said.</summary>
    [Fact]
    public async Task Oee_OfAHistoryWithGaps_StatesThemAndGuessesNothing()
    {
        await using var api = await ReadingApi.StartAsync();
        api.Machine.SetUtcNow(Shift.AddDays(5));
        await api.History.Writer.SaveStatesAsync(
            "Saw 1",
            [Segment(0, 2, TimelineState.Executing), Segment(2, 3, TimelineState.NotExecuting), Segment(6, 8, TimelineState.NotExecuting), Segment(48, 56, TimelineState.Executing)],
            CancellationToken.None);
        var days = (await api.GetAsync($"oee?from={Shift:yyyy-MM-ddTHH:mm:ssZ}&to={Shift.AddDays(3):yyyy-MM-ddTHH:mm:ssZ}&saw=Saw%201&each=day")).GetProperty("items").EnumerateArray().ToList();
        var states = (await api.GetAsync($"timeline?{Period}&saw=Saw%201")).GetProperty("states").EnumerateArray().Select(state => state.GetProperty("state").GetString()).ToList();

        Assert.Equal([3 * 3600, 8 * 3600, 0], days.Select(day => day.GetProperty("bucketsS").GetProperty("unknown").GetDouble()));
        Assert.All(days, day => Assert.Equal(8 * 3600, day.GetProperty("bucketsS").EnumerateObject().Sum(bucket => bucket.Value.GetDouble()), 1e-6));
        var figures = days[0].GetProperty("figures");
        Assert.Equal((2 / 5d, 2 / 8d, 5 / 8d), (figures.GetProperty("availability").GetDouble(), figures.GetProperty("availabilityLow").GetDouble(), figures.GetProperty("availabilityHigh").GetDouble()));
        Assert.Equal(JsonValueKind.Null, days[1].GetProperty("figures").GetProperty("availability").ValueKind);
        Assert.Equal(1, days[1].GetProperty("figures").GetProperty("unknownShare").GetDouble());
        Assert.Equal(["executing", "not_executing", "unknown", "not_executing"], states);
        Assert.Equal(2, (await api.GetAsync($"stops?{Period}&least=60")).GetProperty("items").GetArrayLength());
    }

    [Fact]
    public async Task Stops_AReasonThatIsEntered_ChangesStopsAndFiguresAtOnce()
    {
        await using var api = await FilledAsync();
        var stop = Assert.Single((await api.GetAsync($"stops?{Period}&least=60")).GetProperty("items").EnumerateArray());
        Assert.Equal(("Saw 1", "fault 7", "down", 3600, JsonValueKind.Null), (stop.GetProperty("saw").GetString(), stop.GetProperty("reason").GetString(), stop.GetProperty("class").GetString(), stop.GetProperty("durationS").GetDouble(), stop.GetProperty("enteredBy").ValueKind));

        var half = new Period(Shift.AddHours(2), Shift.AddHours(2.5));
        await api.History.Writer.EnterStopReasonAsync("Saw 1", new StopReason(half, "blade change", StopClass.Setup, Shift.AddHours(9), "ana"), new AuditEntry("ana", AuditEntry.Command, "stop.reason", "Saw 1"), CancellationToken.None);
        var stops = (await api.GetAsync($"stops?{Period}&least=60")).GetProperty("items").EnumerateArray().ToList();

        Assert.Equal([("blade change", "setup", "setup", "ana"), ("fault 7", "down", "stops_by_reason", null)], stops.Select(one => (one.GetProperty("reason").GetString(), one.GetProperty("class").GetString(), one.GetProperty("bucket").GetString(), one.GetProperty("enteredBy").GetString())));
        Assert.Equal(1800, (await api.GetAsync($"oee?{Period}&saw=Saw%201")).GetProperty("items")[0].GetProperty("bucketsS").GetProperty("setup").GetDouble());
    }

    [Fact]
    public async Task Oee_OfAPastThatDidNotChange_IsNotSentTwice()
    {
        await using var api = await FilledAsync();
        using var first = await api.Http.GetAsync(new Uri($"oee?{Period}", UriKind.Relative));
        using var again = new HttpRequestMessage(HttpMethod.Get, $"oee?{Period}");
        again.Headers.IfNoneMatch.Add(first.Headers.ETag!);
        using var second = await api.Http.SendAsync(again);
        Assert.Equal(HttpStatusCode.NotModified, second.StatusCode);

        await api.History.Writer.SaveStatesAsync("Saw 2", [new StateSegment(Shift, Shift.AddHours(1), TimelineState.Executing)], CancellationToken.None);
        using var changed = new HttpRequestMessage(HttpMethod.Get, $"oee?{Period}");
        changed.Headers.IfNoneMatch.Add(first.Headers.ETag!);
        using var third = await api.Http.SendAsync(changed);
        Assert.Equal(HttpStatusCode.OK, third.StatusCode);
    }

    private static async Task<ReadingApi> FilledAsync()
    {
        var api = await ReadingApi.StartAsync();
        await api.History.Writer.SaveStatesAsync("Saw 1", [Segment(-1, 2, TimelineState.Executing), Segment(2, 3, TimelineState.OutOfService, "fault 7")], CancellationToken.None);
        await api.History.AppendAsync(Cut(-1, 0, 3600, 39));
        await api.History.AppendAsync(Cut(0, 1, 1800, 40));
        await api.History.AppendAsync(Cut(1, 2, 3600, 41));
        await api.History.Writer.EnterScrapAsync("Saw 1", new ScrapEntry(Shift.AddHours(20), "cut 1", Reason: "crooked", Who: "ana"), null, CancellationToken.None);
        return api;
    }

    private static StateSegment Segment(double from, double to, TimelineState state, string reason = "") => new(Shift.AddHours(from), Shift.AddHours(to), state, reason, "A-1");

    private static CycleRecord Cut(double from, double to, double standardS, long count) => new()
    {
        CycleId = $"cut {from}",
        Saw = "Saw 1",
        StartedAt = Shift.AddHours(from),
        CutStartedAt = Shift.AddHours(from),
        CutEndedAt = Shift.AddHours(to),
        EndedAt = Shift.AddHours(to),
        Outcome = CutOutcome.Completed,
        Job = "A-1",
        CutTimeS = 3600,
        StandardCutTimeS = standardS,
        StandardCycleTimeS = standardS,
        CutTimeRatio = 3600 / standardS,
        PartCount = count,
        Frames = 1,
    };
}
