using MimeKit;
using MimeKit.Utils;
using SawEdge.Core.Alarms;
using SawEdge.Gateway.Notification.Messages;

namespace SawEdge.Gateway.Notification.Mail;

/// <summary>A message as a mail: plain text and HTML beside each other, pictures within.</summary>
internal static class MailWriter
{
    /// <summary>Writes it.</summary>
    /// <param name="message">The message.</param>
    /// <param name="from">Address of the sender.</param>
    /// <param name="to">Addresses of those it goes to.</param>
    /// <param name="now">The time.</param>
    public static MimeMessage Write(Message message, string from, IReadOnlyList<string> to, DateTimeOffset now)
    {
        var sender = MailboxAddress.Parse(from);
        var mail = new MimeMessage { Subject = message.Subject, Date = now };
        mail.From.Add(string.IsNullOrEmpty(sender.Name) ? new MailboxAddress($"SawEdge {message.Gateway}", sender.Address) : sender);
        mail.To.AddRange(to.Select(MailboxAddress.Parse));
        // The same at each try: whoever gets it twice sees it once.
        var domain = sender.Domain.Length > 0 ? sender.Domain : "localhost";
        mail.MessageId = $"{message.Id}@{domain}";
        // What comes of one alarm stands together in mail programs.
        if (message.Alarms is [var only] && message.More == 0)
            mail.References.Add(FormattableString.Invariant($"alarm-{only.Alarm.Number}-{only.Alarm.RaisedAt.ToUnixTimeMilliseconds()}@{domain}"));
        // RFC 3834: absence notes must not answer.
        mail.Headers.Add("Auto-Submitted", "auto-generated");
        if (message.Kind != NoticeKind.Cleared && message.Alarms.Any(alarm => alarm.Alarm is { Severity: AlarmSeverity.High, IsActive: true }))
            mail.Importance = MessageImportance.High;

        var body = new BodyBuilder { TextBody = PlainText.Write(message) };
        var ids = new Dictionary<long, string>();
        foreach (var alarm in message.Alarms)
        {
            if (alarm.Picture is not { } picture)
                continue;
            var part = body.LinkedResources.Add(FormattableString.Invariant($"cut-{alarm.Alarm.Number}.png"), picture.Png, new ContentType("image", "png"));
            part.ContentId = MimeUtils.GenerateMessageId(domain);
            part.ContentDisposition = new ContentDisposition(ContentDisposition.Inline) { FileName = part.ContentType.Name };
            ids[alarm.Alarm.Number] = part.ContentId;
        }

        body.HtmlBody = MailHtml.Write(message, ids);
        mail.Body = body.ToMessageBody();
        return mail;
    }
}
