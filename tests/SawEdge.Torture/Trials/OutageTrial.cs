using System.Globalization;
using System.Text.Json.Nodes;
using Microsoft.Extensions.Logging;
using SawEdge.EndToEnd.Tests.Support;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Hosting;
using SawEdge.TestSupport;
using SawEdge.Torture.Outage;
using SawEdge.Torture.Plant;
using SawEdge.Torture.Servers;

namespace SawEdge.Torture.Trials;

/// <summary>
/// A destination is away for days in front of many saws, and then it is back. No process has days to spare, so this is the hosted service itself, in
/// this process, on a clock that is moved by hand; its saws answer over Modbus TCP and its server is a real influxd.
/// </summary>
internal sealed class OutageTrial : ITrial
{
    private const string Database = "plant";
    private static readonly DateTimeOffset Start = new(2026, 3, 2, 6, 0, 0, TimeSpan.Zero);
    // No round one, so that nothing else waits for the same moment.
    private static readonly TimeSpan Interval = TimeSpan.FromMilliseconds(9_973);

    /// <inheritdoc/>
    public string Name => "outage";

    /// <inheritdoc/>
    public string Describes => "the destination is away for 72 h of virtual time in front of 100 saws, then all of it is delivered (short: 2 h, 8 saws); the hosted service in this process";

    /// <inheritdoc/>
    public async Task RunAsync(TrialRun run, CancellationToken cancellation)
    {
        var (saws, hours) = run.IsShort ? (8, 2) : (100, run.Count(0, 72));
        await using var influx = await InfluxServer.StartAsync(Database);
        await influx.KillAsync();
        using var clock = new SlotClock(Start);
        await using var bay = new SteppedBay(saws, run.Seed, clock, Interval);
        using var folder = new GatewayFolder()
            .With("timeZone", "UTC")
            .With("calendar", JsonNode.Parse("""{ "shifts": [ { "name": "day", "from": "06:00", "to": "22:00" } ] }""")!)
            .With("signals", JsonNode.Parse("""{ "every": "10 min" }""")!)
            .With("alarms", CommonAlarms.Node())
            .With("influx", new JsonArray(new JsonObject { ["name"] = "one", ["url"] = influx.Url.ToString(), ["version"] = 1, ["database"] = Database, ["points"] = AllPoints.Node(), ["timeout"] = "5 min" }));
        bay.Enter(folder);
        folder.Write();
        var loaded = ConfigurationFile.Load(folder.Configuration, new Dictionary<string, string>());
        if (loaded.Options is not { } options)
            throw new InvalidOperationException($"The trial's own configuration is wrong: {string.Join("; ", loaded.Errors)}");

        var stored = 0L;
        using var stop = CancellationTokenSource.CreateLinkedTokenSource(cancellation);
        var gateway = GatewayHost.RunAsync(options, new GatewayClocks(clock, clock), LogForm.Text, LogLevel.None, _ => Interlocked.Increment(ref stored), _ => { }, stop.Token);
        var memory = await AwayAsync(run, bay, gateway, hours, () => Interlocked.Read(ref stored), cancellation);
        var server = new ServerAgainstHistory(run, influx, Database, folder);
        var kept = folder.History.Count("cycles");

        // The saws stand, so that there is an end to it; the clock goes on.
        bay.Hold();
        await influx.StartAgainAsync();
        run.Say($"the server is back; {kept} cycles wait");
        var began = run.Elapsed;
        for (var sent = (Kept: 1L, Sent: 0L); sent.Sent < sent.Kept && !gateway.IsCompleted && run.Elapsed - began < TimeSpan.FromMinutes(15); sent = await server.CountAsync())
            await bay.StepAsync(gateway);
        var drained = run.Elapsed - began;

        // Profiles, signals and hours come on lanes of their own.
        var points = 0.0;
        for (var (last, quiet) = (-1.0, 0); quiet < 3 && !gateway.IsCompleted; last = points)
        {
            for (var i = 0; i < 12; i++)
                await bay.StepAsync(gateway);
            points = await server.PointsAsync();
            quiet = points > last ? 0 : quiet + 1;
        }

        var all = run.Elapsed - began;
        await stop.CancelAsync();
        await Until.TrueAsync(
            () =>
            {
                clock.Advance(TimeSpan.FromMilliseconds(400));
                return gateway.IsCompleted;
            },
            "the gateway has ended",
            TimeSpan.FromMinutes(5));

        run.Check(await gateway is null, $"the gateway did not end well: {(await gateway)?.Message}");
        var cycles = Account(run, bay, folder.History);
        run.Check(folder.History.Alarms().Any(alarm => alarm.Text("rule") == "delivery_trouble" && alarm.Whole("active") == 0), $"no alarm said that the destination is away, or it stands still");
        var compared = await server.CompareSumsAsync(clock.GetUtcNow() - TimeSpan.FromHours(1.5));
        run.Figure("saws", $"{saws}");
        run.Figure("h away", $"{hours}");
        run.Figure("cycles", $"{cycles}");
        run.Figure("points compared with the history in counts and sums", $"{compared}");
        run.Figure("MB of memory held after a third of the time and at its end", $"{memory.Third / 1e6:0.0} / {memory.End / 1e6:0.0}");
        run.Figure("s until cycles and alarms were delivered", $"{drained.TotalSeconds:0}");
        run.Figure("s until all was", $"{all.TotalSeconds:0}");
    }

    // Each cycle that was is recorded once, and is known by the part counter.
    private static int Account(TrialRun run, SteppedBay bay, HistoryFile history)
    {
        var records = history.Cycles();
        var of = records.ToLookup(record => (record.Text("saw"), record.Whole("part_count")));
        var truths = bay.Finished();
        foreach (var truth in truths.Where(truth => of[(truth.Saw, truth.PartCount)].Count() != 1).Take(5))
            run.Check(false, $"{truth.Saw}: the cycle from {truth.Started:O} to {truth.Ended:O}, part {truth.PartCount}, is recorded {of[(truth.Saw, truth.PartCount)].Count()} times; about it {string.Join(" AND ", records.Where(record => record.Text("saw") == truth.Saw && record.Time("started_at") < truth.Ended && record.Time("ended_at") > truth.Started))}");
        run.Check(records.Count == truths.Count, $"{truths.Count} cycles were, {records.Count} are recorded");
        return records.Count;
    }

    // Memory is what is held after a full collection, the virtual saws' own included.
    private static async Task<(long Third, long End)> AwayAsync(TrialRun run, SteppedBay bay, Task gateway, int hours, Func<long> stored, CancellationToken cancellation)
    {
        var steps = (int)(TimeSpan.FromHours(hours) / Interval);
        var (third, held) = (0L, 0L);
        for (var i = 1; i <= steps && !gateway.IsCompleted; i++)
        {
            cancellation.ThrowIfCancellationRequested();
            await bay.StepAsync(gateway);

            // Time does not run away from what it brings.
            if (i % 60 == 0)
                await Until.TrueAsync(() => gateway.IsCompleted || stored() >= bay.FinishedCount - (bay.Reads / i), string.Create(CultureInfo.InvariantCulture, $"finished cycles are stored (step {i})"));
            if (i != steps / 3 && i % (steps / 12) != 0)
                continue;
            held = GC.GetTotalMemory(forceFullCollection: true);
            third = i <= steps / 3 ? held : third;
            run.Say($"{i * Interval.TotalHours:0.0} h: {bay.FinishedCount} cycles, {held / 1e6:0.0} MB held, {Environment.WorkingSet / 1e6:0} MB in all");
        }

        run.Check(held < (third * 1.25) + 10e6, $"memory grew from {third / 1e6:0.0} to {held / 1e6:0.0} MB while the destination was away");
        return (third, held);
    }
}
