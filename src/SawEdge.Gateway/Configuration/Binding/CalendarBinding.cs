using System.Globalization;
using SawEdge.Core.Alarms;
using SawEdge.Core.Oee;
using SawEdge.Gateway.Configuration.Binding.Alarms;
using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Configuration.Binding;

/// <summary>The calendar as it was written.</summary>
internal sealed record CalendarDraft(
    Setting<IReadOnlyList<Setting<WeeklyShift>>> Shifts,
    Setting<IReadOnlyList<Setting<ExtraShift>>?> ExtraShifts,
    Setting<IReadOnlyList<Setting<Holiday>>?> Holidays,
    Setting<IReadOnlyList<Setting<PlannedStopDraft>>?> PlannedStops,
    Setting<IReadOnlyList<Setting<FaultDraft>>?> Faults,
    TimeSpan ShortStop);

/// <summary>A planned stop as it was written, by the clock of the plant.</summary>
internal sealed record PlannedStopDraft(Setting<DateTime> From, Setting<DateTime> To, string Reason, IReadOnlyList<Setting<string>>? Saws);

/// <summary>What a fault code means.</summary>
internal sealed record FaultDraft(Setting<int> Code, StopMeaning Meaning);

/// <summary>Declares when the plant means to work.</summary>
internal static class CalendarBinding
{
    private static readonly ListType<ShiftBreak> Breaks = new(new ObjectType<ShiftBreak>("break", "A break of a shift, by the clock of the plant's time zone.", o => new ShiftBreak(
        o.Required("from", HoursBinding.TimeOfDay, "Its begin."),
        o.Required("to", HoursBinding.TimeOfDay, "Its end."))));

    private static readonly ChoiceType<StopClass> Class = new(
        ("delay", StopClass.Delay, "The saw could run."),
        ("down", StopClass.Down, "It could not."),
        ("setup", StopClass.Setup, "A blade, a bar or a job is changed."));

    /// <summary>The calendar.</summary>
    public static ObjectType<CalendarDraft> Type { get; } = new("calendar", "When the plant means to work. Planned busy time is the shifts without breaks, planned stops and holidays; availability and OEE are shares of it.", o => new CalendarDraft(
        o.Required("shifts", new ListType<WeeklyShift>(new ObjectType<WeeklyShift>("shift", "A shift that comes every week.", BindShift), 1, "describe at least one shift: { \"name\": ..., \"from\": ..., \"to\": ... }"), "The shifts of the week."),
        o.Optional("extraShifts", new ListType<ExtraShift>(new ObjectType<ExtraShift>("extraShift", "A shift on one date, holiday or not.", BindExtra)), "Shifts on single dates besides."),
        o.Optional("holidays", new ListType<Holiday>(new ObjectType<Holiday>("holiday", "Days on which no shift of the week begins.", BindHoliday)), "Holidays."),
        o.Optional("plannedStops", new ListType<PlannedStopDraft>(new ObjectType<PlannedStopDraft>("plannedStop", "Time that is planned to stand, as for maintenance.", BindStop)), "Planned stops."),
        o.Optional("faults", new ListType<FaultDraft>(new ObjectType<FaultDraft>("fault", "What a fault code of the controllers means.", BindFault)), "What fault codes mean in the account of time."),
        o.Default("shortStop", ValueTypes.Time("0 s", "60 min"), "5 min", "The longest stop that counts as short as long as nobody explains it.")));

    /// <summary>Puts the calendar together.</summary>
    /// <param name="setting">What was written.</param>
    /// <param name="zone">The plant's time zone.</param>
    /// <param name="saws">The saws.</param>
    /// <param name="findings">Where mistakes go.</param>
    /// <returns>The calendar; null where none was written, or with a mistake.</returns>
    public static CalendarOptions? Resolve(Setting<CalendarDraft?> setting, TimeZoneInfo zone, IReadOnlyList<SawOptions> saws, Findings findings)
    {
        if (setting is not { IsGood: true, Value: { } draft })
            return null;
        var errors = findings.ErrorCount;
        var plan = new CalendarPlan
        {
            Zone = zone,
            Shifts = Values(draft.Shifts.Value),
            ExtraShifts = Values(draft.ExtraShifts.Value),
            Holidays = Values(draft.Holidays.Value),
            PlannedStops = [.. Values(draft.PlannedStops.Value).Select(stop => Resolve(stop, zone, saws, findings)).OfType<PlannedStop>()],
        };
        foreach (var problem in plan.Problems())
            findings.Error(PathOf(draft, problem), problem.Words);
        var meanings = new Dictionary<string, StopMeaning>(StringComparer.Ordinal);
        foreach (var fault in Values(draft.Faults.Value))
        {
            if (!meanings.TryAdd(string.Create(CultureInfo.InvariantCulture, $"fault {fault.Code.Value}"), fault.Meaning))
                findings.Error(fault.Code.Path, string.Create(CultureInfo.InvariantCulture, $"{fault.Code.Value} has a meaning already; keep one of the two"));
        }

        return findings.ErrorCount == errors ? new CalendarOptions(new ShiftCalendar(plan), new OeeSettings { ShortStop = draft.ShortStop, Meanings = meanings }) : null;
    }

    /// <summary>Finds rules on OEE figures where there is no calendar.</summary>
    public static void CheckRules(Setting<CalendarDraft?> calendar, AlarmDraft alarms, Findings findings)
    {
        if (calendar.IsStated)
            return;
        foreach (var rule in alarms.Rules.Where(rule => rule.Value is { InShifts: { IsGood: true, Value: true } }))
            findings.Error(rule.Value!.InShifts.Path, "needs the plant's shifts; describe them under \"calendar\", or write \"hours\"");
        foreach (var rule in alarms.Rules.Where(rule => rule.Value is { Variable: { IsGood: true, Value.Topic: AlarmTopic.Oee } }))
            findings.Error(rule.Value.Variable.Path, "can never raise an alarm: there is no calendar; write \"calendar\" with the shifts, or leave the rule out");
    }

    private static PlannedStop? Resolve(PlannedStopDraft stop, TimeZoneInfo zone, IReadOnlyList<SawOptions> saws, Findings findings)
    {
        foreach (var saw in (stop.Saws ?? []).Where(saw => saw.IsGood && saws.All(known => known?.Name != saw.Value)))
            findings.Error(saw.Path, $"{Words.Quoted(saw.Value)} is no saw of this gateway; {Words.DidYouMean(saw.Value, [.. saws.Where(known => known is not null).Select(known => known.Name)])}");
        if (stop.To.Value <= stop.From.Value)
        {
            findings.Error(stop.To.Path, "does not lie after \"from\"; write when the stop ends");
            return null;
        }

        var time = new Period(ShiftCalendar.MomentOf(zone, stop.From.Value), ShiftCalendar.MomentOf(zone, stop.To.Value));
        return new PlannedStop(time, stop.Reason, stop.Saws?.Select(saw => saw.Value).ToHashSet());
    }

    private static WeeklyShift BindShift(ConfigObject o)
    {
        var name = o.Required("name", ValueTypes.Name("early"), "Its name.");
        var days = o.Optional("days", HoursBinding.Days, "The days on which it begins. Left out: every day.");
        var from = o.Required("from", HoursBinding.TimeOfDay, "Its begin.");
        var to = o.Required("to", HoursBinding.TimeOfDay, "Its end; not after the begin: on the next day.");
        var breaks = o.Optional("breaks", Breaks, "Its breaks.");
        return new WeeklyShift(name, days.Value is { } some ? some.Select(day => day.Value).ToHashSet() : Enum.GetValues<DayOfWeek>().ToHashSet(), from, to, Values(breaks.Value));
    }

    private static ExtraShift BindExtra(ConfigObject o)
    {
        var name = o.Required("name", ValueTypes.Name("extra"), "Its name.");
        var date = o.Required("date", new DateType(), "The date on which it begins.");
        var from = o.Required("from", HoursBinding.TimeOfDay, "Its begin.");
        var to = o.Required("to", HoursBinding.TimeOfDay, "Its end; not after the begin: on the next day.");
        var breaks = o.Optional("breaks", Breaks, "Its breaks.");
        return new ExtraShift(name, date, from, to, Values(breaks.Value));
    }

    private static Holiday BindHoliday(ConfigObject o)
    {
        var date = o.Required("date", new DateType(), "The day, or the first of several.");
        var last = o.OptionalValue("to", new DateType(), "The last day. Left out: one day.");
        var name = o.Required("name", ValueTypes.Text("Christmas"), "What it is called.");
        return new Holiday(date, last.Value ?? date.Value, name);
    }

    private static PlannedStopDraft BindStop(ConfigObject o) => new(
        o.Required("from", new ClockMomentType(), "Its begin, by the clock of the plant."),
        o.Required("to", new ClockMomentType(), "Its end."),
        o.Required("reason", ValueTypes.Text("maintenance"), "Why it stands."),
        o.Optional("saws", new ListType<string>(ValueTypes.Name("Saw 1"), 1, "name a saw, or leave it out: all saws"), "The saws that stand. Left out: all.").Value);

    private static FaultDraft BindFault(ConfigObject o) => new(
        o.Required("code", new IntegerType(1, int.MaxValue, "17"), "The code."),
        new StopMeaning(
            o.Required("reason", ValueTypes.Text("bar change"), "The reason in the plant's words."),
            o.Default("class", Class, "down", "What the time is booked as.")));

    private static string PathOf(CalendarDraft draft, CalendarProblem problem) => problem.Part switch
    {
        CalendarPart.Shift => draft.Shifts.Value[problem.Index].Path,
        CalendarPart.ExtraShift => draft.ExtraShifts.Value![problem.Index].Path,
        _ => draft.Holidays.Value![problem.Index].Path,
    };

    private static List<T> Values<T>(IReadOnlyList<Setting<T>>? list) => [.. (list ?? []).Select(item => item.Value)];
}
