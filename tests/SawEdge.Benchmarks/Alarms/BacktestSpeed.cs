using System.Diagnostics;
using System.Globalization;
using Microsoft.Extensions.Logging.Abstractions;
using SawEdge.Benchmarks.Score;
using SawEdge.Core;
using SawEdge.Core.Alarms;
using SawEdge.Core.Load;
using SawEdge.Core.Materials;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition.Recordings;
using SawEdge.Gateway.Commands.Alarms.Backtest;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Processing;
using SawEdge.TestSupport;

namespace SawEdge.Benchmarks.Alarms;

/// <summary>The rules tried on the past, from a history and from a recording on the disk: cycles and frames a second, from the file to the alarms.</summary>
internal static class BacktestSpeed
{
    private const int Cuts = 20_000;
    private const int Distinct = 1250;
    private const int Recorded = 500;
    private const int Rounds = 3;

    public static async Task RunAsync(TextWriter output)
    {
        var saw = new VirtualCuts(jobs: 8);
        using var folder = new TempFolder();
        var load = AlarmVariables.Of(AlarmTopic.Signal, "motor_load");
        var options = new GatewayOptions
        {
            Site = "Riverbend",
            Gateway = "bench",
            DataFolder = folder.Path,
            Saws = [],
            Alarms = new AlarmOptions
            {
                Rules =
                [
                    .. DefaultRules.All,
                    new AlarmRule { Name = "motor hot", Variable = load, Test = new AlarmTest { Comparison = AlarmComparison.Above, Limit = 4, ClearLimit = 3.8 }, OnDelay = TimeSpan.FromSeconds(2), Text = AlarmTemplate.Parse("{saw}: {value}") },
                ],
                Contacts = [new Contact { Name = "shift lead", Channel = "none" }],
            },
        };
        var recording = folder.File("recording.csv");
        var frames = Write(saw, recording);
        using var database = HistoryDatabase.Open(folder.Path);
        await StoreAsync(database, saw);
        output.WriteLine(string.Create(CultureInfo.InvariantCulture, $"{options.Alarms.Rules.Count} rules; history of {Cuts:N0} cycles, recording of {frames:N0} frames ({Recorded} cycles); best of {Rounds}"));
        await MeasureAsync(output, "history, as stored", options, async () => await new HistoryPast(new HistoryReader(database), options, null, null).RunAsync("", anew: false, CancellationToken.None));
        await MeasureAsync(output, "history, score computed anew", options, async () => await new HistoryPast(new HistoryReader(database), options, null, null).RunAsync("", anew: true, CancellationToken.None));
        await MeasureAsync(output, "recording", options, async () =>
        {
            await using var set = await RecordingSet.OpenAsync([recording], new RecordingProblems());
            return await new RecordingPast(options, saw.Jobs, null, null).RunAsync(set, CancellationToken.None);
        });
    }

    private static async Task MeasureAsync(TextWriter output, string what, GatewayOptions options, Func<Task<WatchedPast>> run)
    {
        var (best, past, alarms) = (double.MaxValue, default(WatchedPast), 0);
        for (var round = 0; round < Rounds; round++)
        {
            var started = Stopwatch.GetTimestamp();
            past = await run();
            var life = new TriedLife(options.Alarms.Rules, options.Alarms.Contacts, new AlarmBoardSettings { Quantity = (value, unit) => $"{value} {unit}" }, TimeSpan.FromMinutes(15));
            life.Run(past, CancellationToken.None);
            alarms = BacktestTally.Count("bench", options.Alarms, past, life.Events, life.Notices, []).Announced.Count();
            best = Math.Min(best, Stopwatch.GetElapsedTime(started).TotalSeconds);
        }

        var speed = past!.Frames > 0
            ? string.Create(CultureInfo.InvariantCulture, $"{past.Frames / best:N0} frames/s, {past.Cycles / best:N0} cycles/s")
            : string.Create(CultureInfo.InvariantCulture, $"{past.Cycles / best:N0} cycles/s");
        output.WriteLine(string.Create(CultureInfo.InvariantCulture, $"{what}: {(past.To - past.From).TotalDays:0.0} days, {past.Cycles:N0} cycles, {alarms:N0} alarms, {best:0.00} s, {speed}"));
    }

    private static long Write(VirtualCuts saw, string path)
    {
        var count = 0L;
        using var writer = new RecordingWriter(File.Create(path), [.. SignalInfo.All.Select(info => info.Signal)]);
        foreach (var frame in saw.Frames(Recorded))
        {
            writer.Write(saw.Machine.Name, in frame);
            count++;
            if (writer.Pending > 1 << 20)
                writer.Flush();
        }

        return count;
    }

    private static async Task StoreAsync(HistoryDatabase database, VirtualCuts saw)
    {
        var writer = new HistoryWriter(database, TimeProvider.System, NullLogger<HistoryWriter>.Instance);
        var run = writer.RunAsync(CancellationToken.None);
        var few = saw.Evidence(Distinct + 10);
        var (recorder, storage) = (new SawSetup(saw.Machine, null, new LoadSettings(), MaterialCatalogue.BuiltIn).NewRecorder(), new CutStorage(null));
        var next = few[0].Cut.StartedAt;
        var rows = new List<FinishedCycle>();
        for (var i = 0; i < Cuts; i++)
        {
            var evidence = few[i % Distinct];
            evidence = VirtualCuts.Shifted(evidence, next - evidence.Cut.StartedAt);
            next = evidence.Cut.EndedAt.AddSeconds(30);
            rows.AddRange(storage.Rows(recorder.Take(evidence), recorder));
            if (rows.Count < 256 && i < Cuts - 1)
                continue;
            await writer.AppendAsync([.. rows], CancellationToken.None);
            rows.Clear();
        }

        writer.Complete();
        await run;
    }
}
