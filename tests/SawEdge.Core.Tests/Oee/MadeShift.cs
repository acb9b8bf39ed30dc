using System.Globalization;
using SawEdge.Core.Cycles;
using SawEdge.Core.Oee;

namespace SawEdge.Core.Tests.Oee;

/// <summary>An early shift of a Monday at Riverbend, 06:00 to 14:00 with two breaks, written down by hand.</summary>
internal sealed class MadeShift
{
    public static readonly TimeZoneInfo Zone = TimeZoneInfo.FindSystemTimeZoneById("Europe/Berlin");
    public static readonly IReadOnlySet<DayOfWeek> WorkDays = new HashSet<DayOfWeek> { DayOfWeek.Monday, DayOfWeek.Tuesday, DayOfWeek.Wednesday, DayOfWeek.Thursday, DayOfWeek.Friday };
    private readonly List<StateSegment> _states = [];
    private readonly List<CycleRecord> _cuts = [];

    public static CalendarPlan Plan { get; } = new()
    {
        Zone = Zone,
        Shifts = [new WeeklyShift("early", WorkDays, new TimeOnly(6, 0), new TimeOnly(14, 0), [new(new TimeOnly(9, 0), new TimeOnly(9, 15)), new(new TimeOnly(12, 0), new TimeOnly(12, 30))])],
    };

    public static ShiftCalendar Calendar { get; } = new(Plan);

    public static Period Shift { get; } = Between("06:00", "14:00");

    public OeeSettings Settings { get; set; } = new();

    public List<StopReason> Reasons { get; } = [];

    public List<ScrapEntry> Scrap { get; } = [];

    public bool HandlingBetweenCycles { get; set; }

    public DateTimeOffset? OpenFrom { get; set; }

    public static DateTimeOffset At(string clock) => new(new DateTime(2026, 3, 2).Add(TimeSpan.Parse(clock, CultureInfo.InvariantCulture)), TimeSpan.FromHours(1));

    public static Period Between(string from, string to) => new(At(from), At(to));

    public MadeShift State(string from, string to, TimelineState state, string job = "A-1", string reason = "")
    {
        _states.Add(new StateSegment(At(from), At(to), state, reason, job));
        return this;
    }

    /// <summary>A cycle; the times of the cut may be left out; standards in minutes.</summary>
    public MadeShift Cut(string from, string? cutFrom, string? cutTo, string to, double? standardCut, double? standardCycle, CutOutcome outcome = CutOutcome.Completed, long? partCount = null)
    {
        _cuts.Add(new CycleRecord
        {
            CycleId = "Saw 1-" + from,
            Saw = "Saw 1",
            StartedAt = At(from),
            CutStartedAt = cutFrom is null ? null : At(cutFrom),
            CutEndedAt = cutTo is null ? null : At(cutTo),
            EndedAt = At(to),
            Outcome = outcome,
            Job = "A-1",
            StandardCutTimeS = standardCut * 60,
            StandardCycleTimeS = standardCycle * 60,
            PartCount = partCount,
            Frames = 100,
        });
        return this;
    }

    public OeeAccount Account() => new(new OeeInput
    {
        Saw = "Saw 1",
        Calendar = Calendar,
        Period = Shift,
        States = _states,
        Cuts = _cuts,
        StopReasons = Reasons,
        Scrap = Scrap,
        HandlingBetweenCycles = HandlingBetweenCycles,
        OpenCycleFrom = OpenFrom,
        Settings = Settings,
    });
}
