using System.Globalization;
using SawEdge.Core;
using SawEdge.Core.Cutting;
using SawEdge.Core.Materials;
using SawEdge.Core.Sections;
using SawEdge.Core.Signals;
using SawEdge.Simulator.Demo;
using SawEdge.Simulator.Recordings;
using SawEdge.Simulator.Saws;

namespace SawEdge.Benchmarks.Score;

/// <summary>A virtual saw without faults, with as many jobs as wanted, and what it cuts.</summary>
internal sealed class VirtualCuts
{
    private readonly VirtualSawOptions _options;

    /// <summary>A saw of the demo's plant with jobs of its own, five pieces each, round and round.</summary>
    /// <param name="jobs">Number of jobs, each of a section of its own.</param>
    public VirtualCuts(int jobs)
    {
        var template = Plant.Create(new DateTimeOffset(2026, 3, 2, 6, 0, 0, TimeSpan.Zero), withFaults: false).Saws[0].Options;
        var job = template.Jobs[0];
        _options = template with
        {
            Jobs = [.. Enumerable.Range(0, jobs).Select(i => job with { Id = Id(i), Section = SectionNotation.Parse(Section(i)).Section!, Quantity = 5 })],
        };
        Machine = _options.Machine.ToSawMachine();
        Jobs = JobBook.Parse("job,material,section,part_length\n" + string.Concat(Enumerable.Range(0, jobs).Select(i => $"{Id(i)},{job.Material.Name},{Section(i)},180 mm\n")), MaterialCatalogue.BuiltIn).Book;
    }

    /// <summary>The saw.</summary>
    public SawMachine Machine { get; }

    /// <summary>Its jobs.</summary>
    public JobBook Jobs { get; }

    /// <summary>Frames at 10 Hz, everything mapped.</summary>
    public IEnumerable<SignalFrame> Frames(int cycles) =>
        RecordingGenerator.Frames(new VirtualSaw(_options), new RecordingOptions { Interval = TimeSpan.FromMilliseconds(100), Cycles = cycles });

    /// <summary>What the pipeline makes records of.</summary>
    public List<CutEvidence> Evidence(int cycles)
    {
        var pipeline = new SawPipeline(Machine, Jobs);
        var evidence = new List<CutEvidence>(cycles);
        foreach (var frame in Frames(cycles))
        {
            pipeline.Push(frame);
            while (pipeline.TryTake(out var cut))
            {
                // A cut that comes again, corrected, is the same cut.
                if (evidence.Count == 0 || cut.Evidence.Cut.StartedAt > evidence[^1].Cut.StartedAt)
                    evidence.Add(cut.Evidence);
            }
        }

        return evidence;
    }

    /// <summary>The same cut at another time.</summary>
    public static CutEvidence Shifted(CutEvidence evidence, TimeSpan by) => evidence with
    {
        Cut = evidence.Cut with { StartedAt = evidence.Cut.StartedAt + by, EndedAt = evidence.Cut.EndedAt + by, CutStartedAt = evidence.Cut.CutStartedAt + by, CutEndedAt = evidence.Cut.CutEndedAt + by },
    };

    private static string Id(int job) => string.Create(CultureInfo.InvariantCulture, $"J{job + 1}");

    private static string Section(int job) => string.Create(CultureInfo.InvariantCulture, $"round {40 + (2 * job)} mm");
}
