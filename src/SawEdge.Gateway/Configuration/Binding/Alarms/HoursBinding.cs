using System.Diagnostics.CodeAnalysis;
using System.Globalization;
using SawEdge.Core.Alarms;
using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Configuration.Binding.Alarms;

/// <summary>Declares working hours.</summary>
internal static class HoursBinding
{
    private static readonly ChoiceType<DayOfWeek> Day = new(
        ("mon", DayOfWeek.Monday, "Monday."),
        ("tue", DayOfWeek.Tuesday, "Tuesday."),
        ("wed", DayOfWeek.Wednesday, "Wednesday."),
        ("thu", DayOfWeek.Thursday, "Thursday."),
        ("fri", DayOfWeek.Friday, "Friday."),
        ("sat", DayOfWeek.Saturday, "Saturday."),
        ("sun", DayOfWeek.Sunday, "Sunday."));

    /// <summary>Days of the week.</summary>
    public static readonly ListType<DayOfWeek> Days = new(Day, 1, "write days, for example [ \"mon\", \"tue\" ], or leave it out: every day");

    /// <summary>A time of day; the end of the day is its beginning.</summary>
    public static readonly ConfigType<TimeOnly> TimeOfDay = new TimeOfDayType();

    /// <summary>The spans of the hours.</summary>
    public static ListType<WorkingSpan> Type { get; } = new(
        new ObjectType<WorkingSpan>("hours", "A span of time on some days of the week, by the clock of the plant's time zone.", Bind), 1, "write for example [ { \"days\": [ \"mon\", \"tue\" ], \"from\": \"06:00\", \"to\": \"22:00\" } ]");

    /// <summary>The hours in the zone that holds; null where none were written.</summary>
    public static WorkingHours? Of(Setting<IReadOnlyList<Setting<WorkingSpan>>?> spans, TimeZoneInfo zone) =>
        spans is { IsStated: true, IsGood: true, Value: { } stated } ? new WorkingHours(zone, [.. stated.Select(span => span.Value)]) : null;

    private static WorkingSpan Bind(ConfigObject o)
    {
        var days = o.Optional("days", Days, "The days on which the span begins. Left out: every day.");
        var from = o.Default("from", TimeOfDay, "00:00", "Its begin.");
        var to = o.Default("to", TimeOfDay, "24:00", "Its end; not after the begin: on the next day.");
        return new WorkingSpan(days.Value is { } some ? some.Select(day => day.Value).ToHashSet() : Enum.GetValues<DayOfWeek>().ToHashSet(), from, to);
    }

    private sealed class TimeOfDayType : ConfigType<TimeOnly>
    {
        private readonly TextType _text = new("time of day", "06:00") { Pattern = "^(?:[01][0-9]|2[0-3]):[0-5][0-9]$|^24:00$" };

        public override bool TryRead(SourceNode node, string path, ReadContext context, [MaybeNullWhen(false)] out TimeOnly value)
        {
            value = TimeOnly.MinValue;
            if (!_text.TryRead(node, path, context, out var text))
                return false;
            // The end of a day is the beginning of the next: a span whose end is midnight goes on until then.
            if (text == "24:00" || TimeOnly.TryParseExact(text, "HH:mm", CultureInfo.InvariantCulture, DateTimeStyles.None, out value))
                return true;
            context.Findings.Error(path, $"{Words.Quoted(text)} is no time of day; write for example \"06:00\" or \"22:30\"");
            return false;
        }

        public override TypeDescription Describe() => _text.Describe();
    }
}
