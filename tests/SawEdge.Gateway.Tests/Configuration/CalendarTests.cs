using SawEdge.Core.Oee;

namespace SawEdge.Gateway.Tests.Configuration;

public sealed class CalendarTests
{
    private const string Good = """
        {
          "shortStop": "3 min",
          "shifts": [
            { "name": "early", "days": [ "mon", "tue", "wed", "thu", "fri" ], "from": "06:00", "to": "14:00", "breaks": [ { "from": "09:00", "to": "09:15" } ] },
            { "name": "night", "days": [ "mon" ], "from": "22:00", "to": "06:00" }
          ],
          "extraShifts": [ { "name": "rush", "date": "2026-03-07", "from": "06:00", "to": "24:00" } ],
          "holidays": [ { "date": "2026-12-24", "to": "2026-12-26", "name": "Christmas" }, { "date": "2026-05-01", "name": "May Day" } ],
          "plannedStops": [ { "from": "2026-03-02 13:30", "to": "2026-03-02T14:30", "reason": "maintenance", "saws": [ "saw-1" ] } ],
          "faults": [ { "code": 17, "reason": "bar change", "class": "setup" } ]
        }
        """;

    public static TheoryData<string, string?, string> Wrong => new()
    {
        { "calendar", "[]", "error calendar: is a list; write an object: { ... }" },
        { "calendar.shifts", null, "error calendar.shifts: is missing; write a list: [ ... ]" },
        { "calendar.shifts", "[]", "error calendar.shifts: is empty; describe at least one shift: { \"name\": ..., \"from\": ..., \"to\": ... }" },
        { "calendar.shifts[0].from", "\"6:00\"", "error calendar.shifts[0].from: '6:00' is no time of day; write for example \"06:00\" or \"22:30\"" },
        { "calendar.shifts[0].to", "\"06:10\"", "error calendar.shifts[0]: its break 09:00 to 09:15 does not lie within the shift, 06:00 to 06:10" },
        { "calendar.shifts[1].days", "[ \"sun\" ]", null! },
        { "calendar.shifts[1].to", "\"06:30\"", "error calendar.shifts[0]: it begins on Tuesday at 06:00, while shift 'night' still runs until 06:30; shifts must not overlap" },
        { "calendar.extraShifts[0].date", "\"2026-03-06\"", "error calendar.extraShifts[0]: it overlaps shift 'early' of 2026-03-06, 06:00 to 14:00; shifts must not overlap" },
        { "calendar.extraShifts[0].date", "\"7 March\"", "error calendar.extraShifts[0].date: '7 March' is no date; write year, month and day, for example \"2026-12-24\"" },
        { "calendar.holidays[0].to", "\"2026-12-23\"", "error calendar.holidays[0]: it ends on 2026-12-23, before it begins; its last day must not be before its first" },
        { "calendar.plannedStops[0].to", "\"2026-03-02 13:30\"", "error calendar.plannedStops[0].to: does not lie after \"from\"; write when the stop ends" },
        { "calendar.plannedStops[0].from", "\"13:30\"", "error calendar.plannedStops[0].from: '13:30' is no date and time of day; write for example \"2026-12-24 13:30\", by the clock of the plant" },
        { "calendar.plannedStops[0].saws[0]", "\"saw-3\"", "error calendar.plannedStops[0].saws[0]: 'saw-3' is no saw of this gateway; did you mean 'saw-1'?" },
        { "calendar.faults[1]", "{ \"code\": 17, \"reason\": \"x\" }", "error calendar.faults[1].code: 17 has a meaning already; keep one of the two" },
        { "calendar.faults[0].class", "\"stop\"", "error calendar.faults[0].class: 'stop' is not known; write \"delay\", \"down\" or \"setup\"" },
    };

    [Theory]
    [MemberData(nameof(Wrong))]
    public void Load_AMistakeInTheCalendar_IsToldWithItsPlace(string path, string? json, string? finding)
    {
        var lines = Sample.Load(Sample.With(("calendar", Good), ("timeZone", "\"Europe/Berlin\""), (path, json))).Lines();

        Assert.Equal(finding is null ? [] : [finding], lines.Where(line => line.Contains("calendar", StringComparison.Ordinal)));
    }

    [Fact]
    public void Load_ACalendar_IsThatOfThePlantsClock()
    {
        var options = Sample.Load(Sample.With(("calendar", Good), ("timeZone", "\"Europe/Berlin\""))).Options();
        var calendar = options.Calendar!.Calendar;
        var monday = Assert.Single(calendar.ShiftsOf(new DateOnly(2026, 3, 2)), shift => shift.Name == "early");

        Assert.Equal(new DateTimeOffset(2026, 3, 2, 5, 0, 0, TimeSpan.Zero), monday.Time.From);
        Assert.Equal(TimeSpan.FromMinutes(465), calendar.PlannedTime(monday.Time));
        Assert.Equal(TimeSpan.FromMinutes(435), calendar.PlannedTime(monday.Time, "saw-1"));
        Assert.Equal(TimeSpan.FromHours(18), Assert.Single(calendar.ShiftsOf(new DateOnly(2026, 3, 7))).Time.Duration);
        Assert.Empty(calendar.ShiftsOf(new DateOnly(2026, 12, 25)));
        Assert.Equal(TimeSpan.FromMinutes(3), options.Calendar.Settings.ShortStop);
        Assert.Equal(new StopMeaning("bar change", StopClass.Setup), options.Calendar.Settings.Meanings["fault 17"]);
    }

    [Fact]
    public void Load_NoCalendar_IsNone() => Assert.Null(Sample.Load(Sample.With("", null)).Options().Calendar);

    [Fact]
    public void Load_ARuleOnOeeWithoutACalendar_IsRefused() =>
        Assert.Contains("error alarms.rules[5].oee: can never raise an alarm: there is no calendar; write \"calendar\" with the shifts, or leave the rule out", Sample.Load(AlarmSample.With(("calendar", null))).Lines());

    [Fact]
    public void Load_ARuleInShiftsWithoutACalendar_IsRefused()
    {
        Assert.Contains(
            "error alarms.rules[0].inShifts: needs the plant's shifts; describe them under \"calendar\", or write \"hours\"",
            Sample.Load(AlarmSample.With(("calendar", null), ("alarms.rules[0].inShifts", "true"))).Lines());
        Assert.True(Sample.Load(AlarmSample.With(("alarms.rules[0].inShifts", "true"))).Options().Alarms.Rules.Single(rule => rule.InShifts && rule.Variable.Topic != SawEdge.Core.Alarms.AlarmTopic.Communication).InShifts);
    }
}
