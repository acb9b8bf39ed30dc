using System.Globalization;
using System.Text.Json.Nodes;
using SawEdge.EndToEnd.Tests.Support;
using SawEdge.TestSupport;
using SawEdge.Torture.Disks;
using SawEdge.Torture.Lines;
using SawEdge.Torture.Plant;
using SawEdge.Torture.Servers;

namespace SawEdge.Torture.Trials;

/// <summary>A real influxd is ill-treated in every way while a real gateway delivers to it.</summary>
internal sealed class InfluxTrial : ITrial
{
    private const string Database = "plant";
    private const int Waits = 5002;
    private const int NeedsMending = 5003;
    private const int TakesAgain = 5004;
    private static readonly TimeSpan Patience = TimeSpan.FromMinutes(3);

    /// <inheritdoc/>
    public string Name => "influx";

    /// <inheritdoc/>
    public string Describes => "a real influxd is stopped, killed, wiped, frozen, slowed down and full";

    /// <inheritdoc/>
    public async Task RunAsync(TrialRun run, CancellationToken cancellation)
    {
        using var disk = await LimitedDisk.TryMountAsync(run, run.IsShort ? 48 : 192);
        await using var influx = await InfluxServer.StartAsync(Database, folder: disk?.Path);
        await using var line = new BadLine(influx.Url.Port) { TrickleBytes = run.IsShort ? 200 : 60 };
        await using var bay = SawBay.Open(12, run.Random, pace: 4);
        using var folder = new GatewayFolder().With("influx", Destination(line, run.IsShort ? "2 s" : "10 s")).With("alarms", CommonAlarms.Node());
        bay.Enter(folder, "200 ms");
        var server = new ServerAgainstHistory(run, influx, Database, folder);
        await using var gateway = folder.Start();
        await gateway.UntilAsync(() => bay.Requests > 4, "the gateway polls");
        bay.Release();

        var blows = new Blows(run, influx, line, gateway, folder, disk);
        var kinds = blows.Kinds;
        var slowest = TimeSpan.Zero;
        var dealt = 0;
        for (var count = run.Count(kinds.Count, 150); dealt < count && !run.IsTimeUp && run.Failures.Count == 0; dealt++)
        {
            cancellation.ThrowIfCancellationRequested();
            if (dealt % kinds.Count == 0)
                run.Random.Shuffle(blows.Order);
            var (name, deal) = kinds[blows.Order[dealt % kinds.Count]];
            run.Say($"{name}");
            await deal();
            var took = await server.CaughtUpAsync(gateway);
            slowest = took > slowest ? took : slowest;
        }

        await RunOut.OfAsync(run, bay, gateway, folder, interrupted: false);
        await server.CaughtUpAsync(gateway);
        var said = gateway.WarningCount();
        run.Check(said <= (4 * dealt) + 8, $"{said} warnings in the log for {dealt} blows:\n{gateway.Warnings()}");
        run.Check(await gateway.EndAsync() == 0, $"the gateway did not end well:\n{gateway.Warnings()}");

        var account = RunOut.Account(run, bay, folder.History);
        run.Check(account.Missing == 0, $"{account.Cycles} cycles, {account.Records} recorded, although the saws were seen all the time");
        run.Check((await folder.History.IntegrityAsync()).Trim() == "ok", $"the history is damaged");
        var compared = await server.CompareAsync();
        run.Figure("blows", $"{dealt}");
        run.Figure("kinds", $"{kinds.Count}");
        account.Tell(run);
        run.Figure("points compared with the history", $"{compared}");
        run.Figure("s at most until the server had all again", $"{slowest.TotalSeconds:0.0}");
    }

    private static JsonArray Destination(BadLine line, string timeout) =>
    [
        new JsonObject { ["name"] = "one", ["url"] = string.Create(CultureInfo.InvariantCulture, $"http://{line.At}"), ["version"] = 1, ["database"] = Database, ["points"] = AllPoints.Node(), ["maximumWait"] = "100 ms", ["timeout"] = timeout },
    ];

    /// <summary>What is done to the server.</summary>
    private sealed class Blows
    {
        private readonly TrialRun _run;
        private readonly InfluxServer _influx;
        private readonly BadLine _line;
        private readonly GatewayProcess _gateway;
        private readonly GatewayFolder _folder;
        private readonly LimitedDisk? _disk;

        public Blows(TrialRun run, InfluxServer influx, BadLine line, GatewayProcess gateway, GatewayFolder folder, LimitedDisk? disk)
        {
            (_run, _influx, _line, _gateway, _folder, _disk) = (run, influx, line, gateway, folder, disk);
            Kinds = [("stopped", StoppedAsync), ("killed", KilledAsync), ("wiped", WipedAsync), ("frozen", FrozenAsync), ("slow", SlowAsync)];
            if (disk is not null)
                Kinds = [.. Kinds, ("full", FullAsync)];
            Order = [.. Enumerable.Range(0, Kinds.Count)];
        }

        public IReadOnlyList<(string Name, Func<Task> Deal)> Kinds { get; }

        public int[] Order { get; }

        // After the blow before it may still be about to try again: then it says nothing anew.
        private bool IsInTrouble => _gateway.Log.LastOrDefault(line => line.EventId is Waits or NeedsMending or TakesAgain) is { EventId: not TakesAgain };

        private async Task StoppedAsync()
        {
            await _influx.StopAsync();
            await PauseAsync();
            await _influx.StartAgainAsync();
        }

        private async Task KilledAsync()
        {
            await _influx.KillAsync();
            await PauseAsync();
            await _influx.StartAgainAsync();
        }

        // The database is gone until somebody makes it again; what it had is sent once more by command.
        private async Task WipedAsync()
        {
            var said = _gateway.Count(NeedsMending);
            await _influx.QueryAsync($"DROP DATABASE {Database}");
            await _gateway.ComesAsync(_run, () => _gateway.Count(NeedsMending) > said, $"the gateway says that the database is gone", Patience);
            await _influx.QueryAsync($"CREATE DATABASE {Database}");
            await GatewayProcess.GoodCommandAsync("outbox", "again", "one", "--config", _folder.Configuration);
        }

        private async Task FrozenAsync()
        {
            var said = _gateway.Count(Waits);
            await _influx.FreezeAsync();
            await _gateway.ComesAsync(_run, () => _gateway.Count(Waits) > said || IsInTrouble, $"the gateway says that nothing is taken", Patience);
            await PauseAsync();
            await _influx.ThawAsync();
        }

        private async Task SlowAsync()
        {
            _line.State = LineState.Trickle;
            await PauseAsync();
            await PauseAsync();
            _line.State = LineState.Good;
        }

        private async Task FullAsync()
        {
            var said = _gateway.Count(Waits);
            _disk!.Fill();
            await _gateway.ComesAsync(_run, () => _gateway.Count(Waits) > said || IsInTrouble, $"the gateway says that nothing is taken", Patience);
            await PauseAsync();
            _disk.Free();

            // This server (1.6.7) goes on refusing with the error of its log's buffer until it is started anew. Its first start cuts the torn entry off its
            // log, but writes on behind where that was, and the next start drops what it had acknowledged meanwhile: so it is started twice with nobody writing.
            _line.State = LineState.Cut;
            for (var i = 0; i < 2; i++)
            {
                await _influx.StopAsync();
                await _influx.StartAgainAsync();
            }

            _line.State = LineState.Good;
        }

        private Task PauseAsync() => Task.Delay(_run.Random.Next(300, _run.IsShort ? 800 : 4000));
    }
}
