using SawEdge.Core;
using SawEdge.Core.Alarms;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Formats;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Notification.Messages;
using SawEdge.Gateway.Tests.History;

namespace SawEdge.Gateway.Tests.Notification;

/// <summary>Alarms and messages for tests. The plant Riverbend is invented.</summary>
internal static class Samples
{
    public const string Caution = "Stop the saw, isolate it, lock out and tag out by the plant's procedure before opening a guard or touching the blade; the gateway is no safety device; local codes and qualified people decide.";

    public static readonly DateTimeOffset Now = new(2026, 3, 2, 6, 30, 0, TimeSpan.Zero);

    public static readonly TimeZoneInfo Zone = TimeZoneInfo.CreateCustomTimeZone("plant", TimeSpan.FromHours(-5), "plant", "plant");

    /// <summary>A name that a controller may send to do harm, as it is after its cleaning and as it would be without.</summary>
    public const string Hostile = "J-1\r\nBcc: all@riverbend.example\r\n\r\n<script>alert(1)</script> \"'\\ \u202Egnp.exe \U0001F527 锯";

    public static MessageStyle Style(DisplayUnits units = DisplayUnits.Metric) => new("Riverbend", "gateway1", units, Zone);

    public static MessageBuilder Builder(bool links = false, DisplayUnits units = DisplayUnits.Metric) => new(
        Style(units),
        links ? new AnswerLinks(new LinkSigner(new byte[32]), new AnswerLinkOptions { Listen = new Uri("http://127.0.0.1:8087"), Public = new Uri("https://saws.riverbend.example/edge") }) : null);

    public static Alarm Overload(long number = 12, string saw = "saw-1") => new()
    {
        Number = number,
        Rule = "overload",
        Subject = AlarmSubject.Saw(saw),
        Severity = AlarmSeverity.High,
        RaisedAt = Now.AddMinutes(-1),
        State = AlarmState.Unacknowledged,
        IsActive = true,
        Value = 7.31,
        Limit = 5.5,
        Unit = "kW",
        Text = $"{saw}: motor load 7.31 kW in the cut, limit 5.5 kW",
        Cause = "hard_spot",
        MayBe = "A hard spot in the material: scale, a weld or an inclusion at about 61 mm of depth.",
        Caution = Caution,
        CycleId = "saw-1-000012",
    };

    public static CycleRecord Cycle(string job = "J-1042") => Cycles.Make("saw-1", 12) with { Job = job, Material = "42CrMo4", Section = "round 4 in", Blade = "B-17" };

    public static StoredNotice Notice(NoticeKind kind = NoticeKind.Raised, long id = 1, string channel = "mail", string contact = "maintenance", params long[] alarms) =>
        new(id, new Notice(Now, kind, contact, channel, alarms.Length == 0 ? [12] : alarms));

    public static Message Message(NoticeKind kind = NoticeKind.Raised, string channel = "mail", string contact = "maintenance", string job = "J-1042", string? text = null, bool links = true, bool picture = true, DisplayUnits units = DisplayUnits.Metric, long id = 1)
    {
        var alarm = Overload();
        if (text is not null)
            alarm = alarm with { Text = text };
        return Builder(links, units).Build([Notice(kind, id, channel, contact)], kind == NoticeKind.Test ? [] : [new AlarmMaterial(alarm, Cycle(job), picture ? LoadPictureTests.Sample(units) : null)], waited: false, Now);
    }
}
