using System.Text;
using SawEdge.Core;
using SawEdge.Core.Blades;
using SawEdge.Core.Cutting;
using SawEdge.Core.Load;
using SawEdge.Core.Materials;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Processing;
using SawEdge.Gateway.Tests.History;
using SawEdge.Simulator.Demo;
using SawEdge.Simulator.Recordings;
using SawEdge.Simulator.Saws;

namespace SawEdge.Gateway.Tests.Processing;

/// <summary>Records computed anew on real files: the same where nothing changed, right again where something was wrong.</summary>
public sealed class RebuildTests
{
    private static readonly DateTimeOffset Start = new(2026, 3, 2, 6, 0, 0, TimeSpan.Zero);

    private static readonly Plant Plant = Plant.Create(Start);
    private static readonly JobBook Jobs = JobBook.Parse(Plant.JobList, MaterialCatalogue.BuiltIn).Book;

    [Theory]
    [InlineData(0)]
    [InlineData(1)]
    [InlineData(2)]
    public async Task RunAsync_UnchangedInputs_ChangesNothing(int saw)
    {
        await using var history = new RunningHistory();
        var setup = Setup(saw);
        await StoreLiveAsync(history, setup, saw, cycles: 25);
        var before = Dump(history);
        var state = MemoryCodec.Decode((await history.Reader.LoadSawAsync(setup.Machine.Name)).State!.Value);

        var outcome = await new Rebuild(history.Reader, history.Writer, setup).RunAsync(null, CancellationToken.None);

        Assert.True(outcome.Cycles >= 20);
        Assert.Equal((0, 0), (outcome.Changed, outcome.Unreadable));
        Assert.Equal(before, Dump(history));
        Assert.Equal(Bytes(state.Recorder!), Bytes(outcome.Recorder.Save()));
    }

    [Fact]
    public async Task RunAsync_FromACheckpoint_GivesWhatTheBeginningGives_AndRenewsTheCheckpoints()
    {
        await using var history = new RunningHistory();
        var setup = Setup(0);
        var recorder = await StoreShiftedAsync(history, setup, cycles: 1300);
        var before = Dump(history);
        Assert.Equal(2L, history.Ask("SELECT count(*) FROM load_checkpoints"));
        var last = await history.Reader.LastCycleAsync(setup.Machine.Name);

        var whole = await new Rebuild(history.Reader, history.Writer, setup).RunAsync(null, CancellationToken.None);
        Assert.Equal((1300, 0, 300), (whole.Cycles, whole.Changed, whole.SinceCheckpoint));
        var part = await new Rebuild(history.Reader, history.Writer, setup).RunAsync(last!.StartedAt, CancellationToken.None);

        // The last thousand and the third hundred after it are less than a day.
        Assert.Equal((800, 0, 300), (part.Cycles, part.Changed, part.SinceCheckpoint));
        Assert.Equal(Bytes(recorder.Save()), Bytes(whole.Recorder.Save()));
        Assert.Equal(Bytes(recorder.Save()), Bytes(part.Recorder.Save()));
        Assert.Equal(before, Dump(history));
        Assert.Equal(2L, history.Ask("SELECT count(*) FROM load_checkpoints"));
    }

    [Fact]
    public async Task RunAsync_AnEntry_GivesTheCutsFromThereOnANewBlade_AndItsWithdrawalGivesBackWhatWas()
    {
        await using var history = new RunningHistory();
        var setup = Setup(0);
        await StoreLiveAsync(history, setup, 0, cycles: 12);
        var before = Dump(history);
        var journal = await history.Reader.LastSequenceAsync();
        var records = await new CrashingProcessor(history, setup.Machine, Jobs, storeEachFrame: false).RecordsAsync();
        var change = new BladeEntry(0, setup.Machine.Name, records[5].StartedAt.AddSeconds(-1), BladeEntryKind.Change, "B-9");
        BladeEntryRows.Write(history.Folder, [], [change], Start.AddHours(9));

        var entered = await new Rebuild(history.Reader, history.Writer, setup).RunAsync(change.At, CancellationToken.None);

        var after = await new CrashingProcessor(history, setup.Machine, Jobs, storeEachFrame: false).RecordsAsync();
        Assert.Equal(records.Take(5), after.Take(5));
        Assert.All(after.Skip(5), record => Assert.Equal("B-9", record.Blade));
        Assert.Equal(records.Count - 5, entered.Changed);
        Assert.Equal(BladeOrigin.Operator, entered.Recorder.Blades[^1].Origin);

        BladeEntryRows.Write(history.Folder, [change with { Id = 1 }], [], Start.AddHours(10));
        var withdrawn = await new Rebuild(history.Reader, history.Writer, setup).RunAsync(change.At, CancellationToken.None);
        Assert.Equal(records.Count - 5, withdrawn.Changed);
        history.Ask($"DELETE FROM journal WHERE seq > {journal}");
        Assert.Equal(before, Dump(history));
    }

    // Two checkpoints lie in 1,300 cycles: up to the first one everything may go, all at once or broken off after two bites.
    [Theory]
    [InlineData(int.MaxValue)]
    [InlineData(100)]
    public async Task RunAsync_OldEvidenceClearedAway_GoesOnFromTheCheckpoint_WhateverIsAsked_AndChangesNothing(int bites)
    {
        await using var history = new RunningHistory();
        var setup = Setup(0);
        var recorder = await StoreShiftedAsync(history, setup, cycles: 1300);
        var name = setup.Machine.Name;
        var block = await history.Reader.OldestDetailsAsync(DateTimeOffset.MaxValue);
        Assert.Equal((name, Start.ToUnixTimeMilliseconds()), (block!.Saw, block.From.ToUnixTimeMilliseconds()));
        for (var gone = 0; gone < bites && await history.Writer.ClearDetailsAsync(block, 50, CancellationToken.None) is > 0 and var some;)
            gone += some;
        var before = Dump(history);

        // Before the first checkpoint left nothing can be computed anew; a broken-off clearing leaves a hole before it, which is passed over, too.
        foreach (var from in (DateTimeOffset?[])[null, Start, (await history.Reader.LastCycleAsync(name))!.StartedAt])
        {
            var outcome = await new Rebuild(history.Reader, history.Writer, setup).RunAsync(from, CancellationToken.None);
            Assert.Equal((800, 0, 0, 300), (outcome.Cycles, outcome.Changed, outcome.Unreadable, outcome.SinceCheckpoint));
            Assert.Equal(from > block.To ? null : block.To, outcome.StayedUpTo);
            Assert.Equal(Bytes(recorder.Save()), Bytes(outcome.Recorder.Save()));
        }

        Assert.Equal(before, Dump(history));
        Assert.Equal(bites == 100 ? 1200L : 800L, history.Ask("SELECT count(*) FROM evidence"));

        // What was broken off is gone on with.
        while (await history.Reader.OldestDetailsAsync(DateTimeOffset.MaxValue) is { } rest)
        {
            Assert.Equal(block.To, rest.To);
            Assert.InRange(await history.Writer.ClearDetailsAsync(rest, 1000, CancellationToken.None), 1, 400);
        }

        Assert.Equal(800L, history.Ask("SELECT count(*) FROM evidence"));
    }

    [Fact]
    public async Task RunAsync_AnEntryOfATimeThatWasClearedAway_LeavesThoseRecords_AndTheOthersAreRight()
    {
        await using var history = new RunningHistory();
        var setup = Setup(0);
        await StoreShiftedAsync(history, setup, cycles: 1300);
        var block = (await history.Reader.OldestDetailsAsync(DateTimeOffset.MaxValue))!;
        while (await history.Writer.ClearDetailsAsync(block, 100, CancellationToken.None) > 0)
        {
            // The next bite.
        }

        var late = block.To.AddHours(3);
        BladeEntryRows.Write(history.Folder, [], [new BladeEntry(0, setup.Machine.Name, Start.AddHours(1), BladeEntryKind.Change, "B-8"), new BladeEntry(0, setup.Machine.Name, late, BladeEntryKind.Change, "B-9")], Start.AddDays(9));

        var outcome = await new Rebuild(history.Reader, history.Writer, setup).RunAsync(Start.AddHours(1), CancellationToken.None);

        Assert.Equal(800, outcome.Cycles);
        var (first, second) = (block.To.ToUnixTimeMilliseconds(), late.ToUnixTimeMilliseconds());
        foreach (var (blade, condition) in new[] { ("B-8", $"started_at > {first} AND started_at < {second}"), ("B-9", $"started_at >= {second}") })
        {
            var expected = (long)history.Ask($"SELECT count(*) FROM cycles WHERE {condition}")!;
            Assert.True(expected > 50);
            Assert.Equal((expected, expected), ((long)history.Ask($"SELECT count(*) FROM cycles WHERE blade = '{blade}'")!, (long)history.Ask($"SELECT count(*) FROM cycles WHERE blade = '{blade}' AND {condition}")!));
        }

        Assert.Equal(1300L, history.Ask("SELECT count(*) FROM cycles"));
    }

    // The checkpoint at its end is not there while the records behind it are being computed anew.
    [Fact]
    public async Task ClearDetails_RecordsAreBeingComputedAnew_ClearsNothing()
    {
        await using var history = new RunningHistory();
        var setup = Setup(0);
        await StoreShiftedAsync(history, setup, cycles: 1300);
        var before = Dump(history);
        var block = (await history.Reader.OldestDetailsAsync(DateTimeOffset.MaxValue))!;
        Assert.True(await history.Writer.DropCheckpointsAsync(setup.Machine.Name, null, CancellationToken.None));

        Assert.Equal(0, await history.Writer.ClearDetailsAsync(block, 100, CancellationToken.None));
        Assert.Null(await history.Reader.OldestDetailsAsync(DateTimeOffset.MaxValue));
        Assert.False(await history.Writer.DropCheckpointsAsync(setup.Machine.Name, block.To, CancellationToken.None));
        Assert.Equal(before, Dump(history));
    }

    [Fact]
    public async Task RunAsync_ADamagedCheckpoint_IsPassedOver()
    {
        await using var history = new RunningHistory();
        var setup = Setup(0);
        await StoreShiftedAsync(history, setup, cycles: 600);
        history.Ask("UPDATE load_checkpoints SET data = x'010203'");
        var last = await history.Reader.LastCycleAsync(setup.Machine.Name);

        var outcome = await new Rebuild(history.Reader, history.Writer, setup).RunAsync(last!.StartedAt.AddDays(2), CancellationToken.None);

        Assert.Equal((600, 0), (outcome.Cycles, outcome.Changed));
        Assert.NotEqual("010203", history.Ask("SELECT hex(data) FROM load_checkpoints"));
    }

    [Fact]
    public async Task RunAsync_RecordsThatDiffer_AreWrittenAndJournalled_NoOthers()
    {
        await using var history = new RunningHistory();
        var setup = Setup(0);
        await StoreLiveAsync(history, setup, 0, cycles: 12);
        var before = Dump(history);
        var journal = await history.Reader.LastSequenceAsync();
        history.Ask("UPDATE cycles SET standard_cut_time_s = 1, notes = 'wrong' WHERE id IN (3, 7)");
        history.Ask("UPDATE assessments SET data = x'017B7D' WHERE cycle = 5");

        var outcome = await new Rebuild(history.Reader, history.Writer, setup).RunAsync(null, CancellationToken.None);

        Assert.Equal(3, outcome.Changed);
        Assert.Equal("3,5,7", history.Ask($"SELECT group_concat(item) FROM journal WHERE seq > {journal}"));
        history.Ask($"DELETE FROM journal WHERE seq > {journal}");
        Assert.Equal(before, Dump(history));
    }

    [Fact]
    public async Task RunAsync_AJobThatCannotBeReadAnyMore_LeavesItsRecords()
    {
        await using var history = new RunningHistory();
        var setup = Setup(0);
        await StoreLiveAsync(history, setup, 0, cycles: 6);
        var before = Dump(history);
        history.Ask("UPDATE evidence SET data = CAST(replace(CAST(data AS TEXT), '\"material\":\"4140\"', '\"material\":\"Nothing 9\"') AS BLOB)");

        var outcome = await new Rebuild(history.Reader, history.Writer, setup).RunAsync(null, CancellationToken.None);

        Assert.True(outcome.Unreadable > 0);
        Assert.Equal(0, outcome.Changed);
        Assert.Equal(before.Cycles, Dump(history).Cycles);
    }

    [Fact]
    public async Task RunAsync_TheConfigurationNamedAnotherBladeThen_KeepsItForThoseCuts()
    {
        await using var history = new RunningHistory();
        var (old, now) = (Setup(0) with { Blade = "B-7" }, Setup(0) with { Blade = "B-8" });
        await StoreLiveAsync(history, old, 0, cycles: 6);
        var before = Dump(history);

        var outcome = await new Rebuild(history.Reader, history.Writer, now).RunAsync(null, CancellationToken.None);

        Assert.Equal(0, outcome.Changed);
        Assert.Equal(before, Dump(history));
    }

    [Fact]
    public async Task Start_StateComputedInAnotherWay_RebuildsFromTheHistoryAndSaysSoOnce()
    {
        await using var history = new RunningHistory();
        var setup = Setup(0);
        await StoreLiveAsync(history, setup, 0, cycles: 8);
        var before = Dump(history);
        var state = (await history.Reader.LoadSawAsync(setup.Machine.Name)).State!.Value;
        var other = Encoding.Latin1.GetString(state.Data.Span).Replace("\"Algorithm\":1", "\"Algorithm\":0", StringComparison.Ordinal);
        await history.Writer.SaveMemoryAsync(setup.Machine.Name, state with { Data = Encoding.Latin1.GetBytes(other) }, CancellationToken.None);

        var processor = new CrashingProcessor(history, setup.Machine, Jobs, storeEachFrame: false);
        await processor.RunAsync(Later(setup, 0, cycles: 8, count: 5), crash: false);

        var said = Assert.Single(processor.Log.Entries, entry => entry.Id == 3007);
        Assert.Contains("0 records changed: the load score is computed in way 1 now", said.Text, StringComparison.Ordinal);
        Assert.Equal(before.Cycles, Dump(history).Cycles);
        var again = new CrashingProcessor(history, setup.Machine, Jobs, storeEachFrame: false);
        await again.RunAsync(Later(setup, 0, cycles: 8, count: 9), crash: false);
        Assert.Equal(0, again.Log.Count(3007));
    }

    [Fact]
    public async Task Start_StateUnreadable_RebuildsFromTheHistory()
    {
        await using var history = new RunningHistory();
        var setup = Setup(0);
        await StoreLiveAsync(history, setup, 0, cycles: 8);
        var learned = MemoryCodec.Decode((await history.Reader.LoadSawAsync(setup.Machine.Name)).State!.Value).Recorder!;
        history.Ask("UPDATE saw_state SET data = x'00'");

        var processor = new CrashingProcessor(history, setup.Machine, Jobs, storeEachFrame: false);
        await processor.RunAsync(Later(setup, 0, cycles: 8, count: 5), crash: false);

        Assert.Equal((1, 1), (processor.Log.Count(3004), processor.Log.Count(3007)));
        Assert.Equal(Bytes(learned), Bytes(MemoryCodec.Decode((await history.Reader.LoadSawAsync(setup.Machine.Name)).State!.Value).Recorder!));
    }

    [Fact]
    public async Task Start_EntriesMadeWhileItWasDown_AreTakenOverOnce()
    {
        await using var history = new RunningHistory();
        var setup = Setup(0);
        await StoreLiveAsync(history, setup, 0, cycles: 8);
        BladeEntryRows.Write(history.Folder, [], [new BladeEntry(0, setup.Machine.Name, Start.AddMinutes(1), BladeEntryKind.Change, "B-2")], Start.AddHours(9));
        BladeEntryRows.Write(history.Folder, [], [new BladeEntry(0, "another", Start.AddMinutes(1), BladeEntryKind.Change, "B-2")], Start.AddHours(9));

        for (var start = 0; start < 2; start++)
        {
            var processor = new CrashingProcessor(history, setup.Machine, Jobs, storeEachFrame: false);
            await processor.RunAsync(Later(setup, 0, cycles: 8, count: 5 + (4 * start)), crash: false);
            Assert.Equal(start == 0 ? 1 : 0, processor.Log.Count(3007));
        }

        Assert.Equal(1, MemoryCodec.Decode((await history.Reader.LoadSawAsync(setup.Machine.Name)).State!.Value).Entries);
    }

    /// <summary>The saw's setup, as the gateway would have it.</summary>
    private static SawSetup Setup(int saw) => new(Plant.Saws[saw].Options.Machine.ToSawMachine(), null, new LoadSettings(), MaterialCatalogue.BuiltIn);

    private static async Task StoreLiveAsync(RunningHistory history, SawSetup setup, int saw, int cycles)
    {
        var frames = RecordingGenerator.Frames(new VirtualSaw(Plant.Saws[saw].Options), new RecordingOptions { Cycles = cycles, Interval = TimeSpan.FromMilliseconds(250) }).ToList();
        await new CrashingProcessor(history, setup.Machine, Jobs, storeEachFrame: false, setup.Blade).RunAsync(frames, crash: false);
    }

    // A few frames after the end, in which nothing happens.
    private static List<Core.Signals.SignalFrame> Later(SawSetup setup, int saw, int cycles, int count)
    {
        Assert.NotNull(setup);
        var last = RecordingGenerator.Frames(new VirtualSaw(Plant.Saws[saw].Options), new RecordingOptions { Cycles = cycles, Interval = TimeSpan.FromMilliseconds(250) }).Last();
        return [.. Enumerable.Range(count, count).Select(i => new Core.Signals.SignalFrame(last.Time.AddSeconds(i)))];
    }

    // The evidence of a few cuts again and again, 30 s apart, through the storing of live operation.
    private static async Task<CutRecorder> StoreShiftedAsync(RunningHistory history, SawSetup setup, int cycles)
    {
        var pipeline = new SawPipeline(setup.Machine, Jobs);
        var few = new List<CutEvidence>();
        foreach (var frame in RecordingGenerator.Frames(new VirtualSaw(Plant.Saws[0].Options), new RecordingOptions { Cycles = 20, Interval = TimeSpan.FromMilliseconds(250) }))
        {
            pipeline.Push(frame);
            while (pipeline.TryTake(out var cut))
                few.Add(cut.Evidence);
        }

        var (recorder, storage, next) = (setup.NewRecorder(), new CutStorage(null), Start);
        for (var i = 0; i < cycles; i++)
        {
            var evidence = few[i % few.Count];
            var by = next - evidence.Cut.StartedAt;
            var cut = evidence.Cut with { StartedAt = evidence.Cut.StartedAt + by, EndedAt = evidence.Cut.EndedAt + by, CutStartedAt = evidence.Cut.CutStartedAt + by, CutEndedAt = evidence.Cut.CutEndedAt + by };
            next = cut.EndedAt.AddSeconds(30);
            await history.Writer.AppendAsync(storage.Rows(recorder.Take(evidence with { Cut = cut }), recorder), CancellationToken.None);
        }

        return recorder;
    }

    private static byte[] Bytes(RecorderMemory memory) => MemoryCodec.EncodeCheckpoint(memory).Data.ToArray();

    // Everything stored of the cycles, as text.
    private static (string Cycles, string Others) Dump(RunningHistory history) => (
        (string)history.Ask($"SELECT group_concat(concat_ws('|', {string.Join(", ", CycleColumns.All.Select(column => $"ifnull({column.Name}, '-')"))}), char(10)) FROM cycles")!,
        string.Join('\n', ((string[])["SELECT group_concat(cycle || hex(data)) FROM evidence", "SELECT group_concat(cycle || hex(data)) FROM profiles", "SELECT group_concat(cycle || hex(data)) FROM assessments", "SELECT group_concat(seq || kind || item) FROM journal"]).Select(history.Ask)));
}
