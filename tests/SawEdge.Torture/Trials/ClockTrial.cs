using SawEdge.EndToEnd.Tests.Support;
using SawEdge.TestSupport;
using SawEdge.Torture.Clocks;
using SawEdge.Torture.Plant;

namespace SawEdge.Torture.Trials;

/// <summary>The wall clock of a real gateway is set again and again while saws work, and now and then while it is down.</summary>
internal sealed class ClockTrial : ITrial
{
    private const string Database = "plant";
    private static readonly DateTimeOffset Epoch = DateTimeOffset.UnixEpoch.AddMinutes(3);
    private static readonly DateTimeOffset Far = new(2099, 1, 1, 0, 0, 0, TimeSpan.Zero);
    private static readonly double[] Steps = [3600, -3600, 1, -1, 0.4, -0.4, 30, -30, 86_400, -86_400, 604_800 * 5, -604_800 * 5];

    private readonly record struct Count(int Steps, int Restarts);

    /// <inheritdoc/>
    public string Name => "clock";

    /// <inheritdoc/>
    public string Describes => "the wall clock is set forth and back, by half a second up to 1970 and 2099, in cuts, between them and in restarts";

    /// <inheritdoc/>
    public async Task RunAsync(TrialRun run, CancellationToken cancellation)
    {
        await using var influx = await InfluxServer.StartAsync(Database);
        await using var bay = SawBay.Open(run.IsShort ? 6 : 16, run.Random, pace: run.IsShort ? 4 : 3);
        using var folder = new GatewayFolder().WithInflux1(influx, Database);
        bay.Enter(folder, "100 ms");
        folder.Write();
        using var clock = await SetClock.MakeAsync();
        var count = new Count();
        var gateway = GatewayProcess.Run(folder.Configuration, clock.Environment);
        try
        {
            await gateway.UntilAsync(() => bay.Requests > bay.Saws.Count, "the gateway polls");
            bay.Release();
            var blows = run.Count(shortForm: 8, longForm: 150);
            for (var i = 0; i < blows && !run.IsTimeUp && !cancellation.IsCancellationRequested; i++)
            {
                // The short form restarts once, in a time before any network has told the right one.
                var restarts = run.IsShort ? i == 4 : run.Random.Next(12) == 0;
                if (restarts)
                    await StopAsync(run, gateway);
                clock.Set(run.IsShort && restarts ? Epoch - TimeProvider.System.GetUtcNow() : Next(run.Random, clock.Offset));
                count = new(count.Steps + 1, count.Restarts + (restarts ? 1 : 0));
                if (restarts)
                {
                    gateway = GatewayProcess.Run(folder.Configuration, clock.Environment);
                    var asked = bay.Requests;
                    await gateway.UntilAsync(() => bay.Requests > asked + bay.Saws.Count, "the gateway polls again");
                }

                await Task.Delay(run.Random.Next(200, run.IsShort ? 1500 : 6000), cancellation);
            }

            clock.Set(TimeSpan.Zero);
            await bay.FinishAsync(gateway, folder.History, parts: 3);
            await Delivered.AllAsync(gateway, influx, Database, folder.History.Cycles().Count);
        }
        finally
        {
            await StopAsync(run, gateway);
        }

        var all = bay.Saws.Select(saw => Check(run, saw, folder.History.Cycles(saw.Name))).ToList();
        run.Check(all.Sum(account => account.Untold) <= 1 + (all.Sum(account => account.Cycles) * RunOut.Tolerated), $"{all.Sum(account => account.Untold)} cycles are neither recorded nor stated");
        var integrity = await folder.History.IntegrityAsync();
        run.Check(integrity == "ok", $"sqlite3 says {integrity}");
        await Delivered.IsTheHistoryAsync(influx, Database, folder.History);
        run.Figure("steps of the clock", $"{count.Steps}");
        run.Figure("restarts in a wrong time", $"{count.Restarts}");
        run.Figure("cycles", $"{all.Sum(account => account.Cycles)}");
        run.Figure("seen whole, each recorded once with its true times", $"{all.Sum(account => account.Whole)}");
        run.Figure("recorded", $"{all.Sum(account => account.Records)}");
        run.Figure("stated in the notes", $"{all.Sum(account => account.Stated)}");
        run.Figure("that nothing tells of", $"{all.Sum(account => account.Untold)}");
    }

    // Mostly one step from where it stands, now and then the right time, and seldom times that only a broken clock shows.
    private static TimeSpan Next(Random random, TimeSpan now) => random.Next(10) switch
    {
        0 => Epoch - TimeProvider.System.GetUtcNow(),
        1 => Far - TimeProvider.System.GetUtcNow(),
        2 or 3 or 4 => TimeSpan.Zero,
        _ => (now.Duration() > TimeSpan.FromDays(1000) ? TimeSpan.Zero : now) + TimeSpan.FromSeconds(Steps[random.Next(Steps.Length)]),
    };

    private static async Task StopAsync(TrialRun run, GatewayProcess gateway)
    {
        if (!gateway.HasExited)
        {
            var exit = await gateway.EndAsync();
            run.Check(exit == 0, $"the gateway ended with {exit}");
        }

        foreach (var line in gateway.Log.Where(line => line.Level is "Error" or "Critical"))
            run.Check(false, $"the gateway said: {line.Message}");
        await gateway.DisposeAsync();
    }

    // By the counter, because no clock is to be trusted here. What was made while no gateway was there is stated, or has the record of what was open then.
    private static Account Check(TrialRun run, BaySaw saw, IReadOnlyList<CycleRow> records)
    {
        var truths = saw.Finished();
        var gaps = saw.Observed.Gaps();
        var of = records.ToLookup(record => record.Whole("part_count"));
        var whole = 0;
        foreach (var truth in truths)
        {
            var its = of[truth.Truth.PartCount].ToList();
            run.Check(its.Count <= 1, $"{saw.Name}: part {truth.Truth.PartCount} of {truth.From:O} has {its.Count} records: {string.Join(" AND ", its)}");
            if (gaps.Any(gap => truth.From < gap.To && truth.To > gap.From))
                continue;
            whole++;
            if (!run.Check(its.Count > 0, $"{saw.Name}: part {truth.Truth.PartCount} of {truth.From:O} was seen whole and has no record"))
                continue;
            run.Check(its[0].Outcome == "completed", $"{saw.Name}: the cycle of {truth.From:O} was seen whole and is {its[0]}");
            run.Check(Math.Abs(its[0].Number("cut_time_s") - truth.Truth.CutTimeS!.Value) < 0.5, $"{saw.Name}: the cut took {truth.Truth.CutTimeS} s: {its[0]}");
            run.Check(Math.Abs(its[0].Number("cycle_time_s") - (truth.To - truth.From).TotalSeconds) < 0.5, $"{saw.Name}: the cycle took {(truth.To - truth.From).TotalSeconds} s: {its[0]}");
        }

        var stated = RecordsAgainstTruth.Stated(records);
        var untold = Math.Abs(truths.Count - records.Count - stated);
        if (untold > 0)
            run.Say($"{saw.Name}: {truths.Count} cycles, {records.Count} recorded, {stated} stated");
        return new Account(truths.Count, whole, records.Count, stated, untold);
    }

    private sealed record Account(int Cycles, int Whole, int Records, long Stated, long Untold);
}
