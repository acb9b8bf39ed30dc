using System.Globalization;
using System.Text.Json.Nodes;
using SawEdge.EndToEnd.Tests.Support;
using SawEdge.TestSupport;
using SawEdge.Torture.Disks;
using SawEdge.Torture.Plant;
using SawEdge.Torture.Servers;

namespace SawEdge.Torture.Trials;

/// <summary>The disk under a real gateway is full, read-only, or worn; the saws cut on, and nobody lends a hand.</summary>
internal sealed class DiskTrial : ITrial
{
    private const string Database = "plant";
    private const int Saws = 8;
    private const int StorageTrouble = 4001;
    private const int StorageRecovered = 4002;

    // The writer tries again every five seconds at the latest.
    private static readonly TimeSpan Patience = TimeSpan.FromMinutes(3);

    // The rule history_trouble waits half a minute, and looks take longer while questions to the disk do.
    private static readonly TimeSpan Alarmed = TimeSpan.FromSeconds(70);

    /// <inheritdoc/>
    public string Name => "disk";

    /// <inheritdoc/>
    public string Describes => "the disk is full, turns read-only, answers with errors, and fails to sync; the gateway recovers by itself, also when it is killed or started meanwhile";

    /// <inheritdoc/>
    public async Task RunAsync(TrialRun run, CancellationToken cancellation)
    {
        using var small = await LimitedDisk.TryMountAsync(run, run.IsShort ? 24 : 200);
        await using var influx = await InfluxServer.StartAsync(Database);
        await using var bay = SawBay.Open(Saws, run.Random, pace: 4);
        using var folder = new GatewayFolder().With("influx", Destination(influx)).With("alarms", CommonAlarms.Node()).With("history", new JsonObject { ["budget"] = "150 MB" });
        var data = small?.Path ?? folder.File("data");
        folder.With("dataFolder", data);
        using var failing = await FailingDisk.TryMakeAsync(run, data);
        bay.Enter(folder, "200 ms");
        folder.Write();
        await using var gateway = new ServicedGateway(run, bay, folder.Configuration, failing?.Environment);
        await gateway.ComesAsync(_ => bay.Requests > 4, $"the gateway polls", Patience);
        bay.Release();

        var history = new HistoryFile(data);
        var order = Blows(run, small, failing).ToArray();
        var (dealt, kills, slowest) = (0, 0, TimeSpan.Zero);
        for (var count = run.Count(order.Length, 120); order.Length > 0 && dealt < count && !run.IsTimeUp && run.Failures.Count == 0; dealt++)
        {
            cancellation.ThrowIfCancellationRequested();
            if (dealt % order.Length == 0)
                run.Random.Shuffle(order);
            var blow = order[dealt % order.Length];

            // Every tenth is long enough for the alarm; in every fifth the gateway is killed and started again meanwhile.
            var isLong = !run.IsShort && dealt % 10 == 9;
            var isKilled = dealt % 5 == (run.IsShort ? 0 : 4) && !isLong;
            run.Say($"{blow.Name}{(isKilled ? ", killed" : isLong ? ", for long" : "")}");
            var (alarms, ends, process) = (AlarmCount(history), gateway.Ends, gateway.Now);
            var troubles = process.Count(StorageTrouble);
            var failed = failing?.Failed ?? 0;
            gateway.IsWell();
            blow.Begin();

            // A trouble that comes and goes is told of once in ten minutes: there it is enough that calls fail.
            await gateway.ComesAsync(now => now != process || now.Count(StorageTrouble) > troubles || (blow.NowAndThen && failing?.Failed > failed + 2), $"the gateway says that the disk refuses", Patience);
            await Task.Delay(isLong ? Alarmed : TimeSpan.FromMilliseconds(run.Random.Next(200, run.IsShort ? 1000 : 6000)), cancellation);
            if (isKilled)
            {
                await gateway.KillAsync();
                await Task.Delay(run.Random.Next(100, 3000), cancellation);
                kills++;
            }

            blow.End();
            var ended = run.Elapsed;
            await gateway.ComesAsync(now => now.Count(StorageTrouble) == now.Count(StorageRecovered), $"the gateway says that the disk takes again what it is given", Patience);
            if (gateway.Now != process)
                await gateway.PollsAsync(Patience);
            slowest = run.Elapsed - ended > slowest ? run.Elapsed - ended : slowest;
            run.Check(gateway.Ends == ends || isKilled || blow.NowAndThen, $"{blow.Name}: the gateway ended");
            if (isLong && gateway.Now == process && !blow.NowAndThen)
                await gateway.ComesAsync(_ => AlarmCount(history) > alarms, $"the alarm about the disk stands in the history", Patience);
        }

        await RunOut.OfAsync(run, bay, gateway.Now, folder, interrupted: true, history);
        var server = new ServerAgainstHistory(run, influx, Database, folder, history);
        await server.CaughtUpAsync(gateway.Now);
        run.Check(gateway.Now.WarningCount() <= (6 * dealt) + 8, $"{gateway.Now.WarningCount()} warnings in the log for {dealt} blows:\n{gateway.Now.Warnings()}");
        run.Check(await gateway.Now.EndAsync() == 0, $"the gateway did not end well:\n{gateway.Now.Warnings()}");
        var account = RunOut.Account(run, bay, history);
        run.Check((await history.IntegrityAsync()).Trim() == "ok", $"the history is damaged");
        var (exit, output) = await GatewayProcess.CommandAsync("history", "check", "--config", folder.Configuration);
        run.Check(exit == 0, $"history check ended with {exit}: {output}");
        run.Check(Directory.GetFiles(data, "history-*").Length == 0, $"a history was set aside: {string.Join(", ", Directory.GetFiles(data))}");
        var compared = await server.CompareAsync();
        run.Figure("blows", $"{dealt}");
        run.Figure("kills meanwhile", $"{kills}");
        run.Figure("times ended by itself and started anew", $"{gateway.Ends}");
        run.Figure("calls that failed", $"{failing?.Failed ?? 0}");
        account.Tell(run);
        run.Figure("points compared with the history", $"{compared}");
        run.Figure("s at most until all was stored again", $"{slowest.TotalSeconds:0.0}");
    }

    private static IEnumerable<DiskBlow> Blows(TrialRun run, LimitedDisk? small, FailingDisk? failing)
    {
        if (small is not null)
            yield return new DiskBlow("full", false, small.Fill, small.Free);
        if (failing is null)
            yield break;
        yield return new DiskBlow("read-only", false, () => failing.Set(DiskState.ReadOnly), () => failing.Set(DiskState.Good));
        yield return new DiskBlow("errors", true, () => failing.Set(DiskState.Failing, run.Random.Next(2, 12)), () => failing.Set(DiskState.Good));
        yield return new DiskBlow("syncs fail", true, () => failing.Set(DiskState.Unsyncing, run.Random.Next(1, 4)), () => failing.Set(DiskState.Good));
    }

    // One that nobody acknowledged is raised again under its number.
    private static long AlarmCount(HistoryFile history) => history.Alarms().Where(alarm => alarm.Text("rule") == "history_trouble").Sum(alarm => alarm.Whole("activations") ?? 0);

    private static JsonArray Destination(InfluxServer influx) =>
    [
        new JsonObject { ["name"] = "one", ["url"] = string.Create(CultureInfo.InvariantCulture, $"{influx.Url}"), ["version"] = 1, ["database"] = Database, ["points"] = AllPoints.Node(), ["maximumWait"] = "100 ms", ["timeout"] = "2 s" },
    ];

    /// <summary>Something that is done to the disk.</summary>
    /// <param name="Name">What it is.</param>
    /// <param name="NowAndThen">Whether some calls succeed: then there is no alarm of a disk that has refused for half a minute, and a gateway may end, because SQLite calls a read that failed damage.</param>
    /// <param name="Begin">Does it.</param>
    /// <param name="End">Ends it.</param>
    private sealed record DiskBlow(string Name, bool NowAndThen, Action Begin, Action End);
}
