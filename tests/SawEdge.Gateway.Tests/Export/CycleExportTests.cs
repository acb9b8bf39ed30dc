using Microsoft.Data.Sqlite;
using SawEdge.Core;
using SawEdge.Core.Cycles;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Export;
using SawEdge.Gateway.Formats.Tables;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Tests.History;

namespace SawEdge.Gateway.Tests.Export;

/// <summary>Cycles as they come out of the history.</summary>
public sealed class CycleExportTests
{
    [Fact]
    public async Task Fill_RecordsWithAllAndWithNothing_AreEqualToTheirCells()
    {
        await using var history = new RunningHistory();
        CycleRecord[] records = [Cycles.Bare(), Cycles.Full() with { StartedAt = Cycles.Start.AddMinutes(1) }, Cycles.Make("saw", 5) with { CutTimeS = 0.1 + 0.2, PeakLoadKw = 1e300, IdleLoadKw = 5e-324, MeanLoadKw = -0.0, PartCount = long.MinValue }];
        foreach (var record in records)
            await history.AppendAsync(record);

        var rows = await Exported.RowsAsync(history.Reader, Exported.Cycles);

        Assert.Equal(records.Length, rows.Count);
        foreach (var (record, row) in records.Zip(rows))
        {
            foreach (var (column, cell) in CycleColumns.All.Zip(row))
            {
                var value = column.Get(record);
                Assert.Equal(value is not (null or ""), cell.IsKnown);
                if (cell.IsKnown)
                    Assert.Equal(value, Value(column.Type, cell));
            }
        }
    }

    [Theory]
    [InlineData(1)]
    [InlineData(2)]
    [InlineData(7)]
    [InlineData(2000)]
    public async Task Fill_AnyBatch_GivesEachCycleOnceInTheOrderOfItsKey(int batchRows)
    {
        await using var history = new RunningHistory();
        List<CycleRecord> records = [];
        foreach (var saw in (string[])["b", "B", "a", "ä", "\U0001F527", "\uFF5E"])
        {
            for (var i = 0; i < 5; i++)
                records.Add(Cycles.Make(saw, i) with { CycleId = $"{9 - i} {saw}", StartedAt = Cycles.Start.AddMinutes(i / 2) });
        }

        foreach (var record in records.OrderBy(record => record.CycleId, StringComparer.Ordinal))
            await history.AppendAsync(record);

        var order = records.OrderBy(record => record.StartedAt).ThenBy(record => record.Saw, Utf8Order).ThenBy(record => record.CycleId, Utf8Order).Select(record => record.CycleId);
        Assert.Equal(order, await Exported.FirstAsync(history.Reader, Exported.Cycles, batchRows));
    }

    public static TheoryData<string> Filters => [.. FiltersByName.Keys];

    private static readonly Dictionary<string, (Func<ExportQuestion, ExportQuestion> Ask, Func<CycleRecord, bool> Belongs)> FiltersByName = new()
    {
        ["period"] = (question => question with { From = Cycles.Start.AddMinutes(20), To = Cycles.Start.AddMinutes(60) }, record => record.StartedAt >= Cycles.Start.AddMinutes(20) && record.StartedAt < Cycles.Start.AddMinutes(60)),
        ["saw"] = (question => question with { Saws = ["saw 1"] }, record => record.Saw == "saw 1"),
        ["saws"] = (question => question with { Saws = ["saw 1", "saw 2", "none"], From = Cycles.Start.AddMinutes(20) }, record => record.Saw is "saw 1" or "saw 2" && record.StartedAt >= Cycles.Start.AddMinutes(20)),
        ["job"] = (question => question with { Jobs = ["J-2"] }, record => record.Job == "J-2"),
        ["jobs"] = (question => question with { Jobs = ["J-2", "J-1"] }, record => record.Job is "J-1" or "J-2"),
        ["job and saw"] = (question => question with { Jobs = ["J-2"], Saws = ["saw 1"] }, record => record is { Job: "J-2", Saw: "saw 1" }),
        ["materials"] = (question => question with { Materials = ["C45", "42CrMo4"] }, record => record.Material is "C45" or "42CrMo4"),
        ["blade"] = (question => question with { Blades = ["B'1\""] }, record => record.Blade == "B'1\""),
        ["outcomes"] = (question => question with { Outcomes = [CutOutcome.Aborted, CutOutcome.Trim] }, record => record.Outcome is CutOutcome.Aborted or CutOutcome.Trim),
        ["scores"] = (question => question with { LeastScore = 2, GreatestScore = 4 }, record => record.LoadScore is >= 2 and <= 4),
        ["nothing"] = (question => question with { Saws = [] }, _ => false),
        ["all at once"] = (question => question with { Jobs = ["J-0", "J-1"], Saws = ["saw 0", "saw 1"], Materials = ["C45", "42CrMo4"], Blades = ["B'1\"", "B2"], Outcomes = [CutOutcome.Completed, CutOutcome.Trim], LeastScore = 1, To = Cycles.Start.AddMinutes(100) },
            record => record is { Job: "J-0" or "J-1", Saw: "saw 0" or "saw 1", Material: "C45" or "42CrMo4", Blade: "B'1\"" or "B2", Outcome: CutOutcome.Completed or CutOutcome.Trim, LoadScore: >= 1 } && record.StartedAt < Cycles.Start.AddMinutes(100)),
    };

    [Theory]
    [MemberData(nameof(Filters))]
    public async Task Fill_Filter_GivesThoseThatBelong(string name)
    {
        var (ask, belongs) = FiltersByName[name];
        await using var history = new RunningHistory();
        var records = Various(120).ToList();
        foreach (var record in records)
            await history.AppendAsync(record);
        var question = ask(Exported.Cycles);
        var expected = records.Where(belongs).OrderBy(record => record.StartedAt).ThenBy(record => record.Saw, StringComparer.Ordinal).Select(record => record.CycleId).ToList();

        Assert.Equal(expected, await Exported.FirstAsync(history.Reader, question));
        Assert.Equal(expected.Count == 0, name == "nothing");

        // Stretches that end in the middle of batches, between them, and, where several saws begin at once, at one moment.
        foreach (var stretch in (int[])[1, 2, 5, 13])
            Assert.Equal(expected, await Exported.FirstAsync(HistoryReader.OpenFolder(history.Folder, stretch), question, 3));
        if (await ExportSources.Open(history.Reader, question).CountAsync(CancellationToken.None) is { } count)
            Assert.Equal(expected.Count, count);
    }

    // 300,000 cycles would be more than a stretch; each filter is followed by its plan instead: SQLite says what it would do.
    [Theory]
    [InlineData("period", "cycles_by_time (started_at>")]
    [InlineData("saw", "cycles_by_saw (saw=? AND started_at>")]
    [InlineData("saws", "cycles_by_time (started_at>")]
    [InlineData("job", "cycles_by_job (job=? AND started_at>")]
    [InlineData("jobs", "cycles_by_time (started_at>")]
    [InlineData("job and saw", "cycles_by_job (job=? AND started_at>")]
    [InlineData("materials", "cycles_by_time (started_at>")]
    [InlineData("blade", "cycles_by_time (started_at>")]
    [InlineData("outcomes", "cycles_by_time (started_at>")]
    [InlineData("scores", "cycles_by_time (started_at>")]
    [InlineData("all at once", "cycles_by_time (started_at>")]
    public async Task Statement_AnyFilter_GoesOnAlongOneIndexWithoutSortingOrScanning(string name, string index)
    {
        await using var history = new RunningHistory();
        var question = FiltersByName[name].Ask(Exported.Cycles);
        var filter = ExportSources.FilterOf(question);
        foreach (var analysed in (bool[])[false, true])
        {
            if (analysed)
            {
                foreach (var record in Various(500))
                    await history.AppendAsync(record);
                history.Ask("ANALYZE");
            }

            var page = Plan(history, command => HistoryReader.CycleStatement(command, filter, "c.notes", "", new CycleKey(5, "saw", "id"), long.MaxValue, 2000));
            Assert.Contains(page, step => step.StartsWith($"SEARCH c USING INDEX {index}", StringComparison.Ordinal));
            Assert.DoesNotContain(page, step => step.StartsWith("SCAN c", StringComparison.Ordinal) || step == "USE TEMP B-TREE FOR ORDER BY");
            var stretch = Plan(history, command => HistoryReader.StretchStatement(command, filter, new CycleKey(5, "saw", "id"), 20_000));
            Assert.Equal([$"SEARCH c USING COVERING INDEX {index[..index.IndexOf('>', StringComparison.Ordinal)]}>?)"], stretch);
        }
    }

    [Fact]
    public async Task Fill_CycleIsCorrectedAndOthersComeMeanwhile_EachComesOnce()
    {
        await using var history = new RunningHistory();
        for (var i = 0; i < 30; i++)
            await history.AppendAsync(Cycles.Make("saw", i));
        var source = ExportSources.Open(history.Reader, Exported.Cycles with { Columns = ["cycle_id", "notes"] });
        var batch = new RowBatch(2, 10);
        await source.FillAsync(batch, CancellationToken.None);
        await history.AppendAsync(Cycles.Make("saw", 3) with { Notes = "corrected behind" });
        await history.AppendAsync(Cycles.Make("saw", 25) with { Notes = "corrected before" });
        await history.AppendAsync(Cycles.Make("saw", 40));

        var seen = new List<(string Id, string Notes)>();
        while (batch.Count > 0)
        {
            for (var i = 0; i < batch.Count; i++)
                seen.Add((batch.Row(i)[0].Text, batch.Row(i)[1].Text));
            batch.Clear();
            await source.FillAsync(batch, CancellationToken.None);
        }

        Assert.Equal(Enumerable.Range(0, 30).Append(40).Select(i => $"saw-{i:D6}"), seen.Select(row => row.Id));
        Assert.Equal(["saw-000025"], seen.Where(row => row.Notes.Length > 0).Select(row => row.Id));
    }

    [Fact]
    public async Task Open_Columns_ComeInTheOrderInWhichTheyAreWanted()
    {
        await using var history = new RunningHistory();
        await history.AppendAsync(Cycles.Make("saw", 1));
        Assert.Equal("frames,saw,cut_time_s\n758,saw,75.802\n", await Exported.TextAsync(history.Reader, Exported.Cycles with { Columns = ["frames", "saw", "cut_time_s"] }));
    }

    [Fact]
    public async Task Open_Inch_ConvertsValuesAndNames()
    {
        await using var history = new RunningHistory();
        await history.AppendAsync(Cycles.Make("saw", 1) with { PartLengthMm = 254, CutAreaCm2 = 64.516, CuttingRateCm2Min = 6.4516, MeanDescentMmMin = 50.8, BladeAreaM2 = 0.09290304, MeanBladeSpeedMMin = 60.96, MeanLoadKw = 0.74569987158227022, SpecificEnergyJMm3 = 2.5 });
        string[] columns = ["part_length_mm", "cut_area_cm2", "cutting_rate_cm2_min", "mean_descent_mm_min", "blade_area_m2", "mean_blade_speed_m_min", "mean_load_kw", "peak_load_kw", "specific_energy_j_mm3", "cut_time_s"];

        // One inch is 25.4 mm, one horsepower 550 ft lbf/s (NIST SP 811, appendix B).
        Assert.Equal(
            "part_length_in,cut_area_in2,cutting_rate_in2_min,mean_descent_in_min,blade_area_ft2,mean_blade_speed_ft_min,mean_load_hp,peak_load_hp,specific_energy_j_mm3,cut_time_s\n10,10,1,2,1,200,1,,2.5,75.802\n",
            await Exported.TextAsync(history.Reader, Exported.Cycles with { Columns = columns, Units = DisplayUnits.Inch }));
    }

    [Fact]
    public async Task Open_WhatMakesNoSense_SaysWhatWould()
    {
        await using var history = new RunningHistory();
        string Problem(ExportQuestion question) => Assert.Throws<ExportException>(() => ExportSources.Open(history.Reader, question)).Message;
        Assert.Equal("The table cycles has no column 'mean_laod_kw': did you mean 'mean_load_kw'?", Problem(Exported.Cycles with { Columns = ["saw", "mean_laod_kw"] }));
        Assert.StartsWith("The table cycles has no column 'xyz': known here: cycle_id, saw, ", Problem(Exported.Cycles with { Columns = ["xyz"] }), StringComparison.Ordinal);
        Assert.Equal("The column 'saw' is named twice; name each column once.", Problem(Exported.Cycles with { Columns = ["saw", "saw"] }));
        Assert.Equal("No column is named; name at least one, or leave the columns out to get all.", Problem(Exported.Cycles with { Columns = [] }));
        Assert.StartsWith("The period is empty: it begins at 2026-03-02T06:00:00Z", Problem(Exported.Cycles with { From = Cycles.Start, To = Cycles.Start }), StringComparison.Ordinal);
        Assert.StartsWith("The least load score", Problem(Exported.Cycles with { LeastScore = 3, GreatestScore = 2 }), StringComparison.Ordinal);
        Assert.StartsWith("A load score is a number", Problem(Exported.Cycles with { LeastScore = double.NaN }), StringComparison.Ordinal);
    }

    private static object Value(ColumnType type, Cell cell) => type switch
    {
        ColumnType.Number => cell.Number,
        ColumnType.Integer => cell.Integer,
        ColumnType.Time => DateTimeOffset.FromUnixTimeMilliseconds(cell.Milliseconds),
        _ => cell.Text,
    };

    // SQLite compares texts by their bytes.
    private static readonly Comparer<string> Utf8Order = Comparer<string>.Create((a, b) => System.Text.Encoding.UTF8.GetBytes(a).AsSpan().SequenceCompareTo(System.Text.Encoding.UTF8.GetBytes(b)));

    private static IEnumerable<CycleRecord> Various(int count) => Enumerable.Range(0, count).Select(i => Cycles.Make($"saw {i % 3}", i) with
    {
        StartedAt = Cycles.Start.AddMinutes(i / 3 * 6),
        Job = i % 7 == 0 ? "" : $"J-{i % 4}",
        Material = i % 5 == 0 ? "" : i % 2 == 0 ? "C45" : "42CrMo4",
        Blade = i % 3 == 0 ? "B2" : "B'1\"",
        Outcome = (CutOutcome)(i % 11 % 7),
        LoadScore = i % 6 == 0 ? null : i % 6,
    });

    private static List<string> Plan(RunningHistory history, Func<SqliteCommand, string> statement)
    {
        using var connection = new SqliteConnection($"Data Source={history.FilePath};Pooling=False");
        connection.Open();
        using var command = connection.CreateCommand();
        command.CommandText = "EXPLAIN QUERY PLAN " + statement(command);
        using var row = command.ExecuteReader();
        var steps = new List<string>();
        while (row.Read())
            steps.Add(row.GetString(3));
        return steps;
    }
}
