using Microsoft.Data.Sqlite;
using Microsoft.Extensions.Time.Testing;
using SawEdge.Core.Alarms;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Processing.Alarms;
using SawEdge.Gateway.Tests.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Processing.Alarms;

/// <summary>The desk on a real history, with a clock of its own.</summary>
public sealed class AlarmDeskTests
{
    private static readonly DateTimeOffset T = RunningDesk.Start;

    [Fact]
    public async Task ConditionComes_IsStoredWithItsMessage_BeforeItIsSaid()
    {
        await using var history = new RunningHistory();
        await using var desk = new RunningDesk(history);
        desk.Queue.Offer(RunningDesk.Change(true, T));
        await Until.TrueAsync(() => desk.Log.Count(3200) == 1, "the alarm is said");

        var raised = Assert.Single(await RunningDesk.EventsAsync(history.Reader));
        Assert.Equal((AlarmEventKind.Raised, AlarmState.Normal, AlarmState.Unacknowledged, T), (raised.Kind, raised.Before, raised.After, raised.At));
        var alarm = (await history.Reader.AlarmAsync(1))!;
        Assert.Equal("north: 7 kW, limit 5 kW", alarm.Text);
        var notice = Assert.Single(await RunningDesk.NoticesAsync(history.Reader));
        Assert.Equal((NoticeKind.Raised, "shift", "hook", 1L), (notice.Kind, notice.Contact, notice.Channel, Assert.Single(notice.Alarms)));
        Assert.Equal("alarm 1, medium: north: 7 kW, limit 5 kW (rule 'load_high', north)", desk.Log.Entries.Single(entry => entry.Id == 3200).Text);
    }

    [Fact]
    public async Task AnsweredFromOutside_IsDoneWithinALook_AndWhatCannotBeDoneSaysWhy()
    {
        await using var history = new RunningHistory();
        await using var desk = new RunningDesk(history);
        desk.Queue.Offer(RunningDesk.Change(true, T));
        await Until.TrueAsync(() => desk.Log.Count(3200) == 1, "the alarm is said");

        Assert.Null(await desk.AnswerAsync(history, AlarmAnswer.To(1, AlarmAction.Acknowledge, "J. Doe")));
        var alarm = (await history.Reader.AlarmAsync(1))!;
        Assert.Equal((AlarmState.Acknowledged, "J. Doe"), (alarm.State, alarm.AcknowledgedBy));
        Assert.NotNull(await desk.AnswerAsync(history, AlarmAnswer.To(1, AlarmAction.Acknowledge, "J. Doe")));
        Assert.NotNull(await desk.AnswerAsync(history, AlarmAnswer.To(77, AlarmAction.Acknowledge, "J. Doe")));
        Assert.Empty(await history.Reader.OpenAnswersAsync());

        desk.Queue.Offer(RunningDesk.Change(false, desk.Time.GetUtcNow()));
        await Until.TrueAsync(async () => (await history.Reader.AlarmAsync(1))!.IsClosed, "it is closed");
        Assert.Equal([AlarmEventKind.Raised, AlarmEventKind.Acknowledged, AlarmEventKind.Cleared], (await RunningDesk.EventsAsync(history.Reader)).Select(happened => happened.Kind));
    }

    [Fact]
    public async Task JudgedWhenItIsClosed_AlsoAfterARestart_IsStoredWithIt()
    {
        await using var history = new RunningHistory();
        var time = new FakeTimeProvider(T);
        await using (var desk = new RunningDesk(history, time))
        {
            desk.Queue.Offer(RunningDesk.Change(true, T));
            await Until.TrueAsync(async () => await history.Reader.AlarmAsync(1) is not null, "it is raised");
            desk.Queue.Offer(RunningDesk.Change(false, T.AddSeconds(1)));
            await Until.TrueAsync(async () => (await history.Reader.AlarmAsync(1))!.ClearedAt is not null, "its condition is gone");
            Assert.Null(await desk.AnswerAsync(history, AlarmAnswer.To(1, AlarmAction.Acknowledge, "J. Doe")));
        }

        await using var next = new RunningDesk(history, time);
        Assert.Null(await next.AnswerAsync(history, AlarmAnswer.To(1, AlarmAction.Confirm, "J. Doe", "a tooth was missing")));

        var alarm = (await history.Reader.AlarmAsync(1))!;
        Assert.Equal((AlarmState.Normal, AlarmVerdict.Confirmed), (alarm.State, alarm.Verdict));
        Assert.Equal("a tooth was missing", (await RunningDesk.EventsAsync(history.Reader))[^1].Note);
    }

    public static TheoryData<AlarmState> States => [.. Enum.GetValues<AlarmState>()];

    // After a restart the watches tell their levels again: nothing may be raised or told a second time, and life goes on.
    [Theory]
    [MemberData(nameof(States))]
    public async Task PowerCutInEveryState_TheStateIsKept_NothingIsToldAgain_AndItCanBeEnded(AlarmState state)
    {
        await using var history = new RunningHistory();
        var time = new FakeTimeProvider(T);
        var rule = state is AlarmState.LatchedUnacknowledged or AlarmState.LatchedAcknowledged ? RunningDesk.Latching : RunningDesk.Rule;
        var holds = state is not (AlarmState.Normal or AlarmState.ReturnedUnacknowledged or AlarmState.LatchedUnacknowledged or AlarmState.LatchedAcknowledged);
        var subject = RunningDesk.North;
        var number = 1L;
        await using (var desk = new RunningDesk(history, time))
        {
            if (state == AlarmState.SuppressedByDesign)
            {
                (rule, number) = (RunningDesk.Effect, 2);
                desk.Queue.Offer(RunningDesk.Change(true, T, RunningDesk.Cause, new AlarmSubject(AlarmSubjectKind.Source, "plc")));
            }

            desk.Queue.Offer(RunningDesk.Change(true, T, rule));
            await Until.TrueAsync(async () => await history.Reader.AlarmAsync(number) is not null, "it is raised");
            if (state is AlarmState.Acknowledged or AlarmState.LatchedAcknowledged or AlarmState.Normal)
                Assert.Null(await desk.AnswerAsync(history, AlarmAnswer.To(1, AlarmAction.Acknowledge, "J. Doe")));
            if (state == AlarmState.Shelved)
                Assert.Null(await desk.AnswerAsync(history, AlarmAnswer.To(1, AlarmAction.Shelve, "J. Doe", "known", T.AddDays(1))));
            if (state == AlarmState.OutOfService)
                Assert.Null(await desk.AnswerAsync(history, AlarmAnswer.To(1, AlarmAction.TakeOutOfService, "J. Doe", "transducer broken")));
            if (!holds)
            {
                desk.Queue.Offer(RunningDesk.Change(false, time.GetUtcNow(), rule));
                await Until.TrueAsync(async () => !(await history.Reader.AlarmAsync(1))!.IsActive, "its condition is gone");
            }

            Assert.Equal(state, (await history.Reader.AlarmAsync(number))!.State);
            await desk.CrashAsync();
        }

        var before = await RunningDesk.EventsAsync(history.Reader);
        var told = (await RunningDesk.NoticesAsync(history.Reader)).Count;
        await using var next = new RunningDesk(history, time);
        next.Queue.Offer(RunningDesk.Change(holds, time.GetUtcNow(), rule));
        if (state == AlarmState.SuppressedByDesign)
            next.Queue.Offer(RunningDesk.Change(true, time.GetUtcNow(), RunningDesk.Cause, new AlarmSubject(AlarmSubjectKind.Source, "plc")));

        // Another alarm, to know that all before it was looked at.
        next.Queue.Offer(RunningDesk.Change(true, time.GetUtcNow(), RunningDesk.Rule, AlarmSubject.Saw("far")));
        await Until.TrueAsync(() => next.Log.Count(3200) == 1, "the other alarm is said");
        var after = await RunningDesk.EventsAsync(history.Reader);
        Assert.Equal(before.Count + 1, after.Count);
        Assert.Equal(state, (await history.Reader.AlarmAsync(number))!.State);
        Assert.Equal(number + 1, after[^1].Alarm!.Number);
        Assert.Equal(told + 1, (await RunningDesk.NoticesAsync(history.Reader)).Count);

        // And it can be brought to its end.
        next.Queue.Offer(RunningDesk.Change(false, time.GetUtcNow(), rule));
        if (state is AlarmState.Unacknowledged or AlarmState.ReturnedUnacknowledged or AlarmState.LatchedUnacknowledged)
            Assert.Null(await next.AnswerAsync(history, AlarmAnswer.To(1, AlarmAction.Acknowledge, "J. Doe")));
        if (state is AlarmState.LatchedUnacknowledged or AlarmState.LatchedAcknowledged)
            Assert.Null(await next.AnswerAsync(history, AlarmAnswer.To(1, AlarmAction.Reset, "J. Doe")));
        await next.LooksAsync(async () => (await history.Reader.AlarmAsync(number))!.IsClosed, "it is closed");
    }

    // Power goes at any moment, before, in or after the storing of a step; told again, each alarm was raised and told once.
    [Fact]
    public async Task PowerCutAtAnyMoment_EachAlarmIsRaisedAndToldOnce()
    {
        for (var seed = 0; seed < 15; seed++)
        {
            await using var history = new RunningHistory();
            var time = new FakeTimeProvider(T);
            var random = new Random(seed);
            for (var run = 0; run < 3; run++)
            {
                await using var desk = new RunningDesk(history, time);
                for (var i = 0; i < 4; i++)
                    desk.Queue.Offer(RunningDesk.Change(true, T, subject: AlarmSubject.Saw($"saw-{i}")));
                for (var turn = random.Next(200); turn > 0; turn--)
                    await Task.Yield();
                await desk.CrashAsync();

                // What was on its way to the disk is there or not there before the next start.
                await history.Writer.AppendAlarmsAsync(new AlarmBatch(), CancellationToken.None);
            }

            await using var last = new RunningDesk(history, time);
            for (var i = 0; i < 4; i++)
                last.Queue.Offer(RunningDesk.Change(true, T, subject: AlarmSubject.Saw($"saw-{i}")));
            await last.EndAsync();

            var events = await RunningDesk.EventsAsync(history.Reader);
            Assert.Equal(4, events.Count);
            Assert.Equal([1L, 2, 3, 4], events.Select(happened => happened.Alarm!.Number).Order());
            Assert.Equal([1L, 2, 3, 4], (await RunningDesk.NoticesAsync(history.Reader)).SelectMany(notice => notice.Alarms).Order());
        }
    }

    // What the program does after the storing fails: the step is stored, and nobody stored it twice.
    [Fact]
    public async Task EndsRightAfterStoring_TheStepIsNotDoneAgain()
    {
        await using var history = new RunningHistory();
        var time = new FakeTimeProvider(T);
        await using (var desk = new RunningDesk(history, time, onEvent: _ => throw new InvalidTimeZoneException("made up for this test")))
        {
            AlarmAnswerRows.Write(history.Folder, new AlarmAnswer(AlarmAction.Shelve, 0, RunningDesk.Rule, AlarmSubject.Saw("south"), "J. Doe", "known", T.AddHours(1)), AlarmAnswerRows.ViaCommand, T);
            await Until.TrueAsync(() =>
            {
                time.Advance(AlarmDesk.LookEvery);
                return desk.Run.IsFaulted;
            }, "the desk ends");
            await Assert.ThrowsAsync<InvalidTimeZoneException>(() => desk.Run);
        }

        Assert.Empty(await history.Reader.OpenAnswersAsync());
        await using var next = new RunningDesk(history, time);
        next.Queue.Offer(RunningDesk.Change(true, time.GetUtcNow(), subject: AlarmSubject.Saw("south")));
        await next.EndAsync();
        Assert.Equal([AlarmEventKind.Shelved, AlarmEventKind.Raised], (await RunningDesk.EventsAsync(history.Reader)).Select(happened => happened.Kind));
        Assert.Equal(AlarmState.Shelved, (await history.Reader.AlarmAsync(1))!.State);
        Assert.Empty(await RunningDesk.NoticesAsync(history.Reader));
    }

    [Fact]
    public async Task PowerGoesWhileTheDiskRefuses_NothingWasStored_AndTheNextStartRaisesIt()
    {
        using var folder = new TempFolder();
        var time = new FakeTimeProvider(T);
        using (var database = HistoryDatabase.Open(folder.Path))
        {
            var writer = new HistoryWriter(database, TimeProvider.System, new CollectedLog().For<HistoryWriter>());
            using var power = new CancellationTokenSource();
            var writing = writer.RunAsync(power.Token);
            await using var other = new SqliteConnection($"Data Source={database.FilePath};Pooling=False");
            other.Open();
            HistorySchema.Execute(other, null, "BEGIN IMMEDIATE");

            await using var desk = new RunningDesk(new HistoryReader(database), writer, time);
            desk.Queue.Offer(RunningDesk.Change(true, T));
            await Until.TrueAsync(() => writer.InTrouble, "the disk refuses");
            Assert.Empty(desk.Log.Entries);
            await power.CancelAsync();
            await Assert.ThrowsAnyAsync<Exception>(() => writing);
            await desk.CrashAsync();
            HistorySchema.Execute(other, null, "ROLLBACK");
        }

        await using var history = new RunningHistory(folder.Path);
        Assert.Empty(await RunningDesk.EventsAsync(history.Reader));
        await using var next = new RunningDesk(history, time);
        next.Queue.Offer(RunningDesk.Change(true, T));
        await next.EndAsync();
        Assert.Equal(1, Assert.Single(await RunningDesk.EventsAsync(history.Reader)).Alarm!.Number);
        Assert.Single(await RunningDesk.NoticesAsync(history.Reader));
    }

    [Fact]
    public async Task DiskRefusesForAWhile_TheDeskWaits_AndStoresWhatCameMeanwhile_OnceEach()
    {
        await using var history = new RunningHistory();
        await using var other = new SqliteConnection($"Data Source={history.FilePath};Pooling=False");
        other.Open();
        HistorySchema.Execute(other, null, "BEGIN IMMEDIATE");
        await using var desk = new RunningDesk(history, queue: new AlarmQueue(capacity: 2));
        for (var i = 0; i < 500; i++)
            desk.Queue.Offer(RunningDesk.Change(i % 5 != 4, T.AddSeconds(i), subject: AlarmSubject.Saw($"saw-{i % 5}")));
        await Until.TrueAsync(() => history.Writer.InTrouble, "the disk refuses");
        Assert.Empty(desk.Log.Entries);

        HistorySchema.Execute(other, null, "ROLLBACK");
        await desk.EndAsync();
        var events = await RunningDesk.EventsAsync(history.Reader);
        Assert.Equal(["saw-0", "saw-1", "saw-2", "saw-3"], events.Select(happened => happened.Subject.Name).Order(StringComparer.Ordinal));
        Assert.All(events, happened => Assert.Equal(AlarmEventKind.Raised, happened.Kind));
    }

    // Trouble with the disk itself would otherwise never be an alarm where another one waits to be stored.
    [Fact]
    public async Task DiskRefusesForAWhile_WhatAProbeSawMeanwhile_IsRaisedAfterwards()
    {
        await using var history = new RunningHistory();
        await using var other = new SqliteConnection($"Data Source={history.FilePath};Pooling=False");
        other.Open();
        HistorySchema.Execute(other, null, "BEGIN IMMEDIATE");
        var (silence, looks) = (0.0, 0);
        var probe = new AlarmProbe(AlarmVariables.Of(AlarmTopic.Communication, "disconnected"), new AlarmSubject(AlarmSubjectKind.Source, "plc"), () =>
        {
            Interlocked.Increment(ref looks);
            return Volatile.Read(ref silence);
        });
        await using var desk = new RunningDesk(history, probes: [probe]);
        desk.Queue.Offer(RunningDesk.Change(true, T));
        await Until.TrueAsync(() => history.Writer.InTrouble, "the disk refuses");
        foreach (var value in (double[])[9, 0])
        {
            var before = Volatile.Read(ref looks);
            Volatile.Write(ref silence, value);
            await desk.LooksAsync(() => Task.FromResult(Volatile.Read(ref looks) > before + 1), "the probe is read");
        }

        Assert.True(history.Writer.InTrouble);
        HistorySchema.Execute(other, null, "ROLLBACK");
        await desk.EndAsync();
        var events = (await RunningDesk.EventsAsync(history.Reader)).Where(happened => happened.Rule == RunningDesk.Cause);
        Assert.Equal([AlarmEventKind.Raised, AlarmEventKind.Cleared], events.Select(happened => happened.Kind));
    }

    [Fact]
    public async Task MemoryCannotBeUsed_ItGoesOnFromTheOpenAlarms_WithoutGivingANumberTwice()
    {
        await using var history = new RunningHistory();
        var time = new FakeTimeProvider(T);
        await using (var desk = new RunningDesk(history, time))
        {
            desk.Queue.Offer(RunningDesk.Change(true, T));
            desk.Queue.Offer(RunningDesk.Change(true, T, subject: AlarmSubject.Saw("south")));
            await Until.TrueAsync(() => desk.Log.Count(3200) == 2, "both are raised");
            Assert.Null(await desk.AnswerAsync(history, AlarmAnswer.To(2, AlarmAction.Acknowledge, "J. Doe")));
            desk.Queue.Offer(RunningDesk.Change(false, time.GetUtcNow(), subject: AlarmSubject.Saw("south")));
            await desk.EndAsync();
        }

        await history.Writer.AppendAlarmsAsync(new AlarmBatch { Memory = new AlarmMemory("{\"Version\":99}", "?") }, CancellationToken.None);
        await using var next = new RunningDesk(history, time);
        next.Queue.Offer(RunningDesk.Change(true, time.GetUtcNow()));
        next.Queue.Offer(RunningDesk.Change(true, time.GetUtcNow(), subject: AlarmSubject.Saw("south")));
        await next.EndAsync();

        Assert.Equal((1, 1), (next.Log.Count(3206), next.Log.Count(3210)));
        var events = await RunningDesk.EventsAsync(history.Reader);
        Assert.Equal((3L, "south"), (events[^1].Alarm!.Number, events[^1].Subject.Name));
        Assert.Equal(3, events.Count(happened => happened.Kind == AlarmEventKind.Raised));
        Assert.Equal(AlarmState.Unacknowledged, (await history.Reader.AlarmAsync(1))!.State);
    }

    // One dead connection, three saws: one message.
    [Fact]
    public async Task SourceIsGone_ItsSawsAreSuppressed_OneMessage()
    {
        await using var history = new RunningHistory();
        var silence = 0.0;
        AlarmProbe[] probes =
        [
            .. new[] { "north", "south" }.Select(saw => new AlarmProbe(AlarmVariables.Of(AlarmTopic.Communication, "silence"), AlarmSubject.Saw(saw), () => silence)),
            new(AlarmVariables.Of(AlarmTopic.Communication, "disconnected"), new AlarmSubject(AlarmSubjectKind.Source, "plc"), () => silence),
        ];
        await using var desk = new RunningDesk(history, probes: probes);
        await desk.LooksAsync(async () => await history.Reader.AlarmMemoryAsync() is not null, "the probes are looked at");
        silence = 20;
        await desk.LooksAsync(async () => (await RunningDesk.EventsAsync(history.Reader)).Count >= 3, "all three are raised");

        var events = await RunningDesk.EventsAsync(history.Reader);
        Assert.Equal(AlarmState.Unacknowledged, events[0].After);
        Assert.Equal("plc", events[0].Subject.Name);
        Assert.All(events.Skip(1), happened => Assert.Equal(AlarmState.SuppressedByDesign, happened.After));
        Assert.Equal([1L], Assert.Single(await RunningDesk.NoticesAsync(history.Reader)).Alarms);
        Assert.Equal((1, 2), (desk.Log.Count(3200), desk.Log.Count(3202)));

        // All speak again at once: nothing of what was suppressed is told on its way out.
        silence = 0;
        await desk.LooksAsync(async () => (await RunningDesk.EventsAsync(history.Reader)).Count >= 6, "all three are over");
        var over = (await RunningDesk.EventsAsync(history.Reader)).Skip(3).ToList();
        Assert.All(over, happened => Assert.Equal(AlarmEventKind.Cleared, happened.Kind));
        Assert.Equal("plc", over[^1].Subject.Name);
        Assert.Equal([NoticeKind.Raised, NoticeKind.Cleared], (await RunningDesk.NoticesAsync(history.Reader)).Select(notice => notice.Kind));

        // Closing the sources is no silence.
        silence = 20;
        await desk.EndAsync();
        Assert.Equal(6, (await RunningDesk.EventsAsync(history.Reader)).Count);
    }
}
