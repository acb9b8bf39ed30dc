using System.Diagnostics;
using System.Globalization;
using Microsoft.Extensions.Logging.Abstractions;
using SawEdge.Core;
using SawEdge.Core.Blades;
using SawEdge.Core.Load;
using SawEdge.Core.Materials;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Processing;
using SawEdge.TestSupport;

namespace SawEdge.Benchmarks.Score;

/// <summary>Records of a saw computed anew from a history on the disk: where nothing changes, and after an entry about a blade.</summary>
internal static class RebuildSpeed
{
    private const int Cuts = 5000;
    private const int Distinct = 1250;

    public static async Task RunAsync(TextWriter output)
    {
        var saw = new VirtualCuts(jobs: 8);
        var setup = new SawSetup(saw.Machine, null, new LoadSettings(), MaterialCatalogue.BuiltIn);
        using var folder = new TempFolder();
        using var database = HistoryDatabase.Open(folder.Path);
        var writer = new HistoryWriter(database, TimeProvider.System, NullLogger<HistoryWriter>.Instance);
        var run = writer.RunAsync(CancellationToken.None);
        var reader = new HistoryReader(database);
        var middle = await StoreAsync(writer, setup, saw.Evidence(Distinct + 10));
        await output.WriteLineAsync(string.Create(CultureInfo.InvariantCulture, $"{Cuts:N0} cycles of one saw in a history of {new FileInfo(database.FilePath).Length / 1048576.0:0.0} MB"));

        for (var round = 0; round < 3; round++)
            await MeasureAsync(output, "nothing changes", reader, writer, setup, null);
        BladeEntryRows.Write(database.Folder, [], [new BladeEntry(0, saw.Machine.Name, middle, BladeEntryKind.Change, "B-2")], middle);
        await MeasureAsync(output, "a blade entered in the middle", reader, writer, setup, middle);
        await MeasureAsync(output, "nothing changes after it", reader, writer, setup, null);
        writer.Complete();
        await run;
    }

    private static async Task MeasureAsync(TextWriter output, string what, HistoryReader reader, HistoryWriter writer, SawSetup setup, DateTimeOffset? from)
    {
        var started = Stopwatch.GetTimestamp();
        var outcome = await new Rebuild(reader, writer, setup).RunAsync(from, CancellationToken.None);
        var seconds = Stopwatch.GetElapsedTime(started).TotalSeconds;
        await output.WriteLineAsync(string.Create(CultureInfo.InvariantCulture, $"{what}: {outcome.Cycles:N0} cycles computed, {outcome.Changed:N0} changed, {seconds:0.00} s, {outcome.Cycles / seconds:N0} cycles/s"));
    }

    // Gives a moment between the two cuts in the middle.
    private static async Task<DateTimeOffset> StoreAsync(HistoryWriter writer, SawSetup setup, List<CutEvidence> few)
    {
        var (recorder, storage, middle) = (setup.NewRecorder(), new CutStorage(null), DateTimeOffset.MinValue);
        var next = few[0].Cut.StartedAt;
        for (var i = 0; i < Cuts; i++)
        {
            var evidence = few[i % Distinct];
            evidence = VirtualCuts.Shifted(evidence, next - evidence.Cut.StartedAt);
            next = evidence.Cut.EndedAt.AddSeconds(30);
            if (i == Cuts / 2)
                middle = evidence.Cut.StartedAt.AddSeconds(-1);
            await writer.AppendAsync(storage.Rows(recorder.Take(evidence), recorder), CancellationToken.None);
        }

        return middle;
    }
}
