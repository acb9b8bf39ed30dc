using System.Globalization;
using Microsoft.Extensions.Time.Testing;
using SawEdge.Core.Alarms;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Tests.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Notification;

/// <summary>A channel of e-mail from the journal to a real server.</summary>
public sealed class EmailChannelTests
{
    [PeerFact("/usr/bin/python3", MailServer.Package)]
    public async Task ServerDownForADay_MessagesToOneContactComeInOneThatSaysSo()
    {
        await using var server = await MailServer.StartAsync();
        await server.KillAsync();
        await using var history = new RunningHistory();
        var time = new FakeTimeProvider(DateTimeOffset.UtcNow);
        await StoreAsync(history, "maintenance", 1, 2, 3);
        await StoreAsync(history, "shift lead", 3);
        await using var channel = new RunningChannel(history, Options(server), time);
        await channel.UntilAsync(() => channel.InTrouble, () => "it notices");
        time.Advance(TimeSpan.FromDays(1));
        await StoreAsync(history, "maintenance", 4);
        await server.StartAgainAsync();

        var last = await history.Reader.LastSequenceAsync();
        await channel.ReachesAsync(last, () => time.Advance(TimeSpan.FromSeconds(0.5)));

        // What was tried least goes first, so the order of the two is open.
        var mails = server.Received().ToDictionary(mail => Assert.Single(mail.Recipients));
        Assert.Equal(2, mails.Count);
        Assert.Equal("4 alarms (4 high): saw-1", mails["anna@riverbend.example"].Subject);
        Assert.Contains("4 messages, the first from", mails["anna@riverbend.example"].Text("text/plain"), StringComparison.Ordinal);
        Assert.Contains("This message was held up", mails["ben@riverbend.example"].Text("text/plain"), StringComparison.Ordinal);
        Assert.Equal([7001, 7002, 7004], channel.Log.Entries.Select(entry => entry.Id));
    }

    [PeerFact("/usr/bin/python3", MailServer.Package)]
    public async Task RefusedRecipient_IsADeadLetterWhileTheOthersHaveIt()
    {
        await using var server = await MailServer.StartAsync(refuse: ["anna@riverbend.example=550 no such user"]);
        await using var history = new RunningHistory();
        await StoreAsync(history, "both", 1);
        await using var channel = new RunningChannel(history, Options(server), TimeProvider.System);

        await channel.ReachesAsync(await history.Reader.LastSequenceAsync());

        Assert.Equal(["ben@riverbend.example"], Assert.Single(server.Received()).Recipients);
        Assert.Contains("anna@riverbend.example: 550 no such user", Assert.Single(await history.Reader.RefusalsAsync("mail")).Reason, StringComparison.Ordinal);
    }

    [PeerFact("/usr/bin/python3", MailServer.Package)]
    public async Task AlarmOfACutInTheHistory_ComesWithItsJobAndPicture()
    {
        await using var server = await MailServer.StartAsync();
        await using var history = new RunningHistory();
        await history.Writer.AppendAsync(
            new Gateway.History.FinishedCycle { Record = Samples.Cycle(), Profile = Cycles.Profile(1), Assessment = new Core.Load.LoadAssessment { Score = 6, Profile = LoadPictureTests.Round() } }, CancellationToken.None);
        await StoreAsync(history, "maintenance", 1);
        await using var channel = new RunningChannel(history, Options(server), TimeProvider.System);

        await channel.ReachesAsync(await history.Reader.LastSequenceAsync());

        var mail = Assert.Single(server.Received());
        Assert.Contains(mail.Parts, part => part.Type == "image/png");
        Assert.Contains("Job: J-1042", mail.Text("text/plain"), StringComparison.Ordinal);
        Assert.Contains("Motor load along the depth of the cut", mail.Text("text/html"), StringComparison.Ordinal);
    }

    private static EmailOptions Options(MailServer server) => new()
    {
        Name = "mail",
        Host = "127.0.0.1",
        Port = server.Port,
        Security = MailSecurity.None,
        From = "saws@riverbend.example",
        Recipients = new Dictionary<string, IReadOnlyList<string>> { ["maintenance"] = ["anna@riverbend.example"], ["shift lead"] = ["ben@riverbend.example"], ["both"] = ["anna@riverbend.example", "ben@riverbend.example"] },
    };

    private static Task StoreAsync(RunningHistory history, string contact, params int[] numbers) => RunningChannel.StoreAsync(
        history,
        [.. numbers.Select(number => Occurrences.Event(Samples.Overload(number)))],
        [.. numbers.Select(number => Samples.Notice(channel: "mail", contact: contact, alarms: number).Notice)]);
}
