using System.Globalization;
using System.Net;
using System.Text.Json.Nodes;
using SawEdge.EndToEnd.Tests.Support;
using SawEdge.TestSupport;
using SawEdge.Torture.Lines;
using SawEdge.Torture.Networks;
using SawEdge.Torture.Plant;
using SawEdge.Torture.Servers;

namespace SawEdge.Torture.Trials;

/// <summary>The way between saws and gateway, and between gateway and influxd, fails in every way that ways fail in.</summary>
internal sealed class NetworkTrial : ITrial
{
    private const string Database = "plant";
    private const int Saws = 8;

    // An answer that comes later than this is none; the same time is forgotten before and after a blow.
    private static readonly TimeSpan Patience = TimeSpan.FromSeconds(1);

    // Reconnecting backs off to half a minute; the machine may be held up besides.
    private static readonly TimeSpan Recovery = TimeSpan.FromMinutes(3);

    /// <inheritdoc/>
    public string Name => "network";

    /// <inheritdoc/>
    public string Describes => "lines are cut, reset, half open, deaf, slow and late between saws and gateway and between gateway and influxd, and the cable is pulled";

    /// <inheritdoc/>
    public async Task RunAsync(TrialRun run, CancellationToken cancellation)
    {
        await using var network = await OwnNetwork.TryMakeAsync(run);
        var address = network?.Outside ?? IPAddress.Loopback;
        await using var influx = await InfluxServer.StartAsync(Database);
        await using var bay = SawBay.Open(Saws, run.Random, pace: run.IsShort ? 4 : 2);
        await using var sawLine = new BadLine(bay.Port, address) { TrickleBytes = 2, Delay = TimeSpan.FromMilliseconds(60) };
        await using var influxLine = new BadLine(influx.Url.Port, address) { TrickleBytes = 100 };
        using var folder = new GatewayFolder()
            .With("devices", new JsonArray(new JsonObject { ["name"] = "plc", ["host"] = $"{address}", ["port"] = sawLine.At.Port, ["responseTimeout"] = "1 s" }))
            .With("influx", new JsonArray(new JsonObject { ["name"] = "one", ["url"] = string.Create(CultureInfo.InvariantCulture, $"http://{influxLine.At}"), ["version"] = 1, ["database"] = Database, ["points"] = AllPoints.Node(), ["maximumWait"] = "100 ms", ["timeout"] = "2 s" }))
            .With("alarms", CommonAlarms.Node());
        for (var i = 0; i < Saws; i++)
            folder.WithSaw(bay.Saws[i].Name, "plc", i + 1, interval: "200 ms");
        folder.Write();
        await using var gateway = GatewayProcess.Run(folder.Configuration, through: network?.Through ?? []);
        await gateway.UntilAsync(() => bay.Requests > 4, "the gateway polls");
        bay.Release();

        var server = new ServerAgainstHistory(run, influx, Database, folder);
        var blows = Blows(run, network, sawLine, influxLine).ToArray();
        var (dealt, slowestSaws, slowestServer) = (0, TimeSpan.Zero, TimeSpan.Zero);
        for (var count = run.Count(shortForm: 5, longForm: 200); dealt < count && !run.IsTimeUp && run.Failures.Count == 0; dealt++)
        {
            cancellation.ThrowIfCancellationRequested();
            if (dealt % blows.Length == 0)
                run.Random.Shuffle(blows);
            var blow = blows[dealt % blows.Length];
            run.Say($"{blow.Name}");
            var since = TimeProvider.System.GetUtcNow() - Patience;
            var (asked, began) = (bay.Requests, run.Elapsed);
            await blow.Begin();
            await Task.Delay(run.Random.Next(200, run.IsShort ? 800 : 8000), cancellation);
            await blow.End();
            var ended = run.Elapsed;
            asked = bay.Requests;
            await gateway.ComesAsync(run, () => bay.Requests > asked + (8 * Saws), $"the saws are polled again", Recovery);
            slowestSaws = Later(slowestSaws, run.Elapsed - ended);
            if (blow.IsOfSaws)
            {
                foreach (var saw in bay.Saws)
                    saw.Observed.Forget(since, TimeProvider.System.GetUtcNow() + Patience);
            }

            await server.CaughtUpAsync(gateway, Recovery);
            slowestServer = Later(slowestServer, run.Elapsed - ended);
        }

        await RunOut.OfAsync(run, bay, gateway, folder, interrupted: true);
        await server.CaughtUpAsync(gateway);
        run.Check(gateway.WarningCount() <= (2 * Saws * dealt) + 8, $"{gateway.WarningCount()} warnings in the log for {dealt} blows:\n{gateway.Warnings()}");
        run.Check(await gateway.EndAsync() == 0, $"the gateway did not end well:\n{gateway.Warnings()}");
        var account = RunOut.Account(run, bay, folder.History);
        run.Check((await folder.History.IntegrityAsync()).Trim() == "ok", $"the history is damaged");
        var compared = await server.CompareAsync();
        run.Figure("blows", $"{dealt}");
        run.Figure("kinds", $"{blows.Length}");
        account.Tell(run);
        run.Figure("points compared with the history", $"{compared}");
        run.Figure("kB lost on the way", $"{(sawLine.Lost + influxLine.Lost) / 1000}");
        run.Figure("s at most until the saws were polled again", $"{slowestSaws.TotalSeconds:0.0}");
        run.Figure("s until the server had all", $"{slowestServer.TotalSeconds:0.0}");
    }

    private static TimeSpan Later(TimeSpan a, TimeSpan b) => a > b ? a : b;

    private static IEnumerable<Blow> Blows(TrialRun run, OwnNetwork? network, BadLine sawLine, BadLine influxLine)
    {
        foreach (var (line, where, isOfSaws) in new[] { (sawLine, "saws", true), (influxLine, "influxd", false) })
        {
            foreach (var state in new[] { LineState.Cut, LineState.Silent, LineState.Deaf, LineState.Trickle, LineState.Late })
                yield return new Blow($"{state.ToString().ToLowerInvariant()}, {where}", isOfSaws, () => Set(line, state), () => Set(line, LineState.Good));
            yield return new Blow($"reset, {where}", isOfSaws, () => ResetAsync(run, line), () => Task.CompletedTask);
        }

        if (network is null)
            yield break;
        yield return new Blow("cable pulled", true, () => network.PullAsync(pulled: true), () => network.PullAsync(pulled: false));
        yield return new Blow("cable throttled", true, () => network.ThrottleAsync(throttled: true), () => network.ThrottleAsync(throttled: false));
    }

    private static Task Set(BadLine line, LineState state)
    {
        line.State = state;
        return Task.CompletedTask;
    }

    // In the middle of whatever goes over it, some times in a row.
    private static async Task ResetAsync(TrialRun run, BadLine line)
    {
        for (var i = 0; i < 4; i++)
        {
            await Task.Delay(run.Random.Next(10, 200));
            line.Reset();
        }
    }

    /// <summary>Something that is done to the network.</summary>
    /// <param name="Name">What and where.</param>
    /// <param name="IsOfSaws">Whether the saws' frames are concerned.</param>
    /// <param name="Begin">Does it.</param>
    /// <param name="End">Ends it.</param>
    private sealed record Blow(string Name, bool IsOfSaws, Func<Task> Begin, Func<Task> End);
}
