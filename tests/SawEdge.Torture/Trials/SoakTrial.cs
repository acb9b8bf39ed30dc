using System.Diagnostics;
using Microsoft.Data.Sqlite;
using Microsoft.Extensions.Logging;
using SawEdge.Core.Sections;
using SawEdge.EndToEnd.Tests.Support;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Hosting;
using SawEdge.Simulator.Modbus;
using SawEdge.Simulator.Saws;
using SawEdge.Simulator.Time;
using SawEdge.TestSupport;
using SawEdge.Torture.Plant;

namespace SawEdge.Torture.Trials;

/// <summary>
/// A month of work in less than an hour. Virtual time, so the gateway is the real hosted service inside this process, and what is measured is
/// this process with its virtual saws; they read and write through real sockets, a real file and a real influxd.
/// </summary>
internal sealed class SoakTrial : ITrial
{
    private const string Database = "plant";

    /// <inheritdoc/>
    public string Name => "soak";

    /// <inheritdoc/>
    public string Describes => "a month of 20 saws in virtual time, in this process: memory, handles, threads and the size of the history are to stay flat";

    /// <inheritdoc/>
    public async Task RunAsync(TrialRun run, CancellationToken cancellation)
    {
        var (saws, days, speed, interval) = run.IsShort ? (4, 1.0, 6_000.0, "60 s") : (20, run.Count(30, 30), 1_000.0, "30 s");
        await using var influx = await InfluxServer.StartAsync(Database);
        var clock = new ScaledTimeProvider(TimeProvider.System, speed, SmallSaw.Start);
        var bay = Enumerable.Range(1, saws).Select(i => new VirtualSaw(Options($"saw-{i}", (ulong)(run.Seed + i)))).Select(saw => new LiveSaw(saw, clock)).ToList();
        var devices = bay.Select(saw => ModbusTcpServer.Start(new Dictionary<byte, ModbusUnit> { [1] = new(saw, RegisterLayout.Plain) })).ToList();
        await using var ending = new Ending(devices);
        using var folder = new GatewayFolder().WithInflux1(influx, Database);
        folder.With("signals", new System.Text.Json.Nodes.JsonObject { ["every"] = "60 s", ["keep"] = run.IsShort ? "4 h" : "3 d" });
        foreach (var (saw, device) in bay.Zip(devices))
            folder.WithDevice($"of-{saw.Name}", device.Port, responseTimeout: "60 s").WithSaw(saw.Name, $"of-{saw.Name}", 1, interval: interval);
        folder.Write();
        var loaded = ConfigurationFile.Load(folder.Configuration, new Dictionary<string, string>());
        var options = loaded.Options ?? throw new InvalidOperationException(string.Join('\n', loaded.Errors));

        using var stop = CancellationTokenSource.CreateLinkedTokenSource(cancellation);
        var gateway = Task.Run(() => GatewayHost.RunAsync(options, new GatewayClocks(clock, TimeProvider.System), LogForm.Text, LogLevel.Error, null, null, stop.Token), CancellationToken.None);
        await Until.TrueAsync(() => devices.All(device => device.Requests > 0) || gateway.IsCompleted, "the gateway polls", TimeSpan.FromMinutes(1));
        var begun = clock.GetUtcNow();
        long truths = 0;
        var looks = new Looks();
        var every = TimeSpan.FromDays(days / (run.IsShort ? 8 : days * 2));
        for (var next = begun + every; next <= begun.AddDays(days) && !run.IsTimeUp && !gateway.IsCompleted; next += every)
        {
            await Task.Delay(clock.ToInner(Positive(next - clock.GetUtcNow())), cancellation);
            truths += bay.Sum(saw => saw.TakeFinished().Count);
            looks.Take((clock.GetUtcNow() - begun).TotalDays, folder.History.Path);
            if (!run.IsShort)
                run.Say($"{looks.Last}");
        }

        var cycles = folder.History.Cycles().Count;
        await Until.TrueAsync(async () => await influx.NumberAsync("SELECT count(cycle_id) FROM cycle", Database) >= cycles, "what is in the history is delivered", TimeSpan.FromMinutes(2));
        await stop.CancelAsync();
        var failure = await gateway;
        run.Check(failure is null, $"the gateway ended: {failure}");
        truths += bay.Sum(saw => saw.TakeFinished().Count);

        var records = folder.History.Cycles();
        run.Check(records.Select(record => record.Id).Distinct().Count() == records.Count, $"cycles are there twice");
        run.Check(records.Count > 0 && records.Count <= truths + bay.Count, $"{records.Count} records of {truths} cycles");
        var check = HistoryCheck.Run(folder.History.Path, (_, _) => { }, cancellation);
        run.Check(check.Findings.Count == 0, $"history check finds {string.Join("; ", check.Findings)}");
        looks.Judge(run);
        run.Figure("cycles of", $"{records.Count}");
        run.Figure("that were", $"{truths}");
    }

    private static TimeSpan Positive(TimeSpan time) => time > TimeSpan.Zero ? time : TimeSpan.Zero;

    // Heavy bars: cuts of an hour, which frames seldom enough for so much time still show.
    private static VirtualSawOptions Options(string name, ulong seed)
    {
        var options = SmallSaw.Named(name, seed);
        return options with
        {
            Machine = options.Machine with { RestHeightMm = 400, BladeStopsBetweenCycles = false },
            Jobs = [options.Jobs[0] with { Section = SectionFactory.Rectangle(300, 250), RateCm2Min = 12 }],
            Work = options.Work with { LeastWaitS = 240, ExtraWaitS = 240 },
        };
    }

    private sealed class Ending(IReadOnlyList<ModbusTcpServer> devices) : IAsyncDisposable
    {
        public async ValueTask DisposeAsync()
        {
            foreach (var device in devices)
                await device.DisposeAsync();
        }
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
            if (!run.Check(warm.Count >= 4, $"only {_all.Count} looks"))
                return;
            var days = warm[^1].Day - warm[0].Day;
            Judge(run, "managed MB", days, warm, look => look.ManagedMb, most: 0.15, least: 8);
            Judge(run, "working set MB", days, warm, look => look.WorkingSetMb, most: 0.15, least: 40);
            Judge(run, "handles", days, warm, look => look.Handles, most: 0.1, least: 12);
            Judge(run, "threads", days, warm, look => look.Threads, most: 0.3, least: 12);
            run.Figure("MB history", $"{warm[^1].HistoryMb:0.0}");
            run.Figure("MB a day more", $"{Slope(warm, look => look.HistoryMb):0.000}");
            run.Figure("virtual days", $"{warm[^1].Day:0.0}");
        }

        private static void Judge(TrialRun run, string what, double days, List<Look> looks, Func<Look, double> of, double most, double least)
        {
            var (slope, level) = (Slope(looks, of), looks.Average(of));
            run.Check(slope * days <= Math.Max(most * level, least), $"{what} rise by {slope:0.00} a day from {of(looks[0]):0.0} to {of(looks[^1]):0.0}");
            run.Figure(what, $"{level:0.0} {slope:+0.00;-0.00} a day");
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
