using SawEdge.Core.Alarms;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Formats;
using SawEdge.Gateway.Notification.Messages;

namespace SawEdge.Gateway.Tests.Notification;

public sealed class MessageBuilderTests
{
    [Theory]
    [InlineData(NoticeKind.Raised, "High: saw-1: motor load 7.31 kW in the cut, limit 5.5 kW")]
    [InlineData(NoticeKind.Cleared, "Over: High: saw-1: motor load 7.31 kW in the cut, limit 5.5 kW")]
    [InlineData(NoticeKind.Reminder, "Reminder: High: saw-1: motor load 7.31 kW in the cut, limit 5.5 kW")]
    [InlineData(NoticeKind.Escalated, "Not acknowledged: High: saw-1: motor load 7.31 kW in the cut, limit 5.5 kW")]
    [InlineData(NoticeKind.Test, "Test message from gateway1, Riverbend")]
    public void Build_OneAlarm_SubjectSaysHowUrgentWhichSawAndWhat(NoticeKind kind, string subject) =>
        Assert.Equal(subject, Samples.Message(kind).Subject);

    [Fact]
    public void Build_TextWithoutTheSaw_NamesItOnce() =>
        Assert.Equal("High: saw-1: the blade is dull", Samples.Message(text: "the blade is dull").Subject);

    [Fact]
    public void Build_OneAlarm_TellsFactsInThePlantsUnitsAndTime()
    {
        var alarm = Assert.Single(Samples.Message(units: DisplayUnits.Inch).Alarms);

        Assert.Equal("9.803 hp", alarm.Value);
        Assert.Contains(("Limit", "7.376 hp"), alarm.Facts);
        Assert.Contains(("Raised", "2026-03-02 01:29:00 -05:00"), alarm.Facts);
        Assert.Contains(("Job", "J-1042"), alarm.Facts);
        Assert.Contains(("State", "active, not acknowledged"), alarm.Facts);
    }

    [Fact]
    public void Build_SendsSomebodyToTheMachine_CarriesTheCautionOnceAndTheFooterAlways()
    {
        var message = Samples.Builder().Build(
            [Samples.Notice(NoticeKind.Digest, alarms: [12, 13])], [new AlarmMaterial(Samples.Overload(12)), new AlarmMaterial(Samples.Overload(13, "saw-2"))], waited: false, Samples.Now);

        Assert.Equal([Samples.Caution], message.Cautions);
        Assert.Contains("no safety device", message.Footer, StringComparison.Ordinal);
        Assert.Equal("2 alarms (2 high): saw-1, saw-2", message.Subject);
        Assert.Contains("no safety device", Samples.Message(NoticeKind.Test).Footer, StringComparison.Ordinal);
    }

    [Fact]
    public void Build_ManyAlarms_TheMostUrgentFirstAndTheRestCounted()
    {
        var alarms = Enumerable.Range(1, 50).Select(number => new AlarmMaterial(Samples.Overload(number) with { Severity = number == 50 ? AlarmSeverity.High : AlarmSeverity.Low })).ToList();

        var message = Samples.Builder().Build([Samples.Notice(NoticeKind.Digest, alarms: [.. alarms.Select(item => item.Alarm.Number)])], alarms, waited: false, Samples.Now);

        Assert.Equal(50, message.Alarms[0].Alarm.Number);
        Assert.Equal(MessageBuilder.MostAlarms, message.Alarms.Count);
        Assert.Equal(30, message.More);
        Assert.Contains("And 30 more", PlainText.Write(message), StringComparison.Ordinal);
    }

    [Fact]
    public void Build_SeveralThatWaited_SaysSoWithTheFirstMoment()
    {
        var message = Samples.Builder().Build([Samples.Notice(id: 1), Samples.Notice(NoticeKind.Cleared, 2)], [new AlarmMaterial(Samples.Overload())], waited: true, Samples.Now.AddHours(3));

        Assert.Contains("2 messages, the first from 2026-03-02 01:30:00 -05:00, were held up", message.Lead, StringComparison.Ordinal);
        Assert.Equal([1L, 2], message.Notices);
        Assert.Equal(NoticeKind.Digest, message.Kind);
    }

    [Fact]
    public void Build_SameNotice_HasTheSameIdentityAndAnotherNoticeAnother()
    {
        var id = Samples.Message().Id;

        Assert.Equal(id, Samples.Message(text: "said otherwise now").Id);
        Assert.NotEqual(id, Samples.Message(id: 2).Id);
        Assert.NotEqual(id, Samples.Message(channel: "other").Id);
        Assert.Matches("^msg_[0-9a-f]{24}$", id);
    }

    [Fact]
    public void Build_HostileTexts_AreOneLineEachWithoutControlCharacters()
    {
        var message = Samples.Message(job: Samples.Hostile, text: Samples.Hostile);

        foreach (var text in message.Alarms.SelectMany(alarm => alarm.Facts.Select(fact => fact.Value).Append(alarm.Text)).Append(message.Subject))
            Assert.DoesNotContain(text, c => char.IsControl(c) || c is '\u202E');
        Assert.Contains("\U0001F527 锯", message.Alarms[0].Text, StringComparison.Ordinal);
        Assert.True(message.Subject.Length <= 120);
    }

    [Theory]
    [InlineData(AlarmState.Unacknowledged, true, "Acknowledge,Shelve,Confirm,Reject")]
    [InlineData(AlarmState.Acknowledged, true, "Shelve,Confirm,Reject")]
    [InlineData(AlarmState.ReturnedUnacknowledged, false, "Acknowledge,Confirm,Reject")]
    [InlineData(AlarmState.Normal, false, "Confirm,Reject")]
    public void Links_ByState_OfferWhatCanBeAnswered(AlarmState state, bool active, string actions)
    {
        var links = new AnswerLinks(new LinkSigner(new byte[32]), new AnswerLinkOptions { Listen = new Uri("http://127.0.0.1:1"), Public = new Uri("https://saws.riverbend.example/edge") });

        var found = links.For(Samples.Overload() with { State = state, IsActive = active }, "anna", Samples.Now);

        Assert.Equal(actions, string.Join(',', found.Select(link => link.Action)));
        Assert.All(found, link =>
        {
            Assert.StartsWith("https://saws.riverbend.example/edge/answer/", link.Address.AbsoluteUri, StringComparison.Ordinal);
            Assert.True(new LinkSigner(new byte[32]).TryRead(link.Address.Segments[^1], Samples.Now.AddHours(23), out var read, out _));
            Assert.Equal((12, link.Action, "anna"), (read.Alarm, read.Action, read.Contact));
        });
    }
}
