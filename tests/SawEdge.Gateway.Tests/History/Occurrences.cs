using System.Reflection;
using System.Runtime.CompilerServices;
using SawEdge.Core.Alarms;

namespace SawEdge.Gateway.Tests.History;

/// <summary>Alarms, events and messages for tests.</summary>
internal static class Occurrences
{
    public static readonly DateTimeOffset Start = Cycles.Start;

    /// <summary>Texts as a controller or a person may send them to do harm.</summary>
    public static readonly string[] Hostile =
    [
        "'; DROP TABLE alarms; --", "\" OR 1=1", "x\" 1\nalarm,saw=evil value=1", "{\"a\":[1,}", "<script>alert(1)</script>", "Größe 锯 \U0001F527", "a\r\nBcc: all@example.org",
        "\\", "ends \\\"", "\t\u0001\u001b[31m", "%s%n{0}{{", new string('x', 10_000), "NaN", "null",
    ];

    /// <summary>The n-th occurrence, raised n minutes after the start.</summary>
    public static Alarm Make(long number, string saw = "north", string rule = "motor_load_high") => new()
    {
        Number = number,
        Rule = rule,
        Subject = AlarmSubject.Saw(saw),
        Severity = AlarmSeverity.High,
        RaisedAt = Start.AddMinutes(number),
        State = AlarmState.Unacknowledged,
        IsActive = true,
        Value = 5.5,
        Limit = 4,
        Unit = "kW",
        Text = "The motor takes 5.5 kW, more than 4 kW.",
    };

    /// <summary>An occurrence in which every property has a value of its own; a property of an unknown type is an error, so that none is forgotten.</summary>
    public static Alarm Full()
    {
        var alarm = (Alarm)RuntimeHelpers.GetUninitializedObject(typeof(Alarm));
        var number = 0;
        foreach (var property in Writable)
        {
            number++;
            var type = Nullable.GetUnderlyingType(property.PropertyType) ?? property.PropertyType;
            object value =
                type == typeof(string) ? $"{property.Name} <{number}> \"'\\,= Größe 锯 \U0001F527"
                : type == typeof(double) ? (number * 1.1) + 1e-9
                : type == typeof(long) ? (1L << 40) + number
                : type == typeof(int) ? 1000 + number
                : type == typeof(bool) ? true
                : type == typeof(DateTimeOffset) ? Start.AddMilliseconds(number)
                : type == typeof(AlarmSubject) ? new AlarmSubject(AlarmSubjectKind.Destination, "influx <1>")
                : type == typeof(AlarmSeverity) ? AlarmSeverity.Medium
                : type == typeof(AlarmState) ? AlarmState.LatchedAcknowledged
                : type == typeof(AlarmVerdict) ? AlarmVerdict.Rejected
                : throw new NotSupportedException($"Give {property.Name} ({type}) a value here, and a column in the history.");
            property.SetValue(alarm, value);
        }

        return alarm;
    }

    /// <summary>The properties of an occurrence that are stored.</summary>
    public static IEnumerable<PropertyInfo> Writable => typeof(Alarm).GetProperties(BindingFlags.Public | BindingFlags.Instance).Where(property => property.CanWrite);

    /// <summary>What happened to an occurrence, some seconds after it was raised.</summary>
    public static AlarmEvent Event(Alarm alarm, AlarmEventKind kind = AlarmEventKind.Raised, int seconds = 0, AlarmState before = AlarmState.Normal, string who = "", string note = "") =>
        new(alarm.RaisedAt.AddSeconds(seconds), kind, alarm.Rule, alarm.Subject, before, alarm.State, alarm, who, note);

    /// <summary>A message about alarms.</summary>
    public static Notice Notice(string channel, params long[] alarms) => new(Start.AddMinutes(1), NoticeKind.Raised, "shift lead", channel, alarms);
}
