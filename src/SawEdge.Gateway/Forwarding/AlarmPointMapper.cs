using InfluxDB.Client.Writes;
using SawEdge.Core.Alarms;

namespace SawEdge.Gateway.Forwarding;

/// <summary>Events of alarms as points of the measurement <c>alarm</c>, in line protocol. Pure: the same event gives the same line.</summary>
/// <remarks>
/// <para>Tags are <c>site</c>, <c>gateway</c>, <c>rule</c> and what the alarm is about: its name under the word for its kind, <c>saw</c>,
/// <c>source</c>, <c>destination</c> or <c>channel</c>; for the gateway itself that tag is there already. All of them are bounded by the
/// configuration. The time is the event's; two events of one rule and subject never share a millisecond, so each event is one
/// point however often it is sent.</para>
/// <para>What a query would have to work out is written as a number: <c>announced</c> for how many, <c>open</c> for what stands,
/// <c>active_s</c> and <c>acknowledged_after_s</c> for how long. Who answered and what people remarked stays in the history: a server
/// for figures is no place for names.</para>
/// </remarks>
internal sealed class AlarmPointMapper
{
    /// <summary>Name of the measurement.</summary>
    public const string Measurement = "alarm";

    private readonly string _site;
    private readonly string _gateway;

    /// <summary>A mapper for one gateway.</summary>
    public AlarmPointMapper(string site, string gateway)
    {
        _site = LineText.Tag(site);
        _gateway = LineText.Tag(gateway);
    }

    /// <summary>The line of an event.</summary>
    public string ToLine(AlarmEvent happened)
    {
        var point = PointData.Builder.Measurement(Measurement).Tag("site", _site).Tag("gateway", _gateway).Tag("rule", LineText.Tag(happened.Rule));
        if (happened.Subject.Kind != AlarmSubjectKind.Gateway)
            point.Tag(happened.Subject.Kind.ToName(), LineText.Tag(happened.Subject.Name));

        point.Field("event", happened.Kind.ToName());
        point.Field("state", happened.After.ToName());
        point.Field("announced", Flag(happened is { After: AlarmState.Unacknowledged, Before: not AlarmState.Unacknowledged }));
        point.Field("unannounced", Flag(happened.After is AlarmState.Shelved or AlarmState.SuppressedByDesign or AlarmState.OutOfService));
        // Of something that is shelved or out of service without having been raised there is no occurrence.
        point.Field("active", Flag(happened.Alarm is { IsActive: true }));
        point.Field("acknowledged", Flag(happened.Alarm is { AcknowledgedAt: not null }));
        point.Field("chattering", Flag(happened.Alarm is { IsChattering: true }));
        point.Field("open", Flag(happened.Alarm is { IsClosed: false }));
        if (happened.Who.Length == 0)
            Text(point, "note", happened.Note);
        if (happened.Alarm is { } alarm)
            Occurrence(point, happened, alarm);
        point.Timestamp(happened.At.ToUnixTimeMilliseconds(), PointMapper.Precision);
        return point.ToPointData().ToLineProtocol();
    }

    private static void Occurrence(PointData.Builder point, AlarmEvent happened, Alarm alarm)
    {
        point.Field("alarm", alarm.Number);
        point.Field("severity", alarm.Severity.ToName());
        point.Field("activations", (long)alarm.Activations);
        Number(point, "value", alarm.Value);
        Number(point, "limit_value", alarm.Limit);
        Text(point, "unit", alarm.Unit);
        Text(point, "text", alarm.Text);
        Text(point, "cause", alarm.Cause);
        Text(point, "cycle_id", alarm.CycleId ?? "");
        Text(point, "verdict", alarm.Verdict.ToName());
        if (happened.Kind == AlarmEventKind.Cleared)
            point.Field("active_s", (happened.At - alarm.RaisedAt).TotalSeconds);
        if (happened.Kind == AlarmEventKind.Acknowledged)
            point.Field("acknowledged_after_s", (happened.At - alarm.RaisedAt).TotalSeconds);
    }

    private static long Flag(bool holds) => holds ? 1 : 0;

    private static void Number(PointData.Builder point, string name, double value)
    {
        if (double.IsFinite(value))
            point.Field(name, value);
    }

    private static void Text(PointData.Builder point, string name, string text)
    {
        if (text.Length > 0)
            point.Field(name, LineText.Field(text));
    }
}
