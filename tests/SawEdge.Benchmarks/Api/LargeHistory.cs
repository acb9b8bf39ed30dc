using System.Globalization;
using Microsoft.Extensions.Logging.Abstractions;
using SawEdge.Benchmarks.Score;
using SawEdge.Core;
using SawEdge.Core.Load;
using SawEdge.Core.Oee;
using SawEdge.Gateway.History;

namespace SawEdge.Benchmarks.Api;

/// <summary>
/// A history as a plant has it after years: cuts of a virtual saw, over and over, on many saws, with the states between them. Each cycle has
/// its record and profile; each twentieth has its evidence and assessment as well, which keeps the file small and changes no look-up.
/// </summary>
internal static class LargeHistory
{
    /// <summary>Of so many cycles one has its evidence and assessment.</summary>
    public const int WholeEvery = 20;

    private const int Chunk = 500;

    /// <summary>Name of a saw.</summary>
    public static string Saw(int number) => string.Create(CultureInfo.InvariantCulture, $"Saw {number + 1}");

    /// <summary>Identity of a cycle.</summary>
    public static string CycleId(int saw, int number) => string.Create(CultureInfo.InvariantCulture, $"{Saw(saw)}-{number}");

    /// <summary>How long it is from the start of one cycle of a saw to that of the next: with stops, 4 minutes.</summary>
    public static TimeSpan Distance { get; } = TimeSpan.FromMinutes(4);

    /// <summary>Writes a history that ends at a moment.</summary>
    /// <param name="folder">Where.</param>
    /// <param name="saws">Number of saws.</param>
    /// <param name="cycles">Cycles of all saws together.</param>
    /// <param name="end">When the last cycle has ended.</param>
    /// <param name="cancellation">Breaks off.</param>
    public static async Task WriteAsync(string folder, int saws, int cycles, DateTimeOffset end, CancellationToken cancellation = default)
    {
        var templates = Templates();
        using var database = HistoryDatabase.Open(folder);
        var writer = new HistoryWriter(database, TimeProvider.System, NullLogger<HistoryWriter>.Instance);
        var run = writer.RunAsync(cancellation);
        var each = cycles / saws;
        var start = end - (each * Distance);

        // In the order in which a plant would have written it, some chunks on their way at once.
        var under = new List<Task>();
        var rows = new List<FinishedCycle>(Chunk);
        for (var number = 0; number < each; number++)
        {
            for (var saw = 0; saw < saws; saw++)
            {
                rows.Add(Row(templates[(number + saw) % templates.Count], saw, number, start));
                if (rows.Count < Chunk)
                    continue;
                under.Add(writer.AppendAsync(rows.ToArray(), cancellation));
                rows.Clear();
            }

            if (under.Count >= 8)
            {
                await Task.WhenAll(under);
                under.Clear();
            }
        }

        under.Add(writer.AppendAsync(rows.ToArray(), cancellation));
        await Task.WhenAll(under);
        for (var saw = 0; saw < saws; saw++)
            await writer.SaveStatesAsync(Saw(saw), States(templates, saw, each, start), cancellation);
        writer.Complete();
        await run;
    }

    // Cuts that the score has learned from others before.
    private static List<FinishedCut> Templates()
    {
        var cuts = new VirtualCuts(8);
        var recorder = new CutRecorder(cuts.Machine, new LoadSettings());
        return [.. cuts.Evidence(120).SelectMany(recorder.Take).Where(cut => cut.Record.CutTimeS is not null).TakeLast(60)];
    }

    private static FinishedCycle Row(FinishedCut cut, int saw, int number, DateTimeOffset start)
    {
        var at = start + (number * Distance) + TimeSpan.FromSeconds(saw);
        var by = at - cut.Record.StartedAt;
        var isWhole = number % WholeEvery == 0;
        return new FinishedCycle
        {
            Record = cut.Record with
            {
                CycleId = CycleId(saw, number),
                Saw = Saw(saw),
                StartedAt = at,
                CutStartedAt = cut.Record.CutStartedAt + by,
                CutEndedAt = cut.Record.CutEndedAt + by,
                EndedAt = cut.Record.EndedAt + by,
                Job = string.Create(CultureInfo.InvariantCulture, $"order {number / 50}-{saw}"),
                Blade = string.Create(CultureInfo.InvariantCulture, $"B-{saw}-{number / 900}"),
                PartCount = number,
            },
            Profile = cut.Evidence.Cut.Profile,
            Evidence = isWhole ? VirtualCuts.Shifted(cut.Evidence, by) : null,
            Assessment = isWhole ? cut.Assessment : null,
        };
    }

    private static StateSegment[] States(List<FinishedCut> templates, int saw, int each, DateTimeOffset start)
    {
        var states = new StateSegment[2 * each];
        for (var number = 0; number < each; number++)
        {
            var cut = templates[(number + saw) % templates.Count].Record;
            var at = start + (number * Distance) + TimeSpan.FromSeconds(saw);
            var end = at + (cut.EndedAt - cut.StartedAt);
            states[2 * number] = new StateSegment(at, end, TimelineState.Executing);
            states[(2 * number) + 1] = new StateSegment(end, at + Distance, TimelineState.NotExecuting);
        }

        return states;
    }
}
