using System.Globalization;
using MailKit;
using MailKit.Net.Smtp;
using MailKit.Security;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Notification.Messages;

namespace SawEdge.Gateway.Notification.Mail;

/// <summary>Messages as e-mail: one connection each, since alarms are rare. Recipients that the server refuses do not keep it from the others.</summary>
internal sealed class EmailSender(EmailOptions options, TimeProvider time) : IMessageSender
{
    // Several commands, each of which may take the time-out.
    private const int CommandsOfAMail = 6;

    // Who has got which notice already, while others of the same message have not: (number of the notice, address).
    private readonly HashSet<(long Notice, string Address)> _done = [];

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
        List<string> left = [.. addresses.Where(address => message.Notices.Any(notice => !_done.Contains((notice, address))))];

        using var client = new MailClient { Timeout = (int)Math.Min(int.MaxValue, options.Timeout.TotalMilliseconds), CheckCertificateRevocation = false };
        using var timeout = new CancellationTokenSource(options.Timeout * CommandsOfAMail, time);
        using var either = CancellationTokenSource.CreateLinkedTokenSource(timeout.Token, cancellation);
        SendResult result;
        try
        {
            result = await SendAsync(client, message, left, either.Token);
        }
        catch (Exception e) when (e is not (NullReferenceException or ArgumentException))
        {
            cancellation.ThrowIfCancellationRequested();
            if (Judge(e, timeout.IsCancellationRequested) is not { } trouble)
                throw;
            return trouble;
        }

        if (!result.IsTrouble)
            _done.RemoveWhere(done => message.Notices.Contains(done.Notice));
        return result;
    }

    /// <inheritdoc/>
    public ValueTask DisposeAsync() => ValueTask.CompletedTask;

    private async Task<SendResult> SendAsync(MailClient client, Message message, List<string> addresses, CancellationToken cancellation)
    {
        if (options.AuthorityFile is not null)
        {
            if (!MailTrust.TryLoad(options.AuthorityFile, out var trust, out var problem))
                return new SendResult(SendVerdict.Mend, problem);
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

        // From here on the mail is delivered to those who were accepted; a bad farewell changes nothing.
        foreach (var address in addresses.Where(address => client.AcceptedRecipients.Contains(Bare(address)) || client.RefusedRecipients.GetValueOrDefault(Bare(address)).ForGood))
        {
            foreach (var notice in message.Notices)
                _done.Add((notice, address));
        }

        try
        {
            await client.DisconnectAsync(quit: true, cancellation);
        }
        catch (Exception e) when (e is IOException or ProtocolException or OperationCanceledException)
        {
            // See above.
        }

        return Sum(client);
    }

    // Those who are refused for a while (greylisting) are tried again alone; those refused for good are set aside while the others have it.
    private static SendResult Sum(MailClient client)
    {
        var forGood = client.RefusedRecipients.Where(pair => pair.Value.ForGood).Select(pair => $"{pair.Key}: {pair.Value.Words}").ToList();
        var forNow = client.RefusedRecipients.Where(pair => !pair.Value.ForGood).Select(pair => $"{pair.Key}: {pair.Value.Words}").ToList();
        if (forNow.Count > 0)
            return new SendResult(SendVerdict.Wait, $"the server does not take mail for {string.Join("; ", forNow)} yet.");
        if (forGood.Count == 0)
            return SendResult.Delivered;
        var words = $"the server refused {string.Join("; ", forGood)}";
        return client.AcceptedRecipients.Count == 0 ? new SendResult(SendVerdict.Refused, words) : SendResult.Delivered with { PartlyRefused = words };
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

    private static string Bare(string address) => MimeKit.MailboxAddress.Parse(address).Address;

    private static string Clean(string words) => ControllerText.CleanUpTo(words.ReplaceLineEndings(" "), 200);
}
