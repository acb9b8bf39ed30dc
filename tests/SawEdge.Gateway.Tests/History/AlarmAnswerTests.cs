using SawEdge.Core.Alarms;
using SawEdge.Gateway.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.History;

/// <summary>What comes from outside of the gateway's process, what becomes of it, and what must be all or nothing.</summary>
public sealed class AlarmAnswerTests
{
    private static readonly DateTimeOffset Now = new(2026, 3, 9, 12, 0, 0, TimeSpan.Zero);

    [Fact]
    public async Task Write_EveryAction_IsWhatIsRead_UntilTheGatewayHasDealtWithIt()
    {
        await using var history = new RunningHistory();
        var answers = Enum.GetValues<AlarmAction>().Select(action => AlarmAnswer.To((int)action + 1, action, "A. Person", "why", Now.AddHours(8)))
            .Append(AlarmAnswer.To(9, AlarmAction.Acknowledge, "B"))
            .Append(new AlarmAnswer(AlarmAction.Shelve, 0, "motor_load_high", new AlarmSubject(AlarmSubjectKind.Source, "press \"1\""), "B", "being repaired", Now.AddDays(1)))
            .ToList();
        var ids = answers.ConvertAll(answer => AlarmAnswerRows.Write(history.Folder, answer, AlarmAnswerRows.ViaCommand, Now));

        Assert.Equal(answers.Select((answer, i) => new StoredAnswer(i + 1, answer, Now, "command")), await history.Reader.OpenAnswersAsync());
        Assert.Null(await history.Reader.AnswerOutcomeAsync(ids[0]));

        await history.Writer.AppendAlarmsAsync(new AlarmBatch { Answered = [new AnswerOutcome(ids[0], null), new AnswerOutcome(ids[2], "There is no alarm 3.")] }, CancellationToken.None);

        Assert.Equal(new AnswerOutcome(ids[0], null), await history.Reader.AnswerOutcomeAsync(ids[0]));
        Assert.Equal(new AnswerOutcome(ids[2], "There is no alarm 3."), await history.Reader.AnswerOutcomeAsync(ids[2]));
        Assert.Null(await history.Reader.AnswerOutcomeAsync(ids[1]));
        Assert.Null(await history.Reader.AnswerOutcomeAsync(999));
        Assert.Equal(ids.Except([ids[0], ids[2]]), (await history.Reader.OpenAnswersAsync()).Select(stored => stored.Id));
    }

    [Fact]
    public async Task Write_HostileTexts_ComeBackAsTheyWere()
    {
        await using var history = new RunningHistory();
        var answers = Occurrences.Hostile.Select(text => new AlarmAnswer(AlarmAction.Comment, 0, text, AlarmSubject.Saw(text), text, text)).ToList();
        foreach (var answer in answers)
            AlarmAnswerRows.Write(history.Folder, answer, AlarmAnswerRows.ViaApi, Now);

        Assert.Equal(answers, (await history.Reader.OpenAnswersAsync()).Select(stored => stored.Answer));
    }

    [Fact]
    public async Task Write_NobodyNamed_OrByNoKnownWay_IsRefused()
    {
        await using var history = new RunningHistory();
        Assert.Throws<ArgumentException>(() => AlarmAnswerRows.Write(history.Folder, AlarmAnswer.To(1, AlarmAction.Acknowledge, ""), AlarmAnswerRows.ViaCommand, Now));
        Assert.Throws<ArgumentException>(() => AlarmAnswerRows.Write(history.Folder, AlarmAnswer.To(1, AlarmAction.Acknowledge, "A"), "pigeon", Now));
        Assert.Empty(await history.Reader.OpenAnswersAsync());
    }

    [Fact]
    public async Task Write_NoHistory_OrOneOfAnOlderVersion_SaysSo()
    {
        using var folder = new TempFolder();
        var missing = Assert.Throws<HistoryException>(() => AlarmAnswerRows.Write(folder.Path, AlarmAnswer.To(1, AlarmAction.Acknowledge, "A"), AlarmAnswerRows.ViaCommand, Now));
        Assert.Contains(folder.Path, missing.Message, StringComparison.Ordinal);

        await using var history = new RunningHistory();
        history.CopyAsVersion(2, folder.Path);
        var older = Assert.Throws<HistoryException>(() => AlarmAnswerRows.Write(folder.Path, AlarmAnswer.To(1, AlarmAction.Acknowledge, "A"), AlarmAnswerRows.ViaCommand, Now));
        Assert.Contains("older version", older.Message, StringComparison.Ordinal);
    }

    [Fact]
    public async Task Open_AHistoryOfTheSecondVersion_IsBroughtUpToDate_AndKeepsWhatItHad()
    {
        await using var history = new RunningHistory();
        await history.Writer.AppendAsync(Evidences.Row(Cycles.Make("saw0", 1)) with { Assessment = Evidences.Assessment(4.5) }, CancellationToken.None);
        await history.Writer.SaveCursorAsync("influx", 1, [new Refusal(1, "no")], CancellationToken.None);
        using var copy = new TempFolder();
        history.CopyAsVersion(2, copy.Path);
        Assert.Throws<HistoryException>(() => HistoryReader.OpenFolder(copy.Path));

        await using var next = new RunningHistory(copy.Path);

        Assert.Equal((long)HistorySchema.Version, next.Ask("PRAGMA user_version"));
        Assert.Equal(4.5, (await next.Reader.AssessmentAsync("saw0-000001"))!.Score);
        Assert.Equal("saw0-000001", Assert.Single(await next.Reader.RefusalsAsync("influx")).CycleId);
        await next.Writer.AppendAlarmsAsync(new AlarmBatch { Events = [Occurrences.Event(Occurrences.Make(1))] }, CancellationToken.None);
        Assert.NotNull(await next.Reader.AlarmAsync(1));
        // The journal's numbers go on: no consumer misses or repeats anything.
        Assert.Equal([1L, 2L], (await next.Reader.JournalAsync(0, 10)).Select(entry => entry.Sequence));
    }

    [Fact]
    public async Task Write_ManyAtOnceWhileTheGatewayStores_LosesNothing()
    {
        await using var history = new RunningHistory();
        var gateway = Task.Run(async () =>
        {
            for (var i = 1; i <= 200; i++)
            {
                await history.AppendAsync(Cycles.Make("north", i));
                await history.Writer.AppendAlarmsAsync(new AlarmBatch { Events = [Occurrences.Event(Occurrences.Make(i))] }, CancellationToken.None);
            }
        });
        var people = Enumerable.Range(0, 4).Select(person => Task.Run(() => Enumerable.Range(0, 25).Select(i => AlarmAnswerRows.Write(history.Folder, AlarmAnswer.To((100 * person) + i, AlarmAction.Acknowledge, "P" + person), AlarmAnswerRows.ViaCommand, Now)).ToList())).ToList();

        await gateway;
        var ids = (await Task.WhenAll(people)).SelectMany(list => list).ToList();

        var open = await history.Reader.OpenAnswersAsync();
        Assert.Equal(Enumerable.Range(1, 100).Select(i => (long)i), ids.Order());
        Assert.Equal(Enumerable.Range(0, 4).SelectMany(person => Enumerable.Range(0, 25).Select(i => (100L * person) + i)), open.Select(stored => stored.Answer.Number).Order());
        Assert.Equal(400, (await history.Reader.JournalAsync(0, 1000)).Count);
    }

    [Fact]
    public async Task UseLinkAsync_FirstUse_StoresTheAnswer_AnyOtherIsRefusedAndStoresNothing()
    {
        await using var history = new RunningHistory();
        var answer = AlarmAnswer.To(4, AlarmAction.Acknowledge, "shift lead");

        var uses = await Task.WhenAll(Enumerable.Range(0, 20).Select(_ => history.Writer.UseLinkAsync("n-1", Now, answer, CancellationToken.None)));

        var id = Assert.Single(uses, use => use is not null);
        Assert.Null(await history.Writer.UseLinkAsync("n-1", Now, answer with { Number = 5 }, CancellationToken.None));
        var stored = Assert.Single(await history.Reader.OpenAnswersAsync());
        Assert.Equal((id!.Value, answer, "link"), (stored.Id, stored.Answer, stored.Via));
        Assert.NotNull(await history.Writer.UseLinkAsync("n-2", Now, answer, CancellationToken.None));
        Assert.Equal(2, (await history.Reader.OpenAnswersAsync()).Count);
    }

    [Fact]
    public async Task UseLinkAsync_AnswerThatCannotBeStored_LeavesTheLinkUnused()
    {
        await using var history = new RunningHistory();
        await Assert.ThrowsAsync<HistoryException>(() => history.Writer.UseLinkAsync("n-1", Now, AlarmAnswer.To(4, AlarmAction.Acknowledge, ""), CancellationToken.None));

        Assert.Equal(0L, history.Ask("SELECT count(*) FROM used_links"));
        Assert.NotNull(await history.Writer.UseLinkAsync("n-1", Now, AlarmAnswer.To(4, AlarmAction.Acknowledge, "A"), CancellationToken.None));
    }

    [Fact]
    public async Task UseLinkAsync_LinksThatExpiredLongAgo_AreForgotten_OthersNot()
    {
        await using var history = new RunningHistory();
        var now = TimeProvider.System.GetUtcNow();
        history.Ask($"INSERT INTO used_links VALUES('old', {now.AddDays(-40).ToUnixTimeMilliseconds()}, {now.AddDays(-39).ToUnixTimeMilliseconds()}), ('expired', {now.AddDays(-3).ToUnixTimeMilliseconds()}, {now.AddDays(-2).ToUnixTimeMilliseconds()})");

        Assert.Null(await history.Writer.UseLinkAsync("expired", now, AlarmAnswer.To(4, AlarmAction.Acknowledge, "A"), CancellationToken.None));

        Assert.Equal("expired", history.Ask("SELECT group_concat(nonce) FROM used_links"));
    }

    [Fact]
    public async Task Refusals_NameWhatWasRefused_AndRetryAndDropTakeThemOffTheList()
    {
        await using var history = new RunningHistory();
        await history.AppendAsync(Cycles.Make("north", 1));
        await history.Writer.AppendAlarmsAsync(new AlarmBatch { Events = [Occurrences.Event(Occurrences.Make(1))], Notices = [Occurrences.Notice("mail", 1), Occurrences.Notice("mail", 2)] }, CancellationToken.None);
        await history.Writer.SaveCursorAsync("mail", 4, [new Refusal(1, "a"), new Refusal(2, "b"), new Refusal(3, "550 no such mailbox"), new Refusal(4, "c"), new Refusal(9, "gone")], CancellationToken.None);
        await history.Writer.SaveCursorAsync("other", 4, [new Refusal(3, "elsewhere")], CancellationToken.None);

        var refused = await history.Reader.RefusalsAsync("mail");
        Assert.Equal(["north-000001 -  -", "- 1  -", "-  1 -", "-  2 -", "-   -"], refused.Select(r => $"{r.CycleId ?? "-"} {r.AlarmEvent?.Event.Alarm!.Number.ToString() ?? (r.CycleId is null ? "" : "-")} {r.Notice?.Notice.Alarms[0]} -"));
        Assert.Equal("550 no such mailbox", refused[2].Reason);

        RefusedRows.Retry(history.Folder, "mail", [2, 3], Now);
        RefusedRows.Drop(history.Folder, "mail", [9]);

        Assert.Equal([1L, 4L], (await history.Reader.RefusalsAsync("mail")).Select(r => r.Sequence));
        var again = await history.Reader.JournalAsync(4, 10);
        Assert.Equal([(5L, JournalKinds.AlarmEvent, "north", Now), (6L, JournalKinds.Notice, "mail", Now)], again.Select(entry => (entry.Sequence, entry.Kind, entry.Saw, entry.At)));
        Assert.Equal((1L, refused[2].Notice!.Id), (again[0].AlarmEvent!.Id, again[1].Notice!.Id));
        Assert.Single(await history.Reader.RefusalsAsync("other"));

        // All or nothing: 4 is there, 3 is not any more.
        var error = Assert.Throws<HistoryException>(() => RefusedRows.Retry(history.Folder, "mail", [4, 3], Now));
        Assert.Contains("'mail'", error.Message, StringComparison.Ordinal);
        Assert.Equal([1L, 4L], (await history.Reader.RefusalsAsync("mail")).Select(r => r.Sequence));
        Assert.Equal(6, await history.Reader.LastSequenceAsync());
    }

    [Fact]
    public async Task Retry_OldEventsOfAnAlarm_AreFollowedByItsLatest_SoThatNobodyEndsWithAnOldState()
    {
        await using var history = new RunningHistory();
        AlarmEvent Of(int number, string saw, AlarmEventKind kind, int seconds) => Occurrences.Event(Occurrences.Make(number, saw), kind, seconds);
        var events = new[]
        {
            Of(1, "north", AlarmEventKind.Raised, 0), Of(2, "south", AlarmEventKind.Raised, 0), Of(1, "north", AlarmEventKind.Acknowledged, 1),
            Of(2, "south", AlarmEventKind.Acknowledged, 1), Of(1, "north", AlarmEventKind.Cleared, 2), Of(3, "west", AlarmEventKind.Raised, 3),
        };
        await history.Writer.AppendAlarmsAsync(new AlarmBatch { Events = events }, CancellationToken.None);
        await history.Writer.SaveCursorAsync("influx", 6, [.. new[] { 1L, 2, 4 }.Select(sequence => new Refusal(sequence, "no"))], CancellationToken.None);

        // South's latest is among them; north's is not, and follows; west is not concerned.
        RefusedRows.Retry(history.Folder, "influx", [4, 1, 2], Now);

        Assert.Equal([1L, 2, 4, 5], (await history.Reader.JournalAsync(6, 10)).Select(entry => entry.AlarmEvent!.Id));

        // One that was refused again stands behind what came after it, and still goes before it.
        await history.Writer.SaveCursorAsync("influx", 10, [new Refusal(7, "no"), new Refusal(5, "no")], CancellationToken.None);
        RefusedRows.Retry(history.Folder, "influx", [5, 7], Now);
        Assert.Equal([1L, 5], (await history.Reader.JournalAsync(10, 10)).Select(entry => entry.AlarmEvent!.Id));
        Assert.Empty(await history.Reader.RefusalsAsync("influx"));
    }

    [Fact]
    public async Task Retry_WhatIsNotInTheJournalAnyMore_IsRefused_AndStaysOnTheList()
    {
        await using var history = new RunningHistory();
        await history.AppendAsync(Cycles.Make("north", 1));
        await history.Writer.SaveCursorAsync("mail", 1, [new Refusal(1, "a"), new Refusal(9, "gone")], CancellationToken.None);

        var error = Assert.Throws<HistoryException>(() => RefusedRows.Retry(history.Folder, "mail", [1, 9], Now));

        Assert.Contains("drop it instead", error.Message, StringComparison.Ordinal);
        Assert.Equal([1L, 9L], (await history.Reader.RefusalsAsync("mail")).Select(r => r.Sequence));
        Assert.Equal(1, await history.Reader.LastSequenceAsync());
    }

    [Fact]
    public async Task AppendAlarmsAsync_OnePartCannotBeStored_NothingIs_AndOthersAre()
    {
        await using var history = new RunningHistory();
        // The last part of the step cannot be stored.
        var bad = new AlarmBatch
        {
            Events = [Occurrences.Event(Occurrences.Make(1))],
            Notices = [Occurrences.Notice("mail", 1)],
            Memory = new AlarmMemory("b", null!),
        };
        var good = history.Writer.AppendAlarmsAsync(new AlarmBatch { Events = [Occurrences.Event(Occurrences.Make(2))] }, CancellationToken.None);
        await Assert.ThrowsAsync<HistoryException>(() => history.Writer.AppendAlarmsAsync(bad, CancellationToken.None));
        await good;

        Assert.Null(await history.Reader.AlarmAsync(1));
        Assert.NotNull(await history.Reader.AlarmAsync(2));
        Assert.Equal(JournalKinds.AlarmEvent, Assert.Single(await history.Reader.JournalAsync(0, 10)).Kind);
        Assert.Equal(0L, history.Ask("SELECT count(*) FROM notices"));
    }

    [PeerFact("sqlite3")]
    public async Task KillMinus9_WhileStoringAlarms_EachStepIsThereAsAWholeOrNotAtAll()
    {
        using var folder = new TempFolder();
        var acknowledged = 0;
        for (var round = 1; round <= 2; round++)
        {
            await using var child = Peer.Start(TestHost.Dotnet, [TestHost.AssemblyPath, "alarm", folder.Path]);
            await Until.TrueAsync(() => child.HasExited || child.Output.Count(c => c == '\n') > 150, () => $"the child acknowledges steps; it printed:\n{child.Output}");
            await child.KillAsync();
            acknowledged = child.Output.Split('\n').Where(line => line.Length == 6).Max(int.Parse);
            var check = await Peer.RunAsync("sqlite3", [folder.File(HistoryDatabase.FileName), "PRAGMA integrity_check"]);
            Assert.Equal((0, "ok"), (check.ExitCode, check.Output.Trim()));
        }

        await using var history = new RunningHistory(folder.Path);
        var steps = long.Parse((await history.Reader.AlarmMemoryAsync())!.Board, System.Globalization.CultureInfo.InvariantCulture);
        Assert.InRange(steps, acknowledged, acknowledged + 1);
        Assert.True(acknowledged > 300, $"only {acknowledged} were acknowledged");
        foreach (var (sql, times) in new[] { ("alarms WHERE active = 0", 1), ("alarm_events", 2), ("notices", 1), ("journal", 3) })
            Assert.Equal(times * steps, history.Ask($"SELECT count(*) FROM {sql}"));
    }
}
