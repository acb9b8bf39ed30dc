using System.Globalization;
using System.Net;
using System.Text;
using SawEdge.Core.Alarms;
using SawEdge.Gateway.Notification.Messages;
using SawEdge.Gateway.Notification.Pictures;

namespace SawEdge.Gateway.Notification.Mail;

/// <summary>
/// A message as HTML for mail programs, phones first: one column, styles at the elements (many programs drop the others), nothing loaded from
/// outside, colours that hold in the dark. Every text is encoded. Pure.
/// </summary>
internal static class MailHtml
{
    private const string Font = "font-family:-apple-system,'Segoe UI',Roboto,Helvetica,Arial,sans-serif;";

    // Where a program knows dark colours it takes these; where not, those at the elements are safe in both, since each text stands on a ground of its own.
    private const string Dark = """
        @media (prefers-color-scheme: dark) {
          .page { background: #16181b !important; }
          .card { background: #212529 !important; color: #e8eaed !important; border-color: #3c4043 !important; }
          .soft { color: #b4bac1 !important; }
          .rule { border-color: #3c4043 !important; }
          .care { background: #3a2f10 !important; color: #ffe7a8 !important; border-color: #b98900 !important; }
          .link { background: #8ab4f8 !important; color: #10151b !important; }
        }
        """;

    /// <summary>Writes it.</summary>
    /// <param name="message">The message.</param>
    /// <param name="pictureIds">Content identities of the pictures by the number of their alarm.</param>
    public static string Write(Message message, IReadOnlyDictionary<long, string> pictureIds)
    {
        var html = new StringBuilder();
        html.Append(CultureInfo.InvariantCulture, $"""
            <!DOCTYPE html>
            <html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1"><meta name="color-scheme" content="light dark"><meta name="supported-color-schemes" content="light dark"><title>{Text(message.Subject)}</title>
            <style>{Dark}</style></head>
            <body class="page" style="margin:0;padding:0;background:#eef0f3;{Font}">
            <div style="max-width:600px;margin:0 auto;padding:12px;">
            <div class="soft" style="color:#4d5358;font-size:13px;line-height:1.45;padding:0 4px 8px;">{Text(message.Lead)}</div>

            """);
        // Of one alarm it stands under what happened; of several on top, where nobody passes it over.
        if (message.Alarms.Count != 1)
            Careful(html, message);
        foreach (var alarm in message.Alarms)
            Write(html, alarm, message, pictureIds.GetValueOrDefault(alarm.Alarm.Number));
        if (message.Alarms.Count == 0)
            Card(html, "#5f6368", $"""<div style="font-size:18px;line-height:1.35;font-weight:600;">{Text(message.Subject)}</div>""");
        if (message.More > 0)
            Card(html, "#5f6368", string.Create(CultureInfo.InvariantCulture, $"And {message.More} more; 'sawedge alarm list' shows all."));
        html.Append(CultureInfo.InvariantCulture, $"""
            <div class="soft" style="color:#4d5358;font-size:12px;line-height:1.45;padding:2px 4px 12px;">{Text(message.Footer)}</div>
            </div></body></html>

            """);
        return html.ToString();
    }

    private static void Write(StringBuilder html, MessageAlarm alarm, Message message, string? pictureId)
    {
        var over = message.Kind == NoticeKind.Cleared || alarm.Alarm.IsClosed;
        var colour = (over, alarm.Alarm.Severity) switch
        {
            (true, _) => "#2e7d32",
            (_, AlarmSeverity.High) => "#b3261e",
            (_, AlarmSeverity.Medium) => "#b35900",
            _ => "#1a5fb4",
        };
        var inside = new StringBuilder();
        inside.Append(CultureInfo.InvariantCulture, $"""
            <div style="margin:0 0 8px;"><span style="display:inline-block;background:{colour};color:#ffffff;font-size:13px;font-weight:700;letter-spacing:.04em;border-radius:4px;padding:3px 9px;">{(over ? "OVER" : Text(alarm.Alarm.Severity.ToName().ToUpperInvariant()))}</span></div>
            <div style="font-size:18px;line-height:1.35;font-weight:600;overflow-wrap:anywhere;">{Text(alarm.Text)}</div>

            """);
        if (alarm.MayBe.Length > 0)
            inside.Append(CultureInfo.InvariantCulture, $"""<div style="font-size:15px;line-height:1.45;margin:8px 0 0;">It may be: {Text(alarm.MayBe)}</div>""").Append('\n');
        if (message.Alarms.Count == 1)
            Careful(inside, message);
        if (alarm.Picture is { } picture && pictureId is not null)
        {
            inside.Append(CultureInfo.InvariantCulture, $"""
                <img src="cid:{Text(pictureId)}" alt="{Text(picture.Words)}" width="544" style="display:block;width:100%;max-width:544px;height:auto;margin:12px 0 4px;border:0;border-radius:6px;background:#ffffff;">
                <div class="soft" style="color:#4d5358;font-size:12px;line-height:1.4;">{Text(LoadPicture.Legend)}</div>

                """);
        }

        inside.Append("""<table role="presentation" cellpadding="0" cellspacing="0" width="100%" style="border-collapse:collapse;margin:12px 0 0;">""");
        foreach (var (name, value) in alarm.Facts)
        {
            inside.Append(CultureInfo.InvariantCulture, $"""
                <tr><td class="soft rule" style="color:#4d5358;font-size:13px;padding:6px 12px 6px 0;vertical-align:top;white-space:nowrap;border-top:1px solid #e2e5e9;">{Text(name)}</td><td class="rule" style="font-size:15px;padding:5px 0;border-top:1px solid #e2e5e9;overflow-wrap:anywhere;word-break:break-word;">{Text(value)}</td></tr>
                """);
        }

        inside.Append("</table>\n");
        if (alarm.Links.Count > 0)
        {
            inside.Append("""<div style="margin:14px 0 0;">""");
            foreach (var link in alarm.Links)
                inside.Append(CultureInfo.InvariantCulture, $"""<a class="link" href="{Text(link.Address.AbsoluteUri)}" style="display:inline-block;background:#1a5fb4;color:#ffffff;text-decoration:none;font-size:15px;font-weight:600;border-radius:6px;padding:11px 14px;margin:0 8px 8px 0;">{Text(link.Words)}</a>""");
            inside.Append("</div>\n");
        }

        Card(html, colour, inside.ToString());
    }

    private static void Careful(StringBuilder html, Message message)
    {
        foreach (var caution in message.Cautions)
            html.Append(CultureInfo.InvariantCulture, $"""<div class="care" style="background:#fff6dc;color:#4a3600;border:1px solid #d9a400;border-radius:8px;padding:10px 12px;margin:12px 0;font-size:15px;line-height:1.45;"><strong>Careful:</strong> {Text(caution)}</div>""").Append('\n');
    }

    private static void Card(StringBuilder html, string colour, string inside) =>
        html.Append(CultureInfo.InvariantCulture, $"""<div class="card" style="background:#ffffff;color:#1f2328;border:1px solid #d5d9de;border-radius:8px;padding:14px 16px;margin:0 0 12px;"><div style="height:5px;background:{colour};border-radius:3px;margin:0 0 12px;font-size:0;line-height:0;">&nbsp;</div>{inside}</div>""").Append('\n');

    private static string Text(string text) => WebUtility.HtmlEncode(text);
}
