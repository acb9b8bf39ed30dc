using System.Diagnostics;
using System.Text.Json.Nodes;
using Microsoft.Data.Sqlite;
using Microsoft.Extensions.Logging;
using SawEdge.EndToEnd.Tests.Support;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Hosting;
using SawEdge.TestSupport;
using SawEdge.Torture.Outage;

namespace SawEdge.Torture.Trials;

/// <summary>
/// A month of work in less than an hour, on a clock that is moved by hand: so the gateway is the hosted service inside this process, and what is
/// measured is this process with its virtual saws. It reads and writes through real sockets, a real file and a real influxd.
/// </summary>
internal sealed class SoakTrial : ITrial
{
    private const string Database = "plant";

    // No round one, so that nothing else waits for the same moment.
    private static readonly TimeSpan Interval = TimeSpan.FromMilliseconds(19_973);

    // What a build has to spare; but so much at least, that what a start brings is not taken for a rise.
    private const int ShortSteps = 600;
    private static readonly TimeSpan ShortTime = TimeSpan.FromSeconds(15);
    private static readonly TimeSpan Patience = TimeSpan.FromMinutes(3);
    private static readonly TimeSpan ShortLook = TimeSpan.FromSeconds(1.5);

    /// <inheritdoc/>
    public string Name => "soak";

    /// <inheritdoc/>
    public string Describes => "a month of 20 saws in virtual time, in this process: memory, handles, threads and the size of the history are to stay flat";

    /// <inheritdoc/>
    public async Task RunAsync(TrialRun run, CancellationToken cancellation)
    {
        var (saws, days, look) = run.IsShort ? (5, 2, TimeSpan.FromHours(1.5)) : (20, run.Count(0, 30), TimeSpan.FromHours(12));
        await using var influx = await InfluxServer.StartAsync(Database);
        using var clock = new SlotClock(SmallSaw.Start);
        await using var bay = new SteppedBay(saws, run.Seed, clock, Interval);
        using var folder = new GatewayFolder().WithInflux1(influx, Database).With("signals", new JsonObject { ["every"] = "60 s", ["keep"] = run.IsShort ? "4 h" : "3 d" });
        bay.Enter(folder);
        folder.Write();
        var loaded = ConfigurationFile.Load(folder.Configuration, new Dictionary<string, string>());
        var options = loaded.Options ?? throw new InvalidOperationException(string.Join('\n', loaded.Errors));

        var stored = 0L;
        using var stop = CancellationTokenSource.CreateLinkedTokenSource(cancellation);
        var gateway = GatewayHost.RunAsync(options, new GatewayClocks(clock, TimeProvider.System), LogForm.Text, LogLevel.Error, _ => Interlocked.Increment(ref stored), _ => { }, null, stop.Token);
        var slack = 2L * saws;
        var looks = new Looks();
        var nextLook = run.Elapsed + ShortLook;
        var (steps, each) = ((int)(TimeSpan.FromDays(days) / Interval), (int)(look / Interval));
        for (var i = 1; i <= steps && !run.IsTimeUp && !(run.IsShort && run.Elapsed > ShortTime && i > ShortSteps) && !gateway.IsCompleted; i++)
        {
            cancellation.ThrowIfCancellationRequested();
            await bay.StepAsync(gateway);

            // Time does not run away from what it brings.
            if (i % 30 == 0)
                await Until.TrueAsync(() => gateway.IsCompleted || Interlocked.Read(ref stored) >= bay.CountFinished() - slack || cancellation.IsCancellationRequested, "what is over is recorded", Patience);

            if (run.IsShort ? run.Elapsed < nextLook : i % each != 0)
                continue;
            nextLook = run.Elapsed + ShortLook;
            looks.Take(i * Interval / TimeSpan.FromDays(1), folder.History.Path);
            if (!run.IsShort)
                run.Say($"{looks.Last}");
        }

        bay.Hold();
        var truths = bay.CountFinished();
        await Until.TrueAsync(async () => gateway.IsCompleted || await influx.NumberAsync("SELECT count(cycle_id) FROM cycle", Database) >= folder.History.Count("cycles"), "what is in the history is delivered");
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
        var records = folder.History.Cycles();
        run.Check(records.Count >= truths - saws && records.Count <= truths, $"{records.Count} records of {truths} cycles");
        run.Check(records.Select(record => (record.Text("saw"), record.Whole("part_count"))).Distinct().Count() == records.Count, $"a part is recorded twice");
        var check = HistoryCheck.Run(folder.History.Path, (_, _) => { }, cancellation);
        run.Check(check.Findings.Count == 0, $"history check finds {string.Join("; ", check.Findings)}");
        looks.Judge(run);
        run.Figure("saws", $"{saws}");
        run.Figure("cycles recorded of", $"{records.Count}");
        run.Figure("that were", $"{truths}");
    }

    /// <summary>What the process took, look by look.</summary>
    private sealed class Looks
    {
        private readonly List<Look> _all = [];

        public Look Last => _all[^1];

        public void Take(double day, string history)
        {
            GC.Collect();
            GC.WaitForPendingFinalizers();
            GC.Collect();
            using var self = Process.GetCurrentProcess();
            var threads = self.Threads.Count;
            var handles = OperatingSystem.IsLinux() ? Directory.GetFileSystemEntries("/proc/self/fd").Length : self.HandleCount;
            _all.Add(new Look(day, GC.GetTotalMemory(false) / 1e6, self.WorkingSet64 / 1e6, handles, threads, Pages(history)));
        }

        // A rise that is less than a share of the level over the whole time is none. What begins with the process (code, pools) is left out.
        public void Judge(TrialRun run)
        {
            var warm = _all.Skip(Math.Max(1, _all.Count / 4)).ToList();
            if (!run.Check(warm.Count >= 3, $"only {_all.Count} looks"))
                return;
            var days = warm[^1].Day - warm[0].Day;
            Judge(run, "managed MB", days, warm, look => look.ManagedMb, most: 0.15, least: 8);
            Judge(run, "working set MB", days, warm, look => look.WorkingSetMb, most: 0.15, least: 40);
            Judge(run, "handles", days, warm, look => look.Handles, most: 0.1, least: 12);
            Judge(run, "threads", days, warm, look => look.Threads, most: 0.3, least: 12);
            run.Figure("MB history", $"{warm[^1].HistoryMb:0.0}");
            if (days >= 1)
                run.Figure("MB a day more", $"{Slope(warm, look => look.HistoryMb):0.00}");
            run.Figure("virtual days", $"{warm[^1].Day:0.0}");
        }

        private static void Judge(TrialRun run, string what, double days, List<Look> looks, Func<Look, double> of, double most, double least)
        {
            var (slope, level) = (Slope(looks, of), looks.Average(of));
            run.Check(slope * days <= Math.Max(most * level, least), $"{what} rise by {slope:0.00} a day from {of(looks[0]):0.0} to {of(looks[^1]):0.0}");
            run.Figure(what, days >= 1 ? $"{of(looks[0]):0.0} to {of(looks[^1]):0.0} ({slope:+0.00;-0.00} a day)" : (FormattableString)$"{of(looks[0]):0.0} to {of(looks[^1]):0.0}");
        }

        // Theil and Sen: the median of the slopes between all pairs, which one look in the middle of a collection does not bend.
        private static double Slope(List<Look> looks, Func<Look, double> of)
        {
            var slopes = (from i in Enumerable.Range(0, looks.Count) from j in Enumerable.Range(i + 1, looks.Count - i - 1) select (of(looks[j]) - of(looks[i])) / (looks[j].Day - looks[i].Day)).Order().ToList();
            return slopes[slopes.Count / 2];
        }

        private static double Pages(string history)
        {
            using var connection = new SqliteConnection($"Data Source={history};Mode=ReadOnly;Pooling=False;Default Timeout=10");
            connection.Open();
            using var command = connection.CreateCommand();
            command.CommandText = "SELECT page_count * page_size / 1e6 FROM pragma_page_count, pragma_page_size";
            return (double)command.ExecuteScalar()!;
        }
    }

    private sealed record Look(double Day, double ManagedMb, double WorkingSetMb, int Handles, int Threads, double HistoryMb)
    {
        public override string ToString() => FormattableString.Invariant($"day {Day:0.0}: {ManagedMb:0.0} MB managed, {WorkingSetMb:0} MB working set, {Handles} handles, {Threads} threads, history {HistoryMb:0.0} MB");
    }
}
