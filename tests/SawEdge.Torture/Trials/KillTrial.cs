using System.Globalization;
using System.Text.Json.Nodes;
using SawEdge.EndToEnd.Tests.Support;
using SawEdge.TestSupport;
using SawEdge.Torture.Plant;

namespace SawEdge.Torture.Trials;

/// <summary>
/// A real gateway is killed again and again, at random moments and at moments that are aimed at, in front of saws that keep the true count of
/// their cycles and go on all the while.
/// </summary>
internal sealed class KillTrial : ITrial
{
    /// <summary>What the history may take, bytes.</summary>
    public const int BudgetBytes = 50_000_000;

    private const int Saws = 12;
    private const string Database = "plant";

    /// <inheritdoc/>
    public string Name => "kill";

    /// <inheritdoc/>
    public string Describes => "kill -9 in cuts, transactions, deliveries, clearing, backups, compaction and the start; the saws keep the true count";

    /// <inheritdoc/>
    public async Task RunAsync(TrialRun run, CancellationToken cancellation)
    {
        await using var influx = await InfluxServer.StartAsync(Database);
        await using var tap = new DeliveryTap(influx.Url);
        await using var bay = SawBay.Open(Saws, run.Random);
        using var folder = new GatewayFolder().With("influx", Destination(tap)).With("history", new JsonObject { ["budget"] = string.Create(CultureInfo.InvariantCulture, $"{BudgetBytes / 1_000_000} MB") }).With("signals", new JsonObject { ["every"] = "1 s", ["keep"] = OldSamples.Keep });
        bay.Enter(folder, "400 ms");
        folder.Write();
        var kept = new KeptCycles(run, folder.History);
        var blows = new Blows(run, bay, tap, folder);
        var kills = run.Count(shortForm: 7, longForm: 500);
        var dealt = new Dictionary<Aim, int>();
        for (var i = 0; i < kills && !run.IsTimeUp && !cancellation.IsCancellationRequested; i++)
        {
            var aim = i == 0 ? Aim.Commit : blows.Next();
            await blows.PrepareAsync(aim);
            await using (var gateway = GatewayProcess.Run(folder.Configuration))
            {
                if (i == 0)
                {
                    await gateway.UntilAsync(() => bay.Requests > 0, "the gateway polls");
                    bay.Release();
                }

                await blows.DealAsync(aim, gateway, cancellation);
                kept.Heard(gateway.Log);
            }

            await blows.AfterAsync();
            dealt[aim] = dealt.GetValueOrDefault(aim) + 1;
            await kept.CheckAsync(string.Create(CultureInfo.InvariantCulture, $"kill {i + 1} ({aim})"), cancellation);
            if (run.Failures.Count > 20)
                break;
            if ((i + 1) % 25 == 0)
                run.Say($"{i + 1} kills, {folder.History.Cycles().Count} cycles in the history");
            if (i % 16 == 5)
                await Task.Delay(TimeSpan.FromSeconds(run.IsShort ? 0 : run.Random.Next(0, 50)), cancellation);
        }

        try
        {
            await EndAsync(run, bay, influx, folder, kept);
        }
        finally
        {
            RunOut.Account(run, bay, folder.History).Tell(run);
        }

        run.Figure("kill -9", $"{dealt.Values.Sum()}");
        run.Figure("of them", $"({string.Join(", ", dealt.OrderBy(pair => pair.Key).Select(pair => FormattableString.Invariant($"{Blows.Words(pair.Key)} {pair.Value}")))})");
    }

    private static JsonArray Destination(DeliveryTap tap) =>
        [new JsonObject { ["name"] = "one", ["url"] = tap.Url.ToString(), ["version"] = 1, ["database"] = Database, ["maximumWait"] = "100 ms" }];

    // A last run that sees two whole cycles of each saw at least, and delivers everything.
    private static async Task EndAsync(TrialRun run, SawBay bay, InfluxServer influx, GatewayFolder folder, KeptCycles kept)
    {
        await using var gateway = GatewayProcess.Run(folder.Configuration);
        await bay.FinishAsync(gateway, folder.History, parts: 3);
        await Delivered.AllAsync(gateway, influx, Database, folder.History.Cycles().Count);
        kept.Heard(gateway.Log);
        run.Check(await gateway.EndAsync() == 0, $"the last run did not end well: {gateway.Output}");
        await kept.CheckAsync("the end", CancellationToken.None);
        await Delivered.IsTheHistoryAsync(influx, Database, folder.History);
        var (points, rows) = (await influx.NumberAsync("SELECT count(event) FROM alarm", Database), folder.History.Count("alarm_events"));
        run.Check(points == rows, $"{points} points of the alarms at the server, {rows} events in the history");
    }
}
