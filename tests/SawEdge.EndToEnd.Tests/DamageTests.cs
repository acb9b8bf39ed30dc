using System.Text.Json;
using Microsoft.Data.Sqlite;
using SawEdge.EndToEnd.Tests.Support;
using SawEdge.Simulator.Modbus;
using SawEdge.Simulator.Saws;
using SawEdge.TestSupport;

namespace SawEdge.EndToEnd.Tests;

/// <summary>A page of the history turns to rubbish between two runs, where only work with it finds that; then the way back by a backup.</summary>
public sealed class DamageTests
{
    private const int LoopEnded = 3502;
    private const int HistoryDamaged = 3514;

    [PeerFact(HistoryFile.Program)]
    public async Task DamagedHistory_IsSetAside_CuttingGoesOn_AnAlarmSaysSo_AndABackupEndsIt()
    {
        var clock = new SawClock(held: false);
        await using var device = ModbusTcpServer.Start(new Dictionary<byte, ModbusUnit> { [1] = new(new LiveSaw(new VirtualSaw(SmallSaw.Named("saw-1", 51)), clock), RegisterLayout.Plain) });
        using var folder = new GatewayFolder().WithDevice("plc", device.Port).WithSaw("saw-1", "plc", 1);
        var (data, backup) = (folder.File("data"), folder.File("backup.db"));
        await using (var first = folder.Start())
        {
            await first.UntilAsync(() => folder.History.Cycles().Count > 0, "a cut is in the history");
            await GatewayProcess.GoodCommandAsync("history", "backup", backup, "--config", folder.Configuration);
            Assert.Equal(0, await first.EndAsync());
        }

        var kept = folder.History.Cycles().Count;
        Overwrite(folder.History.Path, "saw_state");

        // The start does not read that page, the work does: the gateway ends, and the next start looks through everything.
        await using (var second = folder.Start())
        {
            await Until.TrueAsync(() => second.HasExited, () => $"the gateway ends; its log is:\n{second.Output}");
            Assert.True(second.Count(LoopEnded) > 0, second.Output);
        }

        await using (var third = folder.Start())
        {
            await third.LogsAsync(HistoryDamaged);
            var damaged = Assert.Single(Directory.GetFiles(data, "history-damaged-*.db"));
            await third.UntilAsync(() => folder.History.Alarms().Any(alarm => alarm.Text("rule") == "history_damaged" && alarm.Whole("active") == 1), "the alarm is raised");
            await third.UntilAsync(() => folder.History.Cycles().Count > 0, "cuts are recorded in the new history");
            Assert.Equal("high", folder.History.Alarms().Single(alarm => alarm.Text("rule") == "history_damaged").Text("severity"));
            Assert.Equal(2, (await GatewayProcess.CommandAsync("history", "check", damaged)).ExitCode);
            await GatewayProcess.GoodCommandAsync("history", "check", "--config", folder.Configuration);
            using var status = JsonDocument.Parse(await GatewayProcess.GoodCommandAsync("history", "status", "--format", "json", "--config", folder.Configuration));
            Assert.True(status.RootElement.GetProperty("gatewayRuns").GetBoolean());
            var refused = await GatewayProcess.CommandAsync("history", "restore", backup, "--config", folder.Configuration);
            Assert.Equal(1, refused.ExitCode);
            Assert.Contains("Stop it, restore, and start it again", refused.Output, StringComparison.Ordinal);
            Assert.Equal(0, await third.EndAsync());
        }

        await GatewayProcess.GoodCommandAsync("history", "restore", backup, "--config", folder.Configuration);
        Assert.Single(Directory.GetFiles(data, "history-replaced-*.db"));
        Assert.Single(Directory.GetFiles(data, "history-settled-*.db"));
        await using var fourth = folder.Start();
        await fourth.UntilAsync(() => folder.History.Cycles().Count > kept, "the saw goes on in the restored history");
        Assert.Equal(0, await fourth.EndAsync());
        Assert.Equal(0, fourth.Count(HistoryDamaged));
        Assert.DoesNotContain(folder.History.Alarms(), alarm => alarm.Text("rule") == "history_damaged");
        Assert.Equal("ok", (await folder.History.IntegrityAsync()).Trim());
        await GatewayProcess.GoodCommandAsync("history", "check", "--config", folder.Configuration);
    }

    private static void Overwrite(string path, string table)
    {
        long page;
        using (var connection = new SqliteConnection($"Data Source={path};Mode=ReadOnly;Pooling=False"))
        {
            connection.Open();
            using var command = connection.CreateCommand();
            command.CommandText = $"SELECT rootpage FROM sqlite_schema WHERE name = '{table}'";
            page = (long)command.ExecuteScalar()!;
        }

        var rubbish = new byte[4096];
        new Random(11).NextBytes(rubbish);
        using var file = new FileStream(path, FileMode.Open, FileAccess.Write);
        file.Position = (page - 1) * rubbish.Length;
        file.Write(rubbish);
    }
}
