using System.Globalization;
using MailKit;
using MailKit.Net.Smtp;
using MailKit.Security;
using MimeKit;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Notification.Messages;

namespace SawEdge.Gateway.Notification.Mail;

/// <summary>Messages as e-mail: one connection each, since alarms are rare. Recipients that the server refuses do not keep it from the others.</summary>
internal sealed class EmailSender(EmailOptions options, TimeProvider time) : IMessageSender
{
    // Several commands, each of which may take the time-out.
    private const int CommandsOfAMail = 6;

    // Who is done with which notice while others of the same message are not; the server's words where it refused it, else empty.
    private readonly Dictionary<(long Notice, string Address), string> _done = [];

    /// <inheritdoc/>
    public string Receiver => string.Create(CultureInfo.InvariantCulture, $"{options.Host}:{options.Port}");

    /// <inheritdoc/>
    public bool Merges => true;

    /// <inheritdoc/>
    public bool ShowsPictures => true;

    /// <inheritdoc/>
    public async Task<SendResult> SendAsync(Message message, CancellationToken cancellation)
    {
        var addresses = options.Recipients.GetValueOrDefault(message.Contact) ?? [];
        if (addresses.Count == 0)
            return new SendResult(SendVerdict.Refused, $"channel '{options.Name}' has no address for contact '{message.Contact}'. Add it to the channel's recipients.");
        List<string> left = [.. addresses.Where(address => message.Notices.Any(notice => !_done.ContainsKey((notice, address))))];

        using var client = new MailClient { Timeout = (int)Math.Min(int.MaxValue, options.Timeout.TotalMilliseconds), CheckCertificateRevocation = false };
        using var timeout = new CancellationTokenSource(options.Timeout * CommandsOfAMail, time);
        using var either = CancellationTokenSource.CreateLinkedTokenSource(timeout.Token, cancellation);
        try
        {
            if (await SendAsync(client, message, left, either.Token) is { } hindrance)
                return hindrance;
        }
        catch (SmtpCommandException) when (client is { AcceptedRecipients.Count: 0, RefusedRecipients.Count: > 0 })
        {
            // The library's way to say that nobody is left; who and why was kept.
        }
        catch (Exception e)
        {
            cancellation.ThrowIfCancellationRequested();
            if (Judge(e, timeout.IsCancellationRequested) is not { } trouble)
                throw;
            return trouble;
        }

        return Settle(client, message, left);
    }

    /// <inheritdoc/>
    public ValueTask DisposeAsync() => ValueTask.CompletedTask;

    // Null where the mail was handed over, to those whom the server accepted.
    private async Task<SendResult?> SendAsync(MailClient client, Message message, List<string> addresses, CancellationToken cancellation)
    {
        if (options.AuthorityFile is not null)
        {
            if (!MailTrust.TryLoad(options.AuthorityFile, out var trust, out var problem))
                return Mend(problem);
            client.ServerCertificateValidationCallback = trust!.Accepts;
        }

        var security = options.Security switch
        {
            MailSecurity.StartTls => SecureSocketOptions.StartTls,
            MailSecurity.Tls => SecureSocketOptions.SslOnConnect,
            MailSecurity.None => SecureSocketOptions.None,
            _ => throw new InvalidOperationException(options.Security.ToString()),
        };
        await client.ConnectAsync(options.Host, options.Port, security, cancellation);
        if (options.User is not null)
            await client.AuthenticateAsync(options.User, options.Password ?? "", cancellation);
        using var mail = MailWriter.Write(message, options.From, addresses, time.GetUtcNow());
        await client.SendAsync(mail, cancellation);
        try
        {
            await client.DisconnectAsync(quit: true, cancellation);
        }
        catch (Exception e) when (e is IOException or ProtocolException or OperationCanceledException)
        {
            // The server has the mail; a bad farewell changes nothing.
        }

        return null;
    }

    // Those who are refused for a while (greylisting) are tried again alone; those refused for good are set aside while the others have it.
    private SendResult Settle(MailClient client, Message message, List<string> addresses)
    {
        var later = new List<string>();
        foreach (var address in addresses)
        {
            var refused = client.RefusedRecipients.TryGetValue(MailboxAddress.Parse(address).Address, out var answer);
            if (refused && !answer.ForGood)
            {
                later.Add($"{address}: {answer.Words}");
                continue;
            }

            foreach (var notice in message.Notices)
                _done[(notice, address)] = refused ? $"{address}: {answer.Words}" : "";
        }

        if (later.Count > 0)
            return Wait($"the server does not take mail yet for {string.Join("; ", later)}.");
        var all = _done.Where(done => message.Notices.Contains(done.Key.Notice)).ToList();
        foreach (var done in all)
            _done.Remove(done.Key);
        var words = all.Select(done => done.Value).Where(value => value.Length > 0).Distinct(StringComparer.Ordinal).ToList();
        var told = $"the server refused {string.Join("; ", words)}";
        return words.Count == 0 ? SendResult.Delivered
            : all.All(done => done.Value.Length > 0) ? new SendResult(SendVerdict.Refused, told)
            : SendResult.Delivered with { PartlyRefused = told };
    }

    // What the library and the runtime throw where a server or the way to it is at fault; null: a mistake of ours.
    private SendResult? Judge(Exception e, bool timedOut) => e switch
    {
        AuthenticationException => Mend($"it does not accept the user '{options.User}' or its password ({Clean(e.Message)}). Check both."),
        SslHandshakeException => Mend(options.Security == MailSecurity.Tls
            ? $"no protected connection came about: {Clean(e.Message.Split('\n')[0])} Check that its certificate is for '{options.Host}' and from an authority that is trusted here ('authorityFile' names one), and that the port expects TLS from the first byte."
            : $"no protected connection came about: {Clean(e.Message.Split('\n')[0])} Check that its certificate is for '{options.Host}' and from an authority that is trusted here ('authorityFile' names one)."),
        NotSupportedException when options.Security == MailSecurity.StartTls && e.Message.Contains("STARTTLS", StringComparison.OrdinalIgnoreCase) => Mend("it does not offer STARTTLS, and mail is not sent in the clear. Choose 'tls' where the port expects it, or 'none' for a relay on the same machine."),
        NotSupportedException => Mend($"it does not offer to log in ({Clean(e.Message)}). Take user and password out, or check the port."),
        SmtpCommandException { ErrorCode: SmtpErrorCode.MessageNotAccepted } command => (int)command.StatusCode >= 500
            ? new SendResult(SendVerdict.Refused, $"the server refused the mail: {(int)command.StatusCode} {Clean(command.Message)}")
            : Wait($"the server does not take the mail now: {(int)command.StatusCode} {Clean(command.Message)}"),
        SmtpCommandException { ErrorCode: SmtpErrorCode.SenderNotAccepted } command when (int)command.StatusCode >= 500 => Mend($"it does not accept the sender '{options.From}': {(int)command.StatusCode} {Clean(command.Message)}. Check 'from', and whether it wants a user and password."),
        SmtpCommandException command when (int)command.StatusCode >= 500 => Mend($"it refuses: {(int)command.StatusCode} {Clean(command.Message)}."),
        SmtpCommandException command => Wait($"it does not take mail now: {(int)command.StatusCode} {Clean(command.Message)}."),
        OperationCanceledException or TimeoutException => Wait(string.Create(CultureInfo.InvariantCulture, $"no answer within {(timedOut ? options.Timeout * CommandsOfAMail : options.Timeout).TotalSeconds:0.###} s.")),
        IOException or ProtocolException or System.Net.Sockets.SocketException or ServiceNotConnectedException => Wait($"no connection: {Clean(e.Message).TrimEnd('.')}."),
        _ => null,
    };

    private static SendResult Wait(string words) => new(SendVerdict.Wait, words);

    private static SendResult Mend(string words) => new(SendVerdict.Mend, words);

    private static string Clean(string words) => ControllerText.CleanUpTo(words.ReplaceLineEndings(" "), 200);
}
