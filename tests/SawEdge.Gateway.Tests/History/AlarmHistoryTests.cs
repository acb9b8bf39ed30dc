using SawEdge.Core.Alarms;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Tests.History;

public sealed class AlarmHistoryTests
{
    [Fact]
    public async Task AppendAlarmsAsync_EveryPropertyKnown_EveryPropertyComesBack_InTheRowAndInTheEvent()
    {
        await using var history = new RunningHistory();
        var written = Occurrences.Full();
        var happened = new AlarmEvent(written.RaisedAt.AddSeconds(3), AlarmEventKind.Reset, written.Rule, written.Subject, AlarmState.LatchedUnacknowledged, written.State, written, "A. Person", "a \"note\"\n");

        await AppendAsync(history, happened);

        AssertSame(written, await history.Reader.AlarmAsync(written.Number));
        var stored = Assert.Single(await EventsAsync(history.Reader));
        AssertSame(written, stored.Event.Alarm);
        Assert.Equal(happened, stored.Event);
        Assert.Equal(happened, Assert.Single(await history.Reader.JournalAsync(0, 10)).AlarmEvent!.Event);
    }

    [Fact]
    public async Task AppendAlarmsAsync_OnlyTheRequiredKnown_TheRestIsNullInTheFileAndComesBackUnknown()
    {
        await using var history = new RunningHistory();
        var written = new Alarm
        {
            Number = 1,
            Rule = "r",
            Subject = new AlarmSubject(AlarmSubjectKind.Gateway, "g"),
            Severity = AlarmSeverity.Low,
            RaisedAt = Occurrences.Start,
            State = AlarmState.Unacknowledged,
            IsActive = true,
        };
        await AppendAsync(history, Occurrences.Event(written));

        AssertSame(written, await history.Reader.AlarmAsync(1));
        AssertSame(written, Assert.Single(await EventsAsync(history.Reader)).Event.Alarm);
        string[] unknown = ["value", "limit_value", "unit", "cause", "may_be", "caution", "cycle_id", "cleared_at", "acknowledged_at", "acknowledged_by", "shelved_until", "verdict"];
        Assert.Equal(1L, history.Ask($"SELECT count(*) FROM alarms WHERE {string.Join(" AND ", unknown.Select(name => name + " IS NULL"))}"));
    }

    [Theory]
    [InlineData(double.NaN, double.NaN)]
    [InlineData(double.PositiveInfinity, double.NaN)]
    [InlineData(0.1 + 0.2, -1e-300)]
    [InlineData(1e300, 5e-324)]
    public async Task AppendAlarmsAsync_AnyNumbers_ComeBackBitForBit_WhatIsNotFiniteUnknownInTheRow(double value, double limit)
    {
        await using var history = new RunningHistory();
        await AppendAsync(history, Occurrences.Event(Occurrences.Make(1) with { Value = value, Limit = limit }));

        var row = (await history.Reader.AlarmAsync(1))!;
        var inEvent = Assert.Single(await EventsAsync(history.Reader)).Event.Alarm!;

        Assert.Equal(BitConverter.DoubleToInt64Bits(double.IsFinite(value) ? value : double.NaN), BitConverter.DoubleToInt64Bits(row.Value));
        Assert.Equal(BitConverter.DoubleToInt64Bits(double.IsFinite(limit) ? limit : double.NaN), BitConverter.DoubleToInt64Bits(row.Limit));
        Assert.Equal((BitConverter.DoubleToInt64Bits(value), BitConverter.DoubleToInt64Bits(limit)), (BitConverter.DoubleToInt64Bits(inEvent.Value), BitConverter.DoubleToInt64Bits(inEvent.Limit)));
    }

    [Fact]
    public async Task AppendAlarmsAsync_HostileTexts_ComeBackAsTheyWere()
    {
        await using var history = new RunningHistory();
        var written = Occurrences.Hostile.Select((text, i) => Occurrences.Make(i + 1, saw: text, rule: text) with
        {
            Text = text,
            Cause = text,
            MayBe = text,
            Caution = text,
            CycleId = text,
            AcknowledgedBy = text,
            Unit = text,
        }).ToList();
        await AppendAsync(history, [.. written.Select(alarm => Occurrences.Event(alarm, who: alarm.Text, note: alarm.Text))]);

        foreach (var (alarm, stored) in written.Zip(await EventsAsync(history.Reader)))
        {
            AssertSame(alarm, await history.Reader.AlarmAsync(alarm.Number));
            AssertSame(alarm, stored.Event.Alarm);
            Assert.Equal((alarm.Text, alarm.Text), (stored.Event.Who, stored.Event.Note));
            AssertSame(alarm, Assert.Single(await AlarmsAsync(history.Reader, new AlarmFilter { Subject = alarm.Subject.Name, Rule = alarm.Rule })));
        }
    }

    [Fact]
    public async Task AppendAlarmsAsync_EveryStateKindSeverityAndSubject_ComesBack()
    {
        await using var history = new RunningHistory();
        var events = new List<AlarmEvent>();
        foreach (var kind in Enum.GetValues<AlarmEventKind>())
        {
            var n = events.Count;
            var alarm = Occurrences.Make(n + 1) with
            {
                State = (AlarmState)(n % Enum.GetValues<AlarmState>().Length),
                Severity = (AlarmSeverity)(n % 3),
                Verdict = (AlarmVerdict)(n % 3),
                Subject = new AlarmSubject((AlarmSubjectKind)(n % Enum.GetValues<AlarmSubjectKind>().Length), "x"),
            };
            events.Add(Occurrences.Event(alarm, kind, before: (AlarmState)((n + 4) % Enum.GetValues<AlarmState>().Length)));
        }

        await AppendAsync(history, [.. events]);

        Assert.Equal(events, (await EventsAsync(history.Reader)).Select(stored => stored.Event));
        foreach (var happened in events)
            AssertSame(happened.Alarm!, await history.Reader.AlarmAsync(happened.Alarm!.Number));
    }

    [Fact]
    public async Task AppendAlarmsAsync_AnOccurrenceThatGoesOn_IsOneRowAsItIsNow_AndEachEventKeepsWhatItWas()
    {
        await using var history = new RunningHistory();
        var raised = Occurrences.Make(7);
        var acknowledged = raised with { State = AlarmState.Acknowledged, AcknowledgedAt = raised.RaisedAt.AddSeconds(40), AcknowledgedBy = "A. Person" };
        var cleared = acknowledged with { State = AlarmState.Normal, IsActive = false, ClearedAt = raised.RaisedAt.AddSeconds(90) };
        await AppendAsync(history, Occurrences.Event(raised), Occurrences.Event(acknowledged, AlarmEventKind.Acknowledged, 40, AlarmState.Unacknowledged, "A. Person"));
        Assert.Equal([acknowledged], await AlarmsAsync(history.Reader, new AlarmFilter { OnlyOpen = true }));

        await AppendAsync(history, Occurrences.Event(cleared, AlarmEventKind.Cleared, 90, AlarmState.Acknowledged));

        Assert.Equal([cleared], await AlarmsAsync(history.Reader, new AlarmFilter()));
        Assert.Empty(await AlarmsAsync(history.Reader, new AlarmFilter { OnlyOpen = true }));
        Assert.Equal([raised, acknowledged, cleared], (await EventsAsync(history.Reader, number: 7)).Select(stored => stored.Event.Alarm));
        // Plain SQL, as a person would ask.
        Assert.Equal(90_000L, history.Ask("SELECT cleared_at - raised_at FROM alarms WHERE subject = 'north' AND active = 0 AND closed = 1"));
        Assert.Equal(5.5, history.Ask("SELECT json_extract(alarm, '$.value') FROM alarm_events WHERE kind = 'raised'"));
    }

    [Fact]
    public async Task AppendAlarmsAsync_TimesFinerThanAMillisecondOrOfAnotherZone_AreTheSameInRowAndEvent()
    {
        await using var history = new RunningHistory();
        var time = new DateTimeOffset(2026, 3, 2, 8, 0, 0, TimeSpan.FromHours(2)).AddTicks(12_345_678);
        await AppendAsync(history, Occurrences.Event(Occurrences.Make(1) with { RaisedAt = time, ClearedAt = time, AcknowledgedAt = time, ShelvedUntil = time }));

        var row = await history.Reader.AlarmAsync(1);
        var stored = Assert.Single(await EventsAsync(history.Reader)).Event;

        AssertSame(row!, stored.Alarm);
        Assert.Equal((time.AddTicks(-5_678), stored.Alarm!.RaisedAt), (row!.RaisedAt, stored.At));
    }

    [Fact]
    public async Task AppendAlarmsAsync_AnEventWithoutOccurrence_MakesNoRow()
    {
        await using var history = new RunningHistory();
        var shelved = new AlarmEvent(Occurrences.Start, AlarmEventKind.Shelved, "r", AlarmSubject.Saw("north"), AlarmState.Normal, AlarmState.Shelved, null, "A. Person", "being repaired");
        await AppendAsync(history, shelved);

        Assert.Equal(shelved, Assert.Single(await EventsAsync(history.Reader)).Event);
        Assert.Equal(0L, history.Ask("SELECT count(*) FROM alarms"));
    }

    [Fact]
    public async Task Journal_CyclesAlarmsAndMessagesMixed_GivesEachWithItsRowInTheOrderOfStoring()
    {
        await using var history = new RunningHistory();
        for (var i = 1; i <= 20; i++)
        {
            await history.AppendAsync(Cycles.Make("north", i));
            await history.Writer.AppendAlarmsAsync(
                new AlarmBatch
                {
                    Events = [Occurrences.Event(Occurrences.Make((2 * i) - 1)), Occurrences.Event(Occurrences.Make(2 * i, "south"))],
                    Notices = [Occurrences.Notice("mail", (2 * i) - 1, 2 * i)],
                },
                CancellationToken.None);
        }

        var seen = new List<JournalEntry>();
        while (await history.Reader.JournalAsync(seen.Count == 0 ? 0 : seen[^1].Sequence, 7) is { Count: > 0 } batch)
            seen.AddRange(batch);

        Assert.Equal(Enumerable.Range(1, 80).Select(i => (long)i), seen.Select(entry => entry.Sequence));
        Assert.Equal(
            Enumerable.Range(1, 20).SelectMany(i => (string[])[$"cycle north {Cycles.Make("north", i).CycleId}", $"alarm_event north {(2 * i) - 1}", $"alarm_event south {2 * i}", $"notice mail {(2 * i) - 1} {2 * i}"]),
            seen.Select(entry => $"{entry.Kind} {entry.Saw} {entry.Cycle?.CycleId}{entry.AlarmEvent?.Event.Alarm!.Number}{(entry.Notice is { } notice ? string.Join(' ', notice.Notice.Alarms) : "")}"));
    }

    [Fact]
    public async Task Notice_OfEveryKind_ComesBack()
    {
        await using var history = new RunningHistory();
        var notices = Enum.GetValues<NoticeKind>().Select(kind => Occurrences.Notice("mail \"1\"", 3, 1L << 40) with { Kind = kind, Contact = "Größe\n" }).Append(Occurrences.Notice("mail")).ToList();
        await history.Writer.AppendAlarmsAsync(new AlarmBatch { Notices = notices }, CancellationToken.None);

        var read = (await history.Reader.JournalAsync(0, 100)).Select(entry => entry.Notice!).ToList();

        Assert.Equal(notices.Select(notice => (notice.At, notice.Kind, notice.Contact, notice.Channel)), read.Select(stored => (stored.Notice.At, stored.Notice.Kind, stored.Notice.Contact, stored.Notice.Channel)));
        Assert.Equal(notices.Select(notice => notice.Alarms), read.Select(stored => stored.Notice.Alarms));
        Assert.Equal(Enumerable.Range(1, notices.Count).Select(i => (long)i), read.Select(stored => stored.Id));
    }

    [Fact]
    public async Task AlarmsAsync_MoreThanAPage_ComeLatestFirst_AndFiltersGiveExactlyWhatTheySay()
    {
        await using var history = new RunningHistory();
        // Several are raised at the very same moment, and the page boundary (500) falls among them.
        var alarms = Enumerable.Range(1, 1300).Select(i => Occurrences.Make(i, "saw" + (i % 3), "rule" + (i % 2)) with
        {
            RaisedAt = Occurrences.Start.AddMinutes(i / 7),
            State = i % 5 == 0 ? AlarmState.Acknowledged : AlarmState.Normal,
            IsActive = i % 5 == 0,
        }).ToList();
        var shuffled = alarms.ToArray();
        new Random(42).Shuffle(shuffled);
        await AppendAsync(history, [.. shuffled.Select(alarm => Occurrences.Event(alarm))]);
        var (from, to) = (Occurrences.Start.AddMinutes(20), Occurrences.Start.AddMinutes(150));

        foreach (var (filter, expected) in new (AlarmFilter, Func<Alarm, bool>)[]
        {
            (new(), _ => true),
            (new() { OnlyOpen = true }, a => !a.IsClosed),
            (new() { Subject = "saw1" }, a => a.Subject.Name == "saw1"),
            (new() { Subject = "saw1' OR '1'='1" }, _ => false),
            (new() { Rule = "rule1", OnlyOpen = true }, a => a.Rule == "rule1" && !a.IsClosed),
            (new() { From = from }, a => a.RaisedAt >= from),
            (new() { From = from, To = to, Subject = "saw2" }, a => a.RaisedAt >= from && a.RaisedAt < to && a.Subject.Name == "saw2"),
        })
            Assert.Equal(alarms.Where(expected).OrderByDescending(a => a.RaisedAt).ThenByDescending(a => a.Number), await AlarmsAsync(history.Reader, filter));
        Assert.Null(await history.Reader.AlarmAsync(1301));
    }

    [Fact]
    public async Task AlarmEventsAsync_MoreThanAPage_InTheOrderOfStoring_OfASpanAndOfOneAlarm()
    {
        await using var history = new RunningHistory();
        // Saws' clocks differ: times go back and forth by some minutes.
        var events = Enumerable.Range(0, 1700).Select(i => Occurrences.Event(Occurrences.Make((i % 4) + 1) with { RaisedAt = Occurrences.Start.AddMinutes(i + (i % 3 * 5)) })).ToArray();
        await AppendAsync(history, events);
        var (from, to) = (Occurrences.Start.AddMinutes(300), Occurrences.Start.AddMinutes(1500));

        Assert.Equal(events, (await EventsAsync(history.Reader)).Select(stored => stored.Event));
        Assert.Equal(events.Where(e => e.At >= from && e.At < to), (await EventsAsync(history.Reader, from, to)).Select(stored => stored.Event));
        Assert.Equal(events.Where(e => e.At >= from && e.Alarm!.Number == 2), (await EventsAsync(history.Reader, from, null, 2)).Select(stored => stored.Event));
        Assert.Equal(events.Where(e => e.At < to && e.Alarm!.Number == 3), (await EventsAsync(history.Reader, null, to, 3)).Select(stored => stored.Event));
        Assert.Empty(await EventsAsync(history.Reader, Occurrences.Start.AddDays(30)));
        Assert.Empty(await EventsAsync(history.Reader, number: 99));
    }

    [Fact]
    public async Task AlarmMemory_NothingStored_IsNull_AndALaterStepWithoutItLeavesIt()
    {
        await using var history = new RunningHistory();
        Assert.Null(await history.Reader.AlarmMemoryAsync());

        foreach (var memory in new[] { new AlarmMemory("{}", "{}"), null, new AlarmMemory("{\"a\":1}", "") })
            await history.Writer.AppendAlarmsAsync(new AlarmBatch { Memory = memory }, CancellationToken.None);

        Assert.Equal(new AlarmMemory("{\"a\":1}", ""), await history.Reader.AlarmMemoryAsync());
        Assert.Equal(0, await history.Reader.LastSequenceAsync());
    }

    [Fact]
    public async Task LastCutsAsync_GivesTheLastOfOneSaw_NewestLast_WithTheirAssessments()
    {
        await using var history = new RunningHistory();
        for (var i = 0; i < 12; i++)
            await history.Writer.AppendAsync(new FinishedCycle { Record = Cycles.Make(i % 2 == 0 ? "north" : "south", i), Assessment = i == 8 ? Evidences.Assessment(4.5) : null }, CancellationToken.None);

        var cuts = await history.Reader.LastCutsAsync("north", 3);

        Assert.Equal([Cycles.Make("north", 6), Cycles.Make("north", 8), Cycles.Make("north", 10)], cuts.Select(cut => cut.Record));
        Assert.Equal([null, 4.5, null], cuts.Select(cut => cut.Assessment?.Score));
        Assert.Equal(6, (await history.Reader.LastCutsAsync("north", 100)).Count);
        Assert.Empty(await history.Reader.LastCutsAsync("north", 0));
        Assert.Empty(await history.Reader.LastCutsAsync("west", 3));
    }

    private static Task AppendAsync(RunningHistory history, params AlarmEvent[] events) => history.Writer.AppendAlarmsAsync(new AlarmBatch { Events = events }, CancellationToken.None);

    private static async Task<List<Alarm>> AlarmsAsync(HistoryReader reader, AlarmFilter filter)
    {
        var list = new List<Alarm>();
        await foreach (var alarm in reader.AlarmsAsync(filter))
            list.Add(alarm);
        return list;
    }

    private static async Task<List<StoredAlarmEvent>> EventsAsync(HistoryReader reader, DateTimeOffset? from = null, DateTimeOffset? to = null, long? number = null)
    {
        var list = new List<StoredAlarmEvent>();
        await foreach (var stored in reader.AlarmEventsAsync(from, to, number))
            list.Add(stored);
        return list;
    }

    private static void AssertSame(Alarm written, Alarm? read)
    {
        Assert.NotNull(read);
        foreach (var property in Occurrences.Writable)
            Assert.True(Equals(property.GetValue(written), property.GetValue(read)), $"{property.Name}: wrote {property.GetValue(written)}, read {property.GetValue(read)}");
        Assert.Equal(written, read);
    }
}
