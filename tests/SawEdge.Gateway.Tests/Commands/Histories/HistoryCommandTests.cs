using System.Text.Json;
using SawEdge.Gateway.Commands.Histories;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Tests.History;

namespace SawEdge.Gateway.Tests.Commands.Histories;

public sealed class HistoryCommandTests : IDisposable
{
    private readonly Asked _asked = new();

    private string Backup => _asked.Beside("backup.db");

    public void Dispose() => _asked.Dispose();

    [Fact]
    public async Task Status_CountsEachKind_WithTimesAndWhatWasSetAside()
    {
        await using (var history = await FilledAsync(3))
        {
            File.WriteAllBytes(Path.Combine(_asked.Data, "history-damaged-20260301T000000Z.db"), new byte[1500]);
            var lines = _asked.Done("history", "status");
            Assert.Equal(history.FilePath, lines[0]);
            Assert.Contains("  gateway                             runs on it", lines);
            Assert.Contains(FormattableString.Invariant($"  schema version                      {HistorySchema.Version}"), lines);
            Assert.Matches(@"^  cycles +3 +\S+ k?B  2026-03-02 07:00  2026-03-02 07:04$", Assert.Single(lines, line => line.StartsWith("  cycles ", StringComparison.Ordinal)));
            Assert.Matches(@"^  audit trail +0 +0 B$", Assert.Single(lines, line => line.StartsWith("  audit trail", StringComparison.Ordinal)));
            Assert.Equal("  history-damaged-20260301T000000Z.db  1.50 kB", lines[^1]);
        }

        var (code, output, _) = _asked.Run("history", "status", "--format", "json");
        Assert.Equal(0, code);
        using var json = JsonDocument.Parse(string.Join('\n', output));
        Assert.False(json.RootElement.GetProperty("gatewayRuns").GetBoolean());
        var profiles = json.RootElement.GetProperty("kinds").EnumerateArray().Single(kind => kind.GetProperty("name").GetString() == "profiles");
        Assert.Equal(3, profiles.GetProperty("rows").GetInt64());
        Assert.Equal(3 * (8 + ProfileCodec.Encode(Cycles.Profile(0)).Length), profiles.GetProperty("contentBytes").GetInt64());
    }

    [Fact]
    public async Task Status_KnowsEveryTable()
    {
        await using var history = await FilledAsync(0);
        var tables = ((string)history.Ask("SELECT group_concat(name) FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%'")!).Split(',');
        Assert.Equal(tables.Order(StringComparer.Ordinal), HistoryStock.AllTables.Order(StringComparer.Ordinal));
    }

    [Fact]
    public async Task Check_Whole_SaysSo_AlsoBesideAGatewayAndOfABackup()
    {
        await using (var history = await FilledAsync(5))
        {
            Assert.StartsWith($"{history.FilePath} is whole", string.Join(' ', _asked.Done("history", "check")), StringComparison.Ordinal);
            _asked.Done("history", "backup", Backup);
        }

        var (code, output, _) = _asked.RunRaw("history", "check", Backup);
        Assert.Equal(0, code);
        Assert.StartsWith($"{Backup} is whole", string.Join(' ', output), StringComparison.Ordinal);
    }

    // Samples are counted apart from the journal, and are cleared away in the end.
    [Fact]
    public async Task Check_DestinationIsDoneWithMoreSamplesThanTheJournalHasEntries_IsWhole()
    {
        await using (var history = await FilledAsync(5))
            history.Ask("INSERT INTO cursors(consumer, seq, updated) VALUES('plant/signals', 5000, 1)");
        Assert.Equal(0, _asked.Run("history", "check").Code);
    }

    [Theory]
    [InlineData("DELETE FROM journal WHERE seq = 3", "journal: 1 numbers are missing between 1 and 5")]
    [InlineData("UPDATE cursors SET seq = 99", "cursors: plant is at 99, behind the end")]
    [InlineData("UPDATE profiles SET data = substr(data, 1, 50) WHERE cycle = 2", "profiles: that of cycle row 2 cannot be read: A stored profile of")]
    [InlineData("PRAGMA foreign_keys = OFF; DELETE FROM cycles WHERE id = 4", "profiles: row 4 belongs to a row of cycles that is not there")]
    [InlineData("UPDATE journal SET item = 77 WHERE seq = 2", "journal: number 2 names cycle row 77, which is not there")]
    [InlineData("UPDATE journal SET item = 77 WHERE seq = 2", "cycles: north-000001 is not in the journal, so no destination gets it")]
    [InlineData("UPDATE cycles SET ended_at = started_at - 1 WHERE id = 1", "cycles: north-000000 ends before it begins")]
    [InlineData("INSERT INTO signal_samples(at, saw, every_ms, frames, data) VALUES(1, 'north', 0, 1, x'00')", "signal_samples: one of north at 1 has no length or no frame")]
    public async Task Check_SomethingThatMustNotBe_IsFoundAndFails(string sql, string expected)
    {
        await using (var history = await FilledAsync(5))
        {
            await history.Writer.SaveCursorAsync("plant", 4, [], CancellationToken.None);
            history.Ask(sql);
        }

        var (code, output, _) = _asked.Run("history", "check", "--format", "json");
        Assert.Equal(2, code);
        using var json = JsonDocument.Parse(string.Join('\n', output));
        Assert.False(json.RootElement.GetProperty("whole").GetBoolean());
        Assert.Contains(json.RootElement.GetProperty("findings").EnumerateArray(), finding => finding.GetString()!.StartsWith(expected, StringComparison.Ordinal));
    }

    [Fact]
    public async Task Check_Damaged_SaysWhereAndWhatHelps()
    {
        string path;
        await using (var history = await FilledAsync(300))
            path = history.FilePath;
        Damage.Middle(path, 4);
        var (code, output, error) = _asked.Run("history", "check");
        Assert.Equal(2, code);
        Assert.Empty(error);
        Assert.Contains("NOT whole", output[0] + output[1], StringComparison.Ordinal);
        Assert.Contains("history restore", string.Join(' ', output), StringComparison.Ordinal);
    }

    [Fact]
    public async Task Backup_AndRestore_SayWhatTheyDid_AndRefuseWhatWouldHarm()
    {
        await using (await FilledAsync(5))
        {
            Assert.StartsWith($"Backup {Backup}: ", string.Join(' ', _asked.Done("history", "backup", Backup)), StringComparison.Ordinal);
            Assert.Equal((1, $"'{Backup}' is there already; choose another name, or add --replace."), Said("history", "backup", Backup));
            Assert.Equal(0, _asked.Run("history", "backup", Backup, "--replace").Code);
            var (code, said) = Said("history", "restore", Backup);
            Assert.Equal((1, FormattableString.Invariant($"A gateway (process {Environment.ProcessId}) runs on '{_asked.Data}'. Stop it, restore, and start it again; nothing was changed.")), (code, said));
            Assert.StartsWith("A gateway runs there, so free pages", string.Join(' ', _asked.Done("history", "compact")), StringComparison.Ordinal);
        }

        var damaged = Path.Combine(_asked.Data, "history-damaged-20260301T000000Z.db");
        File.WriteAllBytes(damaged, new byte[1500]);
        var done = string.Join(' ', _asked.Done("history", "restore", Backup));
        Assert.StartsWith($"{Backup} is the history now.", done, StringComparison.Ordinal);
        Assert.Contains(Path.Combine(_asked.Data, "history-replaced-20260309T120000Z.db"), done, StringComparison.Ordinal);
        Assert.False(File.Exists(damaged));
        Assert.True(File.Exists(Path.Combine(_asked.Data, "history-settled-20260301T000000Z.db")));
        Assert.StartsWith("The history was written anew: ", string.Join(' ', _asked.Done("history", "compact")), StringComparison.Ordinal);
        Assert.Equal((1, $"There is no file '{Backup}x'; name a backup that 'sawedge history backup' wrote."), Said("history", "restore", Backup + "x"));
    }

    [Fact]
    public void NoHistory_IsSaid()
    {
        foreach (var what in (string[])["status", "check", "compact", "backup"])
        {
            var (code, said) = Said(["history", what, .. what == "backup" ? [Backup] : Array.Empty<string>()]);
            Assert.Equal(1, code);
            Assert.StartsWith($"There is no history in '{_asked.Data}'", said, StringComparison.Ordinal);
            Assert.False(Directory.Exists(_asked.Data));
        }
    }

    [Theory]
    [InlineData(0, "0 B")]
    [InlineData(999, "999 B")]
    [InlineData(1000, "1.00 kB")]
    [InlineData(999_499, "999 kB")]
    [InlineData(999_500, "1.00 MB")]
    [InlineData(12_345_678, "12.3 MB")]
    [InlineData(5_000_000_000_000_000, "5000 TB")]
    public void Size_AsPeopleReadIt(long bytes, string expected) => Assert.Equal(expected, SizeText.Of(bytes));

    private (int Code, string Error) Said(params string[] arguments)
    {
        var (code, output, error) = _asked.Run(arguments);
        Assert.Empty(output);
        return (code, Assert.Single(error));
    }

    private async Task<RunningHistory> FilledAsync(int cycles)
    {
        var history = _asked.Open();
        await Task.WhenAll(Enumerable.Range(0, cycles).Select(number => history.Writer.AppendAsync(new FinishedCycle { Record = Cycles.Make("north", number), Profile = Cycles.Profile(number) }, CancellationToken.None)));
        return history;
    }
}
