using Microsoft.Data.Sqlite;
using SawEdge.Core;
using SawEdge.Core.Alarms;
using SawEdge.Core.Cycles;
using SawEdge.Core.Oee;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Export;
using SawEdge.Gateway.Formats.Tables;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Tests.History;

namespace SawEdge.Gateway.Tests.Export;

/// <summary>Profiles, states and alarms as they come out of the history.</summary>
public sealed class OtherTablesTests
{
    private static readonly AuditEntry Audit = new("Anna", AuditEntry.Command, "stop.reason", "a");

    [Theory]
    [InlineData(1)]
    [InlineData(47)]
    [InlineData(48)]
    [InlineData(100)]
    [InlineData(2000)]
    public async Task Profiles_AnyBatch_GiveEachBinOnceWithTheStoredBits(int batchRows)
    {
        await using var history = new RunningHistory();
        var stored = new List<(string Id, DepthProfile Profile)>();
        for (var i = 0; i < 5; i++)
        {
            var profile = Cycles.Profile(i) with { MeanLoadKw = [.. Enumerable.Range(0, 48).Select(bin => bin == 3 ? float.NaN : 0.1f * bin / (i + 1))] };
            if (i == 2)
                profile = new DepthProfile(ProfileBasis.TimeShare, double.NaN, [1, 2, 0], [1.5f, 2.5f, float.NaN], [float.NaN, float.NaN, float.NaN]);
            await history.Writer.AppendAsync(new FinishedCycle { Record = Cycles.Make("saw", i), Profile = i == 3 ? null : profile }, CancellationToken.None);
            if (i != 3)
                stored.Add(($"saw-{i:D6}", profile));
        }

        var rows = await Exported.RowsAsync(history.Reader, new ExportQuestion { Table = ExportTables.Profiles, Columns = ["cycle_id", "bin", "basis", "from_share", "to_share", "depth_from_mm", "depth_to_mm", "time_s", "mean_load_kw", "mean_blade_speed_m_min", "job"] }, batchRows);

        var at = 0;
        foreach (var (id, profile) in stored)
        {
            var bins = profile.Seconds.Count;
            for (var bin = 0; bin < bins; bin++)
            {
                var row = rows[at++];
                Assert.Equal((id, bin + 1L, profile.Basis == ProfileBasis.Depth ? "depth" : "time", "J-1"), (row[0].Text, row[1].Integer, row[2].Text, row[10].Text));
                Assert.Equal(((double)bin / bins, (bin + 1.0) / bins), (row[3].Number, row[4].Number));
                Assert.Equal(profile.Basis == ProfileBasis.Depth, row[5].IsKnown && row[6].IsKnown);
                if (row[6].IsKnown)
                    Assert.Equal(profile.DepthMm * ((bin + 1.0) / bins), row[6].Number);
                Same(profile.Seconds[bin], row[7]);
                Same(profile.MeanLoadKw[bin], row[8]);
                Same(profile.MeanBladeSpeedMMin[bin], row[9]);
            }
        }

        Assert.Equal(at, rows.Count);
    }

    [Fact]
    public async Task Profiles_OfAFilterAndInInches_AreThose()
    {
        await using var history = new RunningHistory();
        for (var i = 0; i < 4; i++)
            await history.Writer.AppendAsync(new FinishedCycle { Record = Cycles.Make($"saw {i}", i), Profile = Cycles.Profile(i) with { DepthMm = 254 } }, CancellationToken.None);
        var text = await Exported.TextAsync(history.Reader, new ExportQuestion { Table = ExportTables.Profiles, Saws = ["saw 2"], Columns = ["saw", "bin", "depth_to_mm"], Units = DisplayUnits.Inch });
        var lines = text.TrimEnd('\n').Split('\n');
        Assert.Equal("saw,bin,depth_to_in", lines[0]);
        Assert.Equal(49, lines.Length);
        Assert.Equal("saw 2,48,10", lines[48]);
        Assert.All(lines.Skip(1), line => Assert.Equal(10 * double.Parse(line.Split(',')[1], System.Globalization.CultureInfo.InvariantCulture) / 48, double.Parse(line.Split(',')[2], System.Globalization.CultureInfo.InvariantCulture), 1e-12));
    }

    [Fact]
    public async Task Profiles_ADamagedOne_NamesItsCycle()
    {
        await using var history = new RunningHistory();
        await history.Writer.AppendAsync(new FinishedCycle { Record = Cycles.Make("saw", 7), Profile = Cycles.Profile(1) }, CancellationToken.None);
        history.Ask("UPDATE profiles SET data = x'09'");
        var problem = await Assert.ThrowsAsync<HistoryException>(() => Exported.RowsAsync(history.Reader, new ExportQuestion { Table = ExportTables.Profiles }));
        Assert.Contains("the profile of cycle saw-000007: A stored profile has version 9", problem.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void ShortFloat_AnyNumber_IsThatOfItsShortestText()
    {
        var random = new Random(7);
        float[] awkward = [0, -0f, float.Epsilon, float.MaxValue, float.MinValue, 0.1f, 16777216, 33554432, 1e-5f, 9.999999e-5f, 8388607.5f, float.NaN, float.PositiveInfinity];
        foreach (var value in awkward.Concat(Enumerable.Range(0, 200_000).Select(i => i % 2 == 0 ? BitConverter.UInt32BitsToSingle((uint)random.NextInt64(uint.MaxValue)) : (float)Math.Round(random.NextDouble() * 100, random.Next(6)))))
        {
            var made = ShortFloat.ToDouble(value);
            Assert.Equal(float.IsNaN(value), double.IsNaN(made));
            if (!float.IsNaN(value))
                Assert.Equal(BitConverter.SingleToUInt32Bits(value), BitConverter.SingleToUInt32Bits((float)made));
            if (float.IsFinite(value))
                Assert.Equal(double.Parse(value.ToString("R", System.Globalization.CultureInfo.InvariantCulture), System.Globalization.CultureInfo.InvariantCulture), made);
        }
    }

    [Theory]
    [InlineData(1)]
    [InlineData(3)]
    [InlineData(100)]
    public async Task States_StopsWithEntries_ArePartedWhereTheEntriesChange(int batchRows)
    {
        await using var history = new RunningHistory();
        await history.Writer.SaveStatesAsync("a", [Segment(0, 100, TimelineState.Executing, "", "J-1"), Segment(100, 200, TimelineState.OutOfService, "fault 17"), Segment(200, 230, TimelineState.NotExecuting), Segment(230, 300, TimelineState.Unknown)], CancellationToken.None);
        await history.Writer.SaveStatesAsync("B", [Segment(0, 50, TimelineState.NotAvailable, "switched off")], CancellationToken.None);
        await EnterAsync(history, "a", 50, 220, "waiting for the crane", StopClass.Delay, 1);
        await EnterAsync(history, "a", 120, 140, "blade broke", StopClass.Down, 2);
        await EnterAsync(history, "a", 240, 260, "nobody knows", StopClass.Down, 3);
        var withdrawn = await EnterAsync(history, "a", 100, 300, "a mistake", StopClass.Setup, 4);
        await history.Writer.WithdrawStopReasonAsync(withdrawn, Audit, CancellationToken.None);

        var question = new ExportQuestion { Table = ExportTables.States, Columns = ["saw", "started_at", "duration_s", "state", "reason", "job", "entered_reason", "entered_class", "entered_by"] };
        Assert.Equal(
            [
                "B 0+50 not_available 'switched off' '' '' '' ''",
                "a 0+100 executing '' 'J-1' '' '' ''",
                "a 100+20 out_of_service 'fault 17' '' 'waiting for the crane' 'delay' 'Anna'",
                "a 120+20 out_of_service 'fault 17' '' 'blade broke' 'down' 'Anna'",
                "a 140+60 out_of_service 'fault 17' '' 'waiting for the crane' 'delay' 'Anna'",
                "a 200+20 not_executing '' '' 'waiting for the crane' 'delay' 'Anna'",
                "a 220+10 not_executing '' '' '' '' ''",
                "a 230+70 unknown '' '' '' '' ''",
            ],
            await StatesAsync(history, question, batchRows));
        Assert.Equal(["a 0+100 executing '' 'J-1' '' '' ''"], await StatesAsync(history, question with { Jobs = ["J-1"] }, batchRows));
        Assert.Equal(["B 0+50 not_available 'switched off' '' '' '' ''"], await StatesAsync(history, question with { Saws = ["B", "none", "B"] }, batchRows));

        // Whole stretches that reach into the period.
        Assert.Equal(
            ["a 200+20 not_executing '' '' 'waiting for the crane' 'delay' 'Anna'", "a 220+10 not_executing '' '' '' '' ''", "a 230+70 unknown '' '' '' '' ''"],
            await StatesAsync(history, question with { From = At(200), To = At(231) }, batchRows));
        Assert.Equal(2, (await StatesAsync(history, question with { To = At(100) }, batchRows)).Count);
        Assert.Equal(5, await ExportSources.Open(history.Reader, question).CountAsync(CancellationToken.None));
        Assert.Equal(2, await ExportSources.Open(history.Reader, question with { From = At(200) }).CountAsync(CancellationToken.None));
    }

    [Fact]
    public async Task Alarms_AllColumns_AreWhatTheApiTells()
    {
        await using var history = new RunningHistory();
        var full = Occurrences.Full() with { Subject = AlarmSubject.Saw("north"), Number = 9, RaisedAt = Occurrences.Start };
        var bare = Occurrences.Make(3) with { RaisedAt = Occurrences.Start, Value = double.NaN, Limit = double.NaN, Unit = "" };
        await history.Writer.AppendAlarmsAsync(new AlarmBatch { Events = [Occurrences.Event(full), Occurrences.Event(bare)] }, CancellationToken.None);

        var rows = await Exported.RowsAsync(history.Reader, new ExportQuestion { Table = ExportTables.Alarms }, batchRows: 1);

        Assert.Equal([3L, 9L], rows.Select(row => row[0].Integer));
        var told = ExportTables.Alarms.Columns.Zip(rows[1]).ToDictionary(pair => pair.First.Name, pair => pair.Second);
        Assert.All(told.Values, cell => Assert.True(cell.IsKnown));
        Assert.Equal(
            (full.Rule, "saw", full.Subject.Name, full.Severity.ToName(), full.State.ToName(), full.Unit, full.Text, full.Cause, full.MayBe, full.Caution, full.CycleId, full.AcknowledgedBy, full.Verdict.ToName()),
            (told["rule"].Text, told["subject_kind"].Text, told["subject"].Text, told["severity"].Text, told["state"].Text, told["unit"].Text, told["text"].Text, told["cause"].Text, told["may_be"].Text, told["caution"].Text, told["cycle_id"].Text, told["acknowledged_by"].Text, told["verdict"].Text));
        Assert.Equal((full.Value, full.Limit, (long)full.Activations, full.IsActive, full.IsClosed, full.IsChattering), (told["value"].Number, told["limit"].Number, told["activations"].Integer, told["active"].Flag, told["closed"].Flag, told["chattering"].Flag));
        Assert.Equal(
            [full.RaisedAt, full.ClearedAt, full.AcknowledgedAt, full.ShelvedUntil],
            ((string[])["raised_at", "cleared_at", "acknowledged_at", "shelved_until"]).Select(name => (DateTimeOffset?)DateTimeOffset.FromUnixTimeMilliseconds(told[name].Milliseconds)));
        var unknown = ExportTables.Alarms.Columns.Zip(rows[0]).Where(pair => !pair.Second.IsKnown).Select(pair => pair.First);
        Assert.All(unknown, column => Assert.NotEqual("never", column.EmptyWhen));
        Assert.Equal(12, unknown.Count());
    }

    [Fact]
    public async Task Alarms_Inch_ConvertsWhatEachRowsUnitAsksFor()
    {
        await using var history = new RunningHistory();
        string[] units = ["kW", "mm", "s", ""];
        await history.Writer.AppendAlarmsAsync(new AlarmBatch { Events = [.. units.Select((unit, i) => Occurrences.Event(Occurrences.Make(i) with { Unit = unit, Value = i == 0 ? 0.74569987158227022 : 254, Limit = double.NaN }))] }, CancellationToken.None);
        var question = new ExportQuestion { Table = ExportTables.Alarms, Columns = ["value", "limit", "unit"], Units = DisplayUnits.Inch };
        Assert.Equal("value,limit,unit\n1,,hp\n10,,in\n254,,s\n254,,\n", await Exported.TextAsync(history.Reader, question));
        Assert.Equal("value\n1\n10\n254\n254\n", await Exported.TextAsync(history.Reader, question with { Columns = ["value"] }));
    }

    [Fact]
    public async Task Alarms_Filters_GiveThoseThatBelong()
    {
        await using var history = new RunningHistory();
        var alarms = Enumerable.Range(0, 20).Select(i => Occurrences.Make(i, $"saw {i % 3}") with { Subject = i % 5 == 0 ? new AlarmSubject(AlarmSubjectKind.Destination, "saw 1") : AlarmSubject.Saw($"saw {i % 3}") }).ToList();
        await history.Writer.AppendAlarmsAsync(new AlarmBatch { Events = [.. alarms.Select(alarm => Occurrences.Event(alarm))] }, CancellationToken.None);
        var question = new ExportQuestion { Table = ExportTables.Alarms, Saws = ["saw 1", "saw 2"], From = Occurrences.Start.AddMinutes(3), To = Occurrences.Start.AddMinutes(15) };
        var expected = alarms.Where(alarm => alarm.Subject.Kind == AlarmSubjectKind.Saw && alarm.Subject.Name != "saw 0" && alarm.Number is >= 3 and < 15).Select(alarm => alarm.Number).ToList();
        Assert.Equal(expected, (await Exported.RowsAsync(history.Reader, question, batchRows: 2)).ConvertAll(row => row[0].Integer));
        Assert.Equal(expected.Count, await ExportSources.Open(history.Reader, question).CountAsync(CancellationToken.None));
        Assert.Equal("The table alarms cannot be filtered by jobs: it can be by period or saws.", Assert.Throws<ExportException>(() => ExportSources.Open(history.Reader, question with { Jobs = ["J"] })).Message);
    }

    [Theory]
    [InlineData(1)]
    [InlineData(5)]
    [InlineData(2000)]
    public async Task Signals_AnyBatch_GiveEachFigureOnceWithTheStoredBits(int batchRows)
    {
        await using var history = new RunningHistory();
        var random = new Random(5);
        List<SawSample> samples = [.. Enumerable.Range(0, 20).Select(i => new SawSample($"saw {i % 3}", Samples.Made(random, 100))).Select((one, i) => one with { Sample = new SignalSample(At(10 * (i / 3)), one.Sample.Every, 100, one.Sample.Figures.ToArray()) })];
        await history.Writer.SaveSamplesAsync(samples, CancellationToken.None);
        var question = new ExportQuestion { Table = ExportTables.Signals, From = At(10), To = At(50), Saws = ["saw 1", "saw 2"] };

        var rows = await Exported.RowsAsync(history.Reader, question, batchRows);

        var expected = samples.Where(one => one.Saw != "saw 0" && one.Sample.From >= At(10) && one.Sample.From < At(50))
            .SelectMany(one => SignalSample.Signals.Select((info, i) => (one.Saw, one.Sample, Info: info, Figures: one.Sample.Figures[i])))
            .Where(row => row.Figures.Count > 0)
            .ToList();
        Assert.Equal(expected.Count, rows.Count);
        foreach (var (one, row) in expected.Zip(rows))
        {
            Assert.Equal((one.Sample.From.ToUnixTimeMilliseconds(), one.Saw, one.Info.Name, one.Info.Unit, 10.0, (long)one.Figures.Count), (row[0].Milliseconds, row[1].Text, row[2].Text, row[3].Text, row[4].Number, row[5].Integer));
            Same(one.Figures.Mean, row[6]);
            Same(one.Figures.Least, row[7]);
            Same(one.Figures.Greatest, row[8]);
            Same(one.Figures.Last, row[9]);
        }

        // Each row's own unit decides.
        var inches = await Exported.RowsAsync(history.Reader, question with { Columns = ["signal", "unit", "mean"], Units = DisplayUnits.Inch }, batchRows);
        foreach (var (one, row) in expected.Zip(inches))
        {
            Assert.Equal(one.Info.Unit switch { "mm" => "in", "kW" => "hp", "m/min" => "ft/min", var other => other }, row[1].Text);
            Assert.Equal(InchUnit.Of(one.Info.Unit) is { } inch ? inch.Convert(ShortFloat.ToDouble(one.Figures.Mean)) : ShortFloat.ToDouble(one.Figures.Mean), row[2].Number);
        }
    }

    [Fact]
    public async Task Signals_ADamagedSample_IsSaid()
    {
        await using var history = new RunningHistory();
        await history.Writer.SaveSamplesAsync([new SawSample("saw", Samples.Made(new Random(1), 10))], CancellationToken.None);
        history.Ask("UPDATE signal_samples SET data = x'09'");
        var problem = await Assert.ThrowsAsync<HistoryException>(() => Exported.RowsAsync(history.Reader, new ExportQuestion { Table = ExportTables.Signals }));
        Assert.Contains("A stored sample has version 9", problem.Message, StringComparison.Ordinal);
    }

    [Fact]
    public async Task Statements_OfStatesAndAlarms_GoAlongAnIndexWithoutSorting()
    {
        await using var history = new RunningHistory();
        var states = Plan(history, command => HistoryReader.StateStatement(command, ["J"], At(1), At(2), new StatePlace("a", null), 10));
        Assert.StartsWith("SEARCH states USING PRIMARY KEY (saw=? AND started_at>", states[0], StringComparison.Ordinal);
        Assert.DoesNotContain(states, step => step.StartsWith("SCAN states", StringComparison.Ordinal) || step.Contains("ORDER BY", StringComparison.Ordinal));
        var alarms = Plan(history, command => HistoryReader.AlarmStatement(command, (["a"], null, At(2)), "a.text", (5, 6), 10));
        Assert.StartsWith("SEARCH a USING INDEX alarms_by_time (raised_at>", alarms[0], StringComparison.Ordinal);
        Assert.DoesNotContain(alarms, step => step.StartsWith("SCAN a", StringComparison.Ordinal) || step.Contains("ORDER BY", StringComparison.Ordinal));
    }

    [Fact]
    public void Tables_Columns_NameTheirUnitsAndSayWhenTheyAreEmpty()
    {
        Assert.Equal(["cycles", "profiles", "states", "alarms", "signals"], ExportTables.All.Select(table => table.Name));
        foreach (var column in ExportTables.All.SelectMany(table => table.Columns))
        {
            Assert.Matches("^[a-z][a-z0-9_]*$", column.Name);
            Assert.NotEmpty(column.Meaning);
            Assert.Matches("^(never|where .+[^.])$", column.EmptyWhen);
            Assert.EndsWith(column.Unit.Length == 0 ? "" : "_" + column.Unit.Replace('/', '_').ToLowerInvariant(), column.Name, StringComparison.Ordinal);
            Assert.NotEqual("", InchSource.Column(column).Name);
        }

        foreach (var table in ExportTables.All)
        {
            Assert.Same(table, ExportTables.Find(table.Name));
            Assert.Equal(table.Columns.Count, table.Columns.Select(column => InchSource.Column(column).Name).Distinct().Count());
        }

        Assert.Null(ExportTables.Find("cycle"));
    }

    private static void Same(float stored, Cell cell)
    {
        Assert.Equal(float.IsFinite(stored), cell.IsKnown);
        if (cell.IsKnown)
            Assert.Equal(stored, (float)cell.Number);
    }

    private static DateTimeOffset At(double seconds) => Cycles.Start.AddSeconds(seconds);

    private static StateSegment Segment(double from, double to, TimelineState state, string reason = "", string job = "") => new(At(from), At(to), state, reason, job);

    private static Task<long> EnterAsync(RunningHistory history, string saw, double from, double to, string reason, StopClass stop, int entered) =>
        history.Writer.EnterStopReasonAsync(saw, new StopReason(new Period(At(from), At(to)), reason, stop, At(1000 + entered), "Anna"), Audit, CancellationToken.None);

    private static async Task<List<string>> StatesAsync(RunningHistory history, ExportQuestion question, int batchRows) =>
        (await Exported.RowsAsync(history.Reader, question, batchRows)).ConvertAll(row =>
            $"{row[0].Text} {(row[1].Milliseconds - At(0).ToUnixTimeMilliseconds()) / 1000}+{row[2].Number} {row[3].Text} '{row[4].Text}' '{row[5].Text}' '{row[6].Text}' '{row[7].Text}' '{row[8].Text}'");

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
