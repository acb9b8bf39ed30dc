using SawEdge.Core.Alarms;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Notification;
using SawEdge.Gateway.Notification.Mail;
using SawEdge.Gateway.Notification.Messages;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Notification;

/// <summary>Mails to a real server, read by Python's own mail package.</summary>
public sealed class EmailSenderTests
{
    private const string Anna = "anna@riverbend.example";
    private const string Ben = "ben@riverbend.example";

    [PeerFact("/usr/bin/python3", MailServer.Package)]
    public async Task SendAsync_AnAlarm_ArrivesAsTextAndHtmlWithItsPictureWithin()
    {
        await using var server = await MailServer.StartAsync();
        var message = Samples.Message();

        Assert.Equal(SendResult.Delivered, await SendAsync(server, message));

        var mail = Assert.Single(server.Received());
        Assert.Empty(mail.Defects);
        Assert.Equal([Anna, Ben], mail.Recipients);
        Assert.Equal(message.Subject, mail.Subject);
        Assert.Equal($"<{message.Id}@riverbend.example>", mail.MessageId);
        Assert.Equal("auto-generated", mail.Headers["Auto-Submitted"]);
        Assert.Equal("high", mail.Headers["Importance"]);
        Assert.Equal(["multipart/alternative", "text/plain", "multipart/related", "text/html", "image/png"], mail.Parts.Select(part => part.Type));
        var (plain, html, picture) = (mail.Text("text/plain"), mail.Text("text/html"), mail.Parts[4]);
        Assert.Contains(Samples.Caution, plain, StringComparison.Ordinal);
        Assert.Contains("Limit: 5.5 kW", plain, StringComparison.Ordinal);
        Assert.Contains("https://saws.riverbend.example/edge/answer/", plain, StringComparison.Ordinal);
        Assert.Contains($"cid:{picture.ContentId.Trim('<', '>')}", html, StringComparison.Ordinal);
        Assert.Equal("inline", picture.Disposition);
        Assert.Equal(message.Alarms[0].Picture!.Png.Length, picture.Bytes);
        Assert.DoesNotContain("src=\"http", html, StringComparison.Ordinal);
    }

    [PeerFact("/usr/bin/python3", MailServer.Package)]
    public async Task SendAsync_HostileNames_AddNoHeaderNoRecipientAndNoHtml()
    {
        await using var server = await MailServer.StartAsync();

        await SendAsync(server, Samples.Message(job: Samples.Hostile, text: Samples.Hostile));
        await SendAsync(server, Samples.Message());

        var received = server.Received();
        var (hostile, usual) = (received[0], received[1]);
        Assert.Empty(hostile.Defects);
        Assert.Equal(usual.HeaderNames, hostile.HeaderNames);
        Assert.Equal([Anna, Ben], hostile.Recipients);
        Assert.DoesNotContain("Bcc", hostile.HeaderNames);
        Assert.StartsWith("High: saw-1: J-1 Bcc: all@riverbend.example", hostile.Subject, StringComparison.Ordinal);
        var html = hostile.Text("text/html");
        Assert.Contains("&lt;script&gt;alert(1)&lt;/script&gt;", html, StringComparison.Ordinal);
        Assert.DoesNotContain("<script", html, StringComparison.OrdinalIgnoreCase);
        Assert.DoesNotContain("\u202E", html + hostile.Text("text/plain") + hostile.Subject, StringComparison.Ordinal);
        Assert.Contains("锯", hostile.Text("text/plain"), StringComparison.Ordinal);
        Assert.Contains("\U0001F527", hostile.Subject, StringComparison.Ordinal);
    }

    [PeerFact("/usr/bin/python3", MailServer.Package)]
    public async Task SendAsync_StartTlsAndLogin_ArrivesSecuredAndLoggedIn()
    {
        await using var server = await MailServer.StartAsync(MailServerSecurity.StartTls, "sawedge", "hush");

        Assert.Equal(SendResult.Delivered, await SendAsync(server, Samples.Message(), options => options with { Security = MailSecurity.StartTls, AuthorityFile = server.AuthorityFile, User = "sawedge", Password = "hush" }));

        var mail = Assert.Single(server.Received());
        Assert.True(mail.Secured);
        Assert.Equal("sawedge", mail.User);
    }

    [PeerFact("/usr/bin/python3", MailServer.Package)]
    public async Task SendAsync_TlsFromTheFirstByte_ArrivesSecured()
    {
        await using var server = await MailServer.StartAsync(MailServerSecurity.Tls);

        Assert.Equal(SendResult.Delivered, await SendAsync(server, Samples.Message(), options => options with { Security = MailSecurity.Tls, AuthorityFile = server.AuthorityFile }));

        Assert.True(Assert.Single(server.Received()).Secured);
    }

    [PeerFact("/usr/bin/python3", MailServer.Package)]
    public async Task SendAsync_CertificateOfAnotherAuthorityOrName_IsNotTrusted()
    {
        await using var server = await MailServer.StartAsync(MailServerSecurity.StartTls, name: "mail.elsewhere.example");
        await using var other = await MailServer.StartAsync();

        foreach (var authority in new[] { null, other.AuthorityFile, server.AuthorityFile })
        {
            var result = await SendAsync(server, Samples.Message(), options => options with { Security = MailSecurity.StartTls, AuthorityFile = authority });
            Assert.Equal(SendVerdict.Mend, result.Verdict);
            Assert.Contains("authorityFile", result.Words, StringComparison.Ordinal);
        }

        Assert.Empty(server.Received());
    }

    [PeerFact("/usr/bin/python3", MailServer.Package)]
    public async Task SendAsync_AuthorityFileThatIsNone_IsTold()
    {
        await using var server = await MailServer.StartAsync(MailServerSecurity.StartTls);
        using var folder = new TempFolder();
        await File.WriteAllTextAsync(folder.File("empty.pem"), "nothing");

        foreach (var file in new[] { folder.File("empty.pem"), folder.File("missing.pem") })
        {
            var result = await SendAsync(server, Samples.Message(), options => options with { Security = MailSecurity.StartTls, AuthorityFile = file });
            Assert.Equal(SendVerdict.Mend, result.Verdict);
            Assert.Contains(file, result.Words, StringComparison.Ordinal);
        }
    }

    [PeerFact("/usr/bin/python3", MailServer.Package)]
    public async Task SendAsync_WrongPassword_NeedsMendingAndNeverNamesIt()
    {
        await using var server = await MailServer.StartAsync(MailServerSecurity.StartTls, "sawedge", "hush");

        var result = await SendAsync(server, Samples.Message(), options => options with { Security = MailSecurity.StartTls, AuthorityFile = server.AuthorityFile, User = "sawedge", Password = "wrong-secret" });

        Assert.Equal(SendVerdict.Mend, result.Verdict);
        Assert.Contains("user 'sawedge' or its password", result.Words, StringComparison.Ordinal);
        Assert.DoesNotContain("wrong-secret", result.Words, StringComparison.Ordinal);
    }

    [PeerFact("/usr/bin/python3", MailServer.Package)]
    public async Task SendAsync_ServerWithoutStartTls_IsNeverSentToInTheClear()
    {
        await using var server = await MailServer.StartAsync();

        var result = await SendAsync(server, Samples.Message(), options => options with { Security = MailSecurity.StartTls });

        Assert.Equal(SendVerdict.Mend, result.Verdict);
        Assert.Contains("does not offer STARTTLS", result.Words, StringComparison.Ordinal);
        Assert.Empty(server.Received());
    }

    [PeerFact("/usr/bin/python3", MailServer.Package)]
    public async Task SendAsync_OneRecipientRefused_TheOthersGetItAndItIsTold()
    {
        await using var server = await MailServer.StartAsync(refuse: [$"{Anna}=550 5.1.1 no such user"]);

        var result = await SendAsync(server, Samples.Message());

        Assert.Equal(SendVerdict.Delivered, result.Verdict);
        Assert.Contains($"{Anna}: 550 5.1.1 no such user", result.PartlyRefused, StringComparison.Ordinal);
        Assert.Equal([Ben], Assert.Single(server.Received()).Recipients);
    }

    [PeerFact("/usr/bin/python3", MailServer.Package)]
    public async Task SendAsync_AllRecipientsRefused_IsRefused()
    {
        await using var server = await MailServer.StartAsync(refuse: [$"{Anna}=550 no", $"{Ben}=551 gone"]);

        var result = await SendAsync(server, Samples.Message());

        Assert.Equal(SendVerdict.Refused, result.Verdict);
        Assert.Contains(Ben, result.Words, StringComparison.Ordinal);
        Assert.Empty(server.Received());
    }

    [PeerFact("/usr/bin/python3", MailServer.Package)]
    public async Task SendAsync_OneRecipientNotYet_IsTriedAgainForThatOneOnly()
    {
        await using var server = await MailServer.StartAsync(refuse: [$"{Anna}=450 4.2.0 come back later once"]);
        await using var sender = Sender(server);

        var first = await sender.SendAsync(Samples.Message(), default);
        var second = await sender.SendAsync(Samples.Message(), default);

        Assert.Equal(SendVerdict.Wait, first.Verdict);
        Assert.Contains("450 4.2.0 come back later", first.Words, StringComparison.Ordinal);
        Assert.Equal(SendResult.Delivered, second);
        Assert.Equal([Ben, Anna], server.Received().Select(mail => Assert.Single(mail.Recipients)));
        Assert.Single(server.Received().Select(mail => mail.MessageId).Distinct());
    }

    [PeerFact("/usr/bin/python3", MailServer.Package)]
    public async Task SendAsync_MailItselfRefused_IsRefusedOrTriedAgainByItsCode()
    {
        await using var strict = await MailServer.StartAsync(refuse: ["DATA=554 5.7.1 looks like advertising"]);
        await using var full = await MailServer.StartAsync(refuse: ["DATA=452 4.3.1 the disk is full"]);

        var refused = await SendAsync(strict, Samples.Message());
        Assert.Equal(SendVerdict.Refused, refused.Verdict);
        Assert.Contains("looks like advertising", refused.Words, StringComparison.Ordinal);
        Assert.Equal(SendVerdict.Wait, (await SendAsync(full, Samples.Message())).Verdict);
    }

    [PeerFact("/usr/bin/python3", MailServer.Package)]
    public async Task SendAsync_NobodyThere_IsTriedAgain()
    {
        await using var server = await MailServer.StartAsync();
        await server.KillAsync();

        var result = await SendAsync(server, Samples.Message());

        Assert.Equal(SendVerdict.Wait, result.Verdict);
        Assert.Contains("refused", result.Words, StringComparison.Ordinal);
    }

    [Fact]
    public async Task SendAsync_ServerThatSaysNothing_EndsWithItsTimeout()
    {
        using var listener = new System.Net.Sockets.TcpListener(System.Net.IPAddress.Loopback, 0);
        listener.Start();
        var options = new EmailOptions { Name = "mail", Host = "127.0.0.1", Port = ((System.Net.IPEndPoint)listener.LocalEndpoint).Port, Security = MailSecurity.None, From = "saws@riverbend.example", Timeout = TimeSpan.FromMilliseconds(300), Recipients = To };
        await using var sender = new EmailSender(options, TimeProvider.System);

        var result = await sender.SendAsync(Samples.Message(), default);

        Assert.Equal(SendVerdict.Wait, result.Verdict);
    }

    [Fact]
    public async Task SendAsync_ContactWithoutAddress_IsRefusedWithWhatToDo()
    {
        await using var sender = new EmailSender(new EmailOptions { Name = "mail", Host = "127.0.0.1", From = "saws@riverbend.example" }, TimeProvider.System);

        var result = await sender.SendAsync(Samples.Message(), default);

        Assert.Equal(SendVerdict.Refused, result.Verdict);
        Assert.Contains("no address for contact 'maintenance'", result.Words, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData(NoticeKind.Raised)]
    [InlineData(NoticeKind.Cleared)]
    [InlineData(NoticeKind.Test)]
    public void Html_OfAnyKind_IsOneColumnAndLoadsNothing(NoticeKind kind)
    {
        var html = MailHtml.Write(Samples.Message(kind), new Dictionary<long, string> { [12] = "cut@x" });

        Assert.DoesNotContain("http://", html, StringComparison.Ordinal);
        Assert.DoesNotContain("<link", html, StringComparison.OrdinalIgnoreCase);
        Assert.DoesNotContain("url(", html, StringComparison.OrdinalIgnoreCase);
        Assert.Contains("color-scheme", html, StringComparison.Ordinal);
        // For looking at it: a folder in which the page is left with its picture.
        if (Environment.GetEnvironmentVariable("SAWEDGE_TEST_PAGES") is { Length: > 0 } folder)
        {
            File.WriteAllText(Path.Combine(folder, $"{kind}.html"), html.Replace("cid:cut@x", "cut.png", StringComparison.Ordinal));
            File.WriteAllBytes(Path.Combine(folder, "cut.png"), LoadPictureTests.Sample().Png);
            File.WriteAllBytes(Path.Combine(folder, "cut-inch.png"), LoadPictureTests.Sample(DisplayUnits.Inch).Png);
        }
    }

    private static readonly Dictionary<string, IReadOnlyList<string>> To = new() { ["maintenance"] = [Anna, Ben] };

    private static EmailSender Sender(MailServer server, Func<EmailOptions, EmailOptions>? change = null)
    {
        var options = new EmailOptions { Name = "mail", Host = "127.0.0.1", Port = server.Port, Security = MailSecurity.None, From = "saws@riverbend.example", Recipients = To };
        return new EmailSender(change?.Invoke(options) ?? options, TimeProvider.System);
    }

    private static async Task<SendResult> SendAsync(MailServer server, Message message, Func<EmailOptions, EmailOptions>? change = null)
    {
        await using var sender = Sender(server, change);
        return await sender.SendAsync(message, default);
    }
}
