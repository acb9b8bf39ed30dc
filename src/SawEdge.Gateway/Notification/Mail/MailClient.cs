using MailKit.Net.Smtp;
using MimeKit;
using SawEdge.Core.Signals;

namespace SawEdge.Gateway.Notification.Mail;

/// <summary>A connection to a mail server that goes on to the other recipients when the server refuses one.</summary>
internal sealed class MailClient : SmtpClient
{
    /// <summary>Recipients that the server refused for this message, with its words.</summary>
    public Dictionary<string, (bool ForGood, string Words)> RefusedRecipients { get; } = new(StringComparer.OrdinalIgnoreCase);

    /// <summary>Recipients that the server accepted for this message.</summary>
    public HashSet<string> AcceptedRecipients { get; } = new(StringComparer.OrdinalIgnoreCase);

    /// <summary>What a server said in one line.</summary>
    public static string Words(SmtpResponse response) => $"{(int)response.StatusCode} {ControllerText.CleanUpTo(response.Response.ReplaceLineEndings(" "), 200)}";

    /// <inheritdoc/>
    protected override void OnRecipientAccepted(MimeMessage message, MailboxAddress mailbox, SmtpResponse response) => AcceptedRecipients.Add(mailbox.Address);

    /// <inheritdoc/>
    // The library's own would give up for all.
    protected override void OnRecipientNotAccepted(MimeMessage message, MailboxAddress mailbox, SmtpResponse response) =>
        RefusedRecipients[mailbox.Address] = ((int)response.StatusCode >= 500, Words(response));
}
