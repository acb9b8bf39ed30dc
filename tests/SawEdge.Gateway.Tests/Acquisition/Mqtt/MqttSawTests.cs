using System.Globalization;
using System.Text;
using Microsoft.Extensions.Time.Testing;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition;
using SawEdge.Gateway.Acquisition.Mqtt;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Tests.History;

namespace SawEdge.Gateway.Tests.Acquisition.Mqtt;

public sealed class MqttSawTests
{
    private static readonly DateTimeOffset Start = new(2026, 3, 2, 6, 0, 0, TimeSpan.Zero);

    private readonly FakeTimeProvider _time = new(Start);
    private readonly CollectedLog _log = new();
    private readonly SawInbox _inbox = new("saw-1");

    [Fact]
    public void Topics_BurstOfSignals_IsOneFrameAtItsFirst()
    {
        using var saw = NewSaw(Published.Topics());
        Send(saw, Signal.HeadPosition, "250.5");
        Advance(5);
        Send(saw, Signal.MotorLoad, "1.5");
        Send(saw, Signal.Cutting, "true");
        Advance(14);
        Assert.Empty(_inbox.Drain());
        Advance(1);

        var frame = Assert.Single(_inbox.Drain());
        Assert.Equal(Start, frame.Time);
        Assert.Equal(250.5, frame.Number(Signal.HeadPosition));
        Assert.Equal(1.5, frame.Number(Signal.MotorLoad));
        Assert.True(frame.Flag(Signal.Cutting));
        Assert.Equal(SignalQuality.NotRead, frame.QualityOf(Signal.Job));
    }

    [Fact]
    public void Topics_SameSignalAgain_BeginsTheNextFrame()
    {
        using var saw = NewSaw(Published.Topics());
        Send(saw, Signal.HeadPosition, "3");
        Send(saw, Signal.MotorLoad, "1");
        Advance(4);
        Send(saw, Signal.HeadPosition, "2");
        Advance(4);
        Send(saw, Signal.HeadPosition, "1");
        Advance(100);

        var frames = _inbox.Drain();
        Assert.Equal([3.0, 2.0, 1.0], frames.Select(frame => frame.Number(Signal.HeadPosition)));
        Assert.Equal([0.0, 4.0, 8.0], frames.Select(frame => (frame.Time - Start).TotalMilliseconds));
    }

    [Fact]
    public void Topics_PublishedOnlyWhenChanged_LatestValuesStand()
    {
        using var saw = NewSaw(Published.Topics());
        Send(saw, Signal.Job, "J-1");
        Send(saw, Signal.Cutting, "1");
        Send(saw, Signal.MotorLoad, "4");
        Advance(600_000);
        Send(saw, Signal.HeadPosition, "9");
        Advance(20);

        var frame = _inbox.Drain()[^1];
        Assert.Equal("J-1", frame.Text(Signal.Job));
        Assert.True(frame.Flag(Signal.Cutting));
        Assert.Equal(4, frame.Number(Signal.MotorLoad));
    }

    [Fact]
    public void Topics_HoldForPassed_ValueIsNotRead()
    {
        using var saw = NewSaw(Published.Topics() with { HoldFor = TimeSpan.FromMilliseconds(500) });
        Send(saw, Signal.MotorLoad, "4");
        Advance(500);
        Send(saw, Signal.HeadPosition, "9");
        Advance(20);
        Send(saw, Signal.HeadPosition, "8");
        Advance(20);

        var frames = _inbox.Drain();
        Assert.Equal([SignalQuality.Good, SignalQuality.Good, SignalQuality.NotRead], frames.Select(frame => frame.QualityOf(Signal.MotorLoad)));
    }

    [Fact]
    public void Topics_RetainedMessages_OnlyWhoAndWhatIsTakenOver()
    {
        using var saw = NewSaw(Published.Topics());
        foreach (var (signal, payload) in new[] { (Signal.HeadPosition, "1"), (Signal.MotorLoad, "2"), (Signal.Cutting, "true"), (Signal.Job, "J-1"), (Signal.PartCount, "7") })
            Send(saw, signal, payload, isRetained: true);
        Advance(1000);
        Assert.Empty(_inbox.Drain());

        Send(saw, Signal.MotorLoad, "3");
        Advance(20);
        var frame = Assert.Single(_inbox.Drain());
        Assert.Equal("J-1", frame.Text(Signal.Job));
        Assert.Equal(7, frame.Number(Signal.PartCount));
        Assert.Equal(3, frame.Number(Signal.MotorLoad));
        Assert.Equal(SignalQuality.NotRead, frame.QualityOf(Signal.HeadPosition));
        Assert.Equal(SignalQuality.NotRead, frame.QualityOf(Signal.Cutting));
    }

    [Theory]
    [InlineData("abc", SignalQuality.Invalid)]
    [InlineData("{\"v\":1}", SignalQuality.Invalid)]
    [InlineData("", SignalQuality.NotRead)]
    [InlineData(" 12.5\n", SignalQuality.Good)]
    public void Topics_Payload_HasItsQuality(string payload, SignalQuality quality)
    {
        using var saw = NewSaw(Published.Topics());
        Send(saw, Signal.MotorLoad, payload);
        Advance(20);
        Assert.Equal(quality, Assert.Single(_inbox.Drain()).QualityOf(Signal.MotorLoad));
        Assert.Equal(quality == SignalQuality.Invalid ? 1 : 0, _log.Count(2207));
    }

    [Fact]
    public void Topics_BesideAFrame_ComeWithTheNextFrame()
    {
        var source = Published.Json() with { Signals = [.. Published.Json().Signals, new MqttMapping { Signal = Signal.BarId, Topic = "hall/scanner" }] };
        using var saw = NewSaw(source);
        saw.Receive("hall/scanner", Signalled(saw, Signal.BarId), "B-7"u8, MessageMarks.None);
        Advance(1000);
        Assert.Empty(_inbox.Drain());
        SendFrame(saw, Json(Start));
        Assert.Equal("B-7", Assert.Single(_inbox.Drain()).Text(Signal.BarId));
    }

    [Fact]
    public void Json_TimeOfThePayload_IsTheFrames()
    {
        using var saw = NewSaw(Published.Json());
        SendFrame(saw, Json(Start.AddHours(-2)));
        SendFrame(saw, """{"load":1,"time":1772431200500}""");
        Assert.Equal([Start.AddHours(-2), Start.AddMilliseconds(500)], _inbox.Drain().Select(frame => frame.Time));
        Assert.Empty(_log.Entries);
    }

    [Theory]
    [InlineData("\"1970-01-01T00:00:12Z\"", "1970-01-01T00:00:12Z, far behind")]
    [InlineData("\"2027-03-02T06:00:00Z\"", "2027-03-02T06:00:00Z, far ahead of")]
    [InlineData("12", "1970-01-01T00:00:12Z, far behind")]
    [InlineData("\"06:00\"", "is no time")]
    [InlineData("null", "is no time")]
    [InlineData("\"2026-03-02T06:00:00\"", "is no time")]
    public void Json_TimeThatCannotBe_IsReplacedByArrivalAndSaidOnce(string time, string message)
    {
        using var saw = NewSaw(Published.Json());
        for (var i = 0; i < 50; i++)
        {
            SendFrame(saw, $$"""{"load":{{i}},"time":{{time}}}""");
            Advance(100);
        }

        Assert.Equal(Enumerable.Range(0, 50).Select(i => Start.AddMilliseconds(100 * i)), _inbox.Drain().Select(frame => frame.Time));
        Assert.Contains(message, Assert.Single(_log.Entries).Text, StringComparison.Ordinal);
    }

    [Fact]
    public void Json_Retained_CountsOnlyWithATimeOfItsOwnThatIsNew()
    {
        using var timeless = NewSaw(Published.Json(time: null));
        SendFrame(timeless, """{"load":1}""", isRetained: true);
        Assert.Empty(_inbox.Drain());

        using var timed = NewSaw(Published.Json());
        SendFrame(timed, Json(Start.AddSeconds(-10)), isRetained: true);
        SendFrame(timed, Json(Start.AddSeconds(-10)), isRetained: true);
        SendFrame(timed, """{"load":1,"time":"1970-01-01T00:00:00Z"}""", isRetained: true);
        SendFrame(timed, "", isRetained: true);
        Assert.Single(_inbox.Drain());
        Assert.Empty(_log.Entries);
    }

    [Fact]
    public void Json_SentAgain_IsOneFrameAndCountedAndSaidOnce()
    {
        using var saw = NewSaw(Published.Json());
        string[] payloads = [.. Enumerable.Range(0, 50).Select(i => Json(Start.AddMilliseconds(100 * i)))];
        foreach (var payload in payloads)
            SendFrame(saw, payload);

        // After a reconnect a broker sends again what was not acknowledged, and marks it.
        foreach (var payload in payloads[20..])
            saw.Receive("hall/saw-1", null, Encoding.UTF8.GetBytes(payload), MessageMarks.Duplicate);
        saw.Receive("hall/saw-1", null, Encoding.UTF8.GetBytes(Json(Start.AddSeconds(5))), MessageMarks.Duplicate);
        Assert.Equal(Enumerable.Range(0, 51).Select(i => Start.AddMilliseconds(100 * i)), _inbox.Drain().Select(frame => frame.Time));
        Assert.Equal([2213], _log.Entries.Select(entry => entry.Id));
        Assert.Contains("its time 2026-03-02T06:00:02.000Z is not later than that of the frame before, 2026-03-02T06:00:04.900Z", _log.Entries[0].Text, StringComparison.Ordinal);

        Advance(60_000);
        SendFrame(saw, Json(Start.AddSeconds(60)));
        Assert.Equal([2213, 2214], _log.Entries.Select(entry => entry.Id));
        Assert.Contains("30 were left out", _log.Entries[1].Text, StringComparison.Ordinal);
    }

    [Fact]
    public void WithoutATime_SentAgain_IsLeftOut()
    {
        using var saw = NewSaw(Published.Json(time: null));
        SendFrame(saw, """{"load":1}""");
        saw.Receive("hall/saw-1", null, """{"load":1}"""u8, MessageMarks.Duplicate);
        Assert.Single(_inbox.Drain());

        using var topics = NewSaw(Published.Topics());
        topics.Receive("hall/saw-1/motor_load", Signalled(topics, Signal.MotorLoad), "3"u8, MessageMarks.Duplicate);
        Advance(20);
        Assert.Empty(_inbox.Drain());
        Assert.Equal([2213, 2213], _log.Entries.Select(entry => entry.Id));
    }

    [Fact]
    public void Json_ClockSetBackByAnHour_GoesOnAfterTwoSecondsAndIsSaidOnce()
    {
        using var saw = NewSaw(Published.Json());
        for (var i = 0; i < 100; i++)
        {
            SendFrame(saw, Json(Start.AddHours(i < 50 ? 1 : 0).AddMilliseconds(100 * i)));
            Advance(100);
        }

        Assert.Equal(50 + 30, _inbox.Drain().Count);
        Assert.Equal([2213, 2215], _log.Entries.Select(entry => entry.Id));
        Assert.Contains("was set back by 3597.9 s", _log.Entries[1].Text, StringComparison.Ordinal);
    }

    // 2026-10-25 in Berlin: 02:00 to 03:00 comes twice, from 00:00 and from 01:00 UTC (Directive 2000/84/EC).
    [Theory]
    [InlineData(0)]
    [InlineData(5)]
    public void Json_LocalTimesInTheNightOfAClockChange_FollowEachOther(double hoursLate)
    {
        var night = new DateTimeOffset(2026, 10, 24, 23, 50, 0, TimeSpan.Zero);
        var zone = TimeZoneInfo.FindSystemTimeZoneById("Europe/Berlin");
        _time.SetUtcNow(night.AddHours(hoursLate));
        using var saw = NewSaw(Published.Json() with { TimeZone = zone });
        for (var minute = 0; minute < 150; minute++)
        {
            var local = TimeZoneInfo.ConvertTime(night.AddMinutes(minute), zone);
            SendFrame(saw, string.Create(CultureInfo.InvariantCulture, $$"""{"load":{{minute}},"time":"{{local:yyyy-MM-dd'T'HH:mm:ss}}"}"""));
            if (hoursLate == 0)
                Advance(60_000);
        }

        Assert.Equal(Enumerable.Range(0, 150).Select(minute => night.AddMinutes(minute)), _inbox.Drain().Select(frame => frame.Time));
        Assert.Empty(_log.Entries);
    }

    [Fact]
    public void MarkOutage_BrokerThatKeepsMessages_WhatWasKeptFollows()
    {
        var kept = Published.Broker() with { KeepSession = true };
        using var saw = new MqttSaw(kept, Published.Saw(Published.Json()), _inbox, new FrameClock(_time), _time, _log.For<MqttBrokerSource>());
        SendFrame(saw, Json(Start));
        Advance(20_000);
        saw.MarkOutage();
        SendFrame(saw, Json(Start.AddMilliseconds(100)));
        var frames = _inbox.Drain();
        Assert.Equal([Start, Start.AddMilliseconds(1), Start.AddMilliseconds(100)], frames.Select(frame => frame.Time));
        Assert.Equal(SignalQuality.SourceFault, frames[1].QualityOf(Signal.MotorLoad));
    }

    [Fact]
    public void Json_UselessPayloads_AreSaidOnceAtBeginAndEndAndCounted()
    {
        using var saw = NewSaw(Published.Json());
        SendFrame(saw, "no json");
        SendFrame(saw, new string(' ', 70_000));
        SendFrame(saw, Json(Start));
        SendFrame(saw, "no json");
        Advance(59_000);
        SendFrame(saw, Json(Start.AddSeconds(59)));
        Assert.Equal([2205], _log.Entries.Select(entry => entry.Id));
        Advance(1_000);
        SendFrame(saw, Json(Start.AddSeconds(60)));
        Assert.Equal([2205, 2206], _log.Entries.Select(entry => entry.Id));
        Assert.Contains("3 were left out", _log.Entries[1].Text, StringComparison.Ordinal);
        Assert.Equal(3, _inbox.Drain().Count);
        SendFrame(saw, "no json");
        Assert.Equal(3, _log.Entries.Count);
    }

    [Fact]
    public void Json_HostileValues_AreSaidCleanAndOnce()
    {
        using var saw = NewSaw(Published.Json());
        for (var i = 0; i < 100; i++)
            SendFrame(saw, "{\"load\":\"\\u001b[31mx" + new string('y', 1000) + "\",\"head\":{\"position\":5}}");
        Assert.Equal(100, _inbox.Drain().Count(frame => frame.QualityOf(Signal.MotorLoad) == SignalQuality.Invalid && frame.Number(Signal.HeadPosition) == 5));
        var text = Assert.Single(_log.Entries, entry => entry.Id == 2207).Text;
        Assert.DoesNotContain('\u001b', text);
        Assert.True(text.Length < 250);
    }

    [Fact]
    public void MarkOutage_AfterFrames_OneFrameOfFaultsInTheSawsOwnTime()
    {
        using var saw = NewSaw(Published.Json());
        saw.MarkOutage();
        Assert.Empty(_inbox.Drain());

        SendFrame(saw, Json(Start.AddHours(-2)));
        Advance(1500);
        saw.MarkOutage();
        saw.MarkOutage();

        var frames = _inbox.Drain();
        Assert.Equal(2, frames.Count);
        Assert.Equal(Start.AddHours(-2).AddSeconds(1.5), frames[1].Time);
        Assert.All(new[] { Signal.HeadPosition, Signal.MotorLoad, Signal.Cutting, Signal.Job }, signal => Assert.Equal(SignalQuality.SourceFault, frames[1].QualityOf(signal)));
        Assert.Equal(SignalQuality.NotRead, frames[1].QualityOf(Signal.BladeSpeed));
    }

    [Fact]
    public void MarkOutage_HeldValues_AreForgotten()
    {
        using var saw = NewSaw(Published.Topics());
        Send(saw, Signal.Cutting, "true");
        saw.MarkOutage();
        Send(saw, Signal.MotorLoad, "1");
        Advance(20);

        var frames = _inbox.Drain();
        Assert.Equal(3, frames.Count);
        Assert.True(frames[0].Flag(Signal.Cutting));
        Assert.Equal(SignalQuality.SourceFault, frames[1].QualityOf(Signal.Cutting));
        Assert.Equal(SignalQuality.NotRead, frames[2].QualityOf(Signal.Cutting));
    }

    [Fact]
    public void New_MappingsThatCannotBeUsed_AreRefused()
    {
        Assert.Throws<ArgumentException>(() => NewSaw(Published.Json() with { Broker = "other" }));
        Assert.Throws<ArgumentException>(() => NewSaw(Published.Json() with { FrameTopic = null }));
        Assert.Throws<ArgumentException>(() => new MqttSaw(Published.Broker() with { KeepSession = true }, Published.Saw(Published.Json(time: null)), _inbox, new FrameClock(_time), _time, _log.For<MqttBrokerSource>()));
    }

    private static string Json(DateTimeOffset time) =>
        string.Create(CultureInfo.InvariantCulture, $$"""{"time":"{{time.UtcDateTime:O}}","head":{"position":250.5},"load":1.5,"cutting":true,"job":"J-1"}""");

    private static PublishedSignal Signalled(MqttSaw saw, Signal signal) => saw.Topics.Select(topic => topic.Signal).Single(mapped => mapped?.Signal == signal)!;

    private static void SendFrame(MqttSaw saw, string payload, bool isRetained = false) => saw.Receive("hall/saw-1", null, Encoding.UTF8.GetBytes(payload), isRetained ? MessageMarks.Retained : MessageMarks.None);

    private static void Send(MqttSaw saw, Signal signal, string payload, bool isRetained = false) =>
        saw.Receive($"hall/saw-1/{SignalInfo.Of(signal).Name}", Signalled(saw, signal), Encoding.UTF8.GetBytes(payload), isRetained ? MessageMarks.Retained : MessageMarks.None);

    private MqttSaw NewSaw(MqttSourceOptions source) => new(Published.Broker(), Published.Saw(source), _inbox, new FrameClock(_time), _time, _log.For<MqttBrokerSource>());

    private void Advance(double milliseconds) => _time.Advance(TimeSpan.FromMilliseconds(milliseconds));
}
