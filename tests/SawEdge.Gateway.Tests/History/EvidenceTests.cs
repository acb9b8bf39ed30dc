using System.Reflection;
using SawEdge.Core;
using SawEdge.Core.Cutting;
using SawEdge.Core.Cycles;
using SawEdge.Core.Load;
using SawEdge.Core.Materials;
using SawEdge.Gateway.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.History;

public sealed class EvidenceTests
{
    [Fact]
    public async Task Evidence_EveryPropertyOfTheCut_ComesBackBitForBit()
    {
        await using var history = new RunningHistory();
        for (var turn = 0; turn < 12; turn++)
        {
            var written = Evidences.FullCut(turn);
            var record = Cycles.Make("saw0", turn);
            await history.Writer.AppendAsync(Evidences.Row(record, turn), CancellationToken.None);

            var read = await history.Reader.EvidenceAsync(record.CycleId);

            Assert.NotNull(read);
            Assert.Equal(record, read.Record);
            foreach (var property in typeof(Cut).GetProperties(BindingFlags.Public | BindingFlags.Instance).Where(property => property.Name is not nameof(Cut.Profile) and not nameof(Cut.Notes)))
                Assert.True(Same(property.GetValue(written), property.GetValue(read.Cut)), $"{property.Name}: wrote {property.GetValue(written)}, read {property.GetValue(read.Cut)}");
            Assert.Equal(written.Notes, read.Cut.Notes);
            Assert.Equal(written.Profile!.MeanLoadKw, read.Cut.Profile!.MeanLoadKw);
            Assert.Equal(written.Profile.DepthMm, read.Cut.Profile.DepthMm);
            Assert.Equal([Evidences.Finding], read.Findings);
        }
    }

    // What evidence consists of; whoever adds to it adds it to the history.
    [Fact]
    public void CutEvidence_HasNothingThatTheHistoryDoesNotKeep() =>
        Assert.Equal(["Cut", "Job", "Findings"], typeof(CutEvidence).GetProperties(BindingFlags.Public | BindingFlags.Instance).Select(property => property.Name));

    [Fact]
    public async Task Evidence_OfAJob_KeepsTheTextsOfItsRow_FromWhichTheSameJobIsRead()
    {
        await using var history = new RunningHistory();
        var job = Evidences.Job;
        var record = Cycles.Make("saw0", 1);
        await history.Writer.AppendAsync(Evidences.Row(record, 1, job) with { ConfiguredBlade = "B-7" }, CancellationToken.None);

        var read = await history.Reader.EvidenceAsync(record.CycleId);

        Assert.Equal("B-7", read!.ConfiguredBlade);
        var again = JobBook.ReadJob(read.Job!, MaterialCatalogue.BuiltIn, out var problems);
        Assert.Empty(problems);
        foreach (var property in typeof(CutJob).GetProperties().Where(property => property.Name is not nameof(CutJob.Section) and not nameof(CutJob.Written)))
            Assert.Equal(property.GetValue(job), property.GetValue(again));
        Assert.Equal((job.Section.Notation, job.Section.AreaCm2), (again!.Section.Notation, again.Section.AreaCm2));
    }

    [Fact]
    public async Task Evidence_OfAJobThatNobodyWrote_IsRefusedAndNothingIsStored()
    {
        await using var history = new RunningHistory();
        var row = Evidences.Row(Cycles.Make("saw0", 1), 1, Evidences.Job with { Written = null });

        var error = await Assert.ThrowsAsync<HistoryException>(() => history.Writer.AppendAsync(row, CancellationToken.None));

        Assert.Contains("J-1", error.Message, StringComparison.Ordinal);
        Assert.Equal(0, await history.Reader.CountAsync(CycleFilter.All));
    }

    [Fact]
    public async Task Assessment_ComesBack_AndItsScoreStandsInAColumn()
    {
        await using var history = new RunningHistory();
        var record = Cycles.Make("saw0", 1);
        var written = Evidences.Assessment(4.5);
        await history.Writer.AppendAsync(Evidences.Row(record) with { Assessment = written }, CancellationToken.None);

        var read = await history.Reader.AssessmentAsync(record.CycleId);

        Assert.Equal(AssessmentCodec.Encode(written), AssessmentCodec.Encode(read!));
        Assert.Equal(written.Views, read!.Views);
        Assert.Equal(written.Wear, read.Wear);
        Assert.Equal(written.Profile!.Standardised, read.Profile!.Standardised);
        Assert.Equal(4.5, history.Ask("SELECT score FROM assessments WHERE accepted = 1 AND why = 'nothing stood out'"));
        Assert.Null(await history.Reader.AssessmentAsync("another"));
    }

    [Theory]
    [InlineData(new byte[0])]
    [InlineData(new byte[] { 9, 123, 125 })]
    [InlineData(new byte[] { 1, 123 })]
    [InlineData(new byte[] { 1, 123, 34, 67, 117, 116, 34, 58, 51, 125 })]
    public void Decode_OtherBytes_AreRefused(byte[] bytes)
    {
        Assert.Throws<InvalidDataException>(() => EvidenceCodec.Decode(bytes));
        Assert.Throws<InvalidDataException>(() => AssessmentCodec.Decode(bytes.Length < 5 ? bytes : [1, 91]));
    }

    [Fact]
    public async Task StoreAgain_IsJournalledOnlyWhereRecordOrAssessmentChanged()
    {
        await using var history = new RunningHistory();
        var row = Evidences.Row(Cycles.Make("saw0", 1));
        var steps = new (FinishedCycle Row, int Journal)[]
        {
            (row, 1),
            (row, 1),
            (row with { Assessment = Evidences.Assessment(9) }, 2),
            (row with { Assessment = Evidences.Assessment(9), Evidence = row.Evidence! with { Findings = [] } }, 2),
            (row with { Assessment = null, Evidence = null }, 3),
            (row with { Assessment = null, Evidence = null, Record = row.Record with { Blade = "B" } }, 4),
        };
        foreach (var (step, journal) in steps)
        {
            await history.Writer.AppendAsync(step, CancellationToken.None);
            Assert.Equal(journal, await history.Reader.LastSequenceAsync());
        }

        Assert.Null(await history.Reader.EvidenceAsync(row.Record.CycleId));
        Assert.Null(await history.Reader.AssessmentAsync(row.Record.CycleId));
    }

    [Fact]
    public async Task CorrectAsync_CountsWhatChanged_AndLeavesStateAndOpenFrames()
    {
        await using var history = new RunningHistory();
        var rows = Enumerable.Range(0, 4).Select(i => Evidences.Row(Cycles.Make("saw0", i), i)).ToList();
        await history.Writer.AppendAsync(rows, CancellationToken.None);
        await history.Writer.SaveStateAsync("saw0", new SawState(1, new byte[] { 1 }), new byte[] { 4, 5 }, CancellationToken.None);
        rows[2] = rows[2] with { Record = rows[2].Record with { Blade = "B-8" } };

        Assert.Equal(1, await history.Writer.CorrectAsync(rows, CancellationToken.None));

        Assert.Equal(5, await history.Reader.LastSequenceAsync());
        Assert.Equal([[4, 5]], (await history.Reader.LoadSawAsync("saw0")).OpenFrames);
        await history.Writer.SaveMemoryAsync("saw0", new SawState(2, new byte[] { 7 }), CancellationToken.None);
        var saved = await history.Reader.LoadSawAsync("saw0");
        Assert.Equal(2, saved.State?.Version);
        Assert.Equal([[4, 5]], saved.OpenFrames);
    }

    [Fact]
    public async Task EvidenceAsync_MoreThanAPage_ComesInOrderAfterAMoment_AndOfOneSaw()
    {
        await using var history = new RunningHistory();
        var rows = Enumerable.Range(0, 1100).Select(i => Evidences.Row(Cycles.Make("saw" + (i % 2), i))).ToArray();
        rows[200] = rows[200] with { Evidence = null };
        var shuffled = rows.ToArray();
        new Random(3).Shuffle(shuffled);
        await history.Writer.AppendAsync(shuffled, CancellationToken.None);

        Assert.Equal(rows.Where((row, i) => i % 2 == 0 && i != 200).Select(row => row.Record), await RecordsAsync(history.Reader, "saw0", null));
        Assert.Equal(rows.Where((_, i) => i % 2 == 1 && i > 31).Select(row => row.Record), await RecordsAsync(history.Reader, "saw1", rows[31].Record.StartedAt));
        Assert.Equal(["saw0", "saw1"], await history.Reader.SawsAsync());
        Assert.Equal(rows[30].Record, await history.Reader.LastCycleAsync("saw0", rows[31].Record.StartedAt));
        Assert.Equal(rows[1099].Record, await history.Reader.LastCycleAsync("saw1"));
        Assert.Null(await history.Reader.LastCycleAsync("saw1", rows[0].Record.StartedAt));
    }

    [Fact]
    public async Task Open_AHistoryOfTheFirstVersion_IsBroughtUpToDate_AndKeepsItsCycles()
    {
        await using var history = new RunningHistory();
        await history.AppendAsync(Cycles.Make("saw0", 1));
        using var copy = new TempFolder();
        history.CopyAsVersion(1, copy.Path);
        var error = Assert.Throws<HistoryException>(() => HistoryReader.OpenFolder(copy.Path));
        Assert.Contains("older version", error.Message, StringComparison.Ordinal);

        await using var next = new RunningHistory(copy.Path);
        Assert.Equal(1, await next.Reader.CountAsync(CycleFilter.All));
        await next.Writer.AppendAsync(Evidences.Row(Cycles.Make("saw0", 1)), CancellationToken.None);
        Assert.NotNull(await next.Reader.EvidenceAsync("saw0-000001"));
    }

    private static bool Same(object? one, object? other) => (one, other) switch
    {
        (double a, double b) => BitConverter.DoubleToInt64Bits(a) == BitConverter.DoubleToInt64Bits(b),
        (DateTimeOffset a, DateTimeOffset b) => a.EqualsExact(b),
        _ => Equals(one, other),
    };

    private static async Task<List<CycleRecord>> RecordsAsync(HistoryReader reader, string saw, DateTimeOffset? after)
    {
        var records = new List<CycleRecord>();
        await foreach (var stored in reader.EvidenceAsync(saw, after))
            records.Add(stored.Record);
        return records;
    }
}
