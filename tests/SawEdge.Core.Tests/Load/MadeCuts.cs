using System.Collections.Concurrent;
using MathNet.Numerics.Distributions;
using SawEdge.Core.Cutting;
using SawEdge.Core.Cycles;
using SawEdge.Core.Load;
using SawEdge.Core.Materials;
using SawEdge.Core.Tests.Cycles;

namespace SawEdge.Core.Tests.Load;

/// <summary>Finished cuts made by hand, of which level, shape, pace and idle load are known. One after the other, always the same.</summary>
internal sealed class MadeCuts(int seed = 1)
{
    public const int Bins = DepthProfile.DefaultBins;
    public const double SigmaCut = 0.015;
    public const double SigmaBar = 0.02;
    private const double CutsPerBar = 10;

    private static readonly ConcurrentDictionary<double, Lazy<(RecorderMemory Memory, DateTimeOffset Now)>> Settled = [];

    private readonly Random _random = new(seed);
    private double _bar;
    private int _cuts;

    /// <summary>J-1: a 120 x 100 mm block; J-2: a block of another height; J-3: another material.</summary>
    public static JobBook Jobs { get; } = JobBook.Parse(
        "job,material,section,part_length,blade\nJ-1,S355,rect 120 x 100 mm,250 mm,bimetal 3/4 tpi\nJ-2,S355,rect 120 x 60 mm,250 mm,bimetal 3/4 tpi\nJ-3,42CrMo4,rect 120 x 100 mm,250 mm,bimetal 3/4 tpi\n",
        MaterialCatalogue.BuiltIn).Book;

    public static SawMachine Machine { get; } = new() { Name = "Saw 1" };

    /// <summary>A moment after all others.</summary>
    public static DateTimeOffset Late { get; } = SawScript.Epoch.AddDays(30);

    public DateTimeOffset Now { get; set; } = SawScript.Epoch;

    /// <summary>ln of the level all cuts have from now on.</summary>
    public double Level { get; set; }

    public double IdleKw { get; set; } = 1.5;

    public string BladeId { get; set; } = "";

    public string Job { get; set; } = "J-1";

    /// <summary>Lets a recorder go on as if 250 cuts of the present level had been made before; it is computed once for all tests.</summary>
    public void Settle(CutRecorder recorder)
    {
        var (memory, now) = Settled.GetOrAdd(Level, level => new(() =>
        {
            var (before, cuts) = (Recorder(), new MadeCuts(1000) { Level = level });
            foreach (var cut in cuts.Several(250))
                before.Take(Evidence(cut));
            return (before.Save(), cuts.Now);
        })).Value;
        recorder.Restore(memory);
        Now = now;
    }

    /// <summary>Nothing is cut for a while.</summary>
    public MadeCuts Pause(double minutes)
    {
        Now += TimeSpan.FromMinutes(minutes);
        return this;
    }

    /// <summary>The next cut.</summary>
    /// <param name="extra">ln by which this cut alone is off.</param>
    /// <param name="pattern">ln by which a bin is off.</param>
    /// <param name="slower">ln by which the cut takes longer.</param>
    public Cut Next(double extra = 0, Func<int, double>? pattern = null, double slower = 0)
    {
        if (_cuts++ % CutsPerBar == 0)
            _bar = Normal.Sample(_random, 0, SigmaBar);
        var seconds = 100 * Math.Exp(slower + Normal.Sample(_random, 0, 0.01));
        var idle = IdleKw * (1 + Normal.Sample(_random, 0, 0.01));
        var level = Level + extra + _bar + Normal.Sample(_random, 0, SigmaCut);
        var (loads, net) = (new float[Bins], 0.0);
        for (var j = 0; j < Bins; j++)
        {
            var kw = 3 * (100 / seconds) * Math.Exp(level + (pattern?.Invoke(j) ?? 0) + Normal.Sample(_random, 0, 0.03));
            loads[j] = (float)(idle + kw);
            net += kw / Bins;
        }

        // The loop's ratio of a sound blade: F with 10 and 30 degrees of freedom.
        var ratio = ChiSquared.Sample(_random, 10) / 10 / (ChiSquared.Sample(_random, 30) / 30);
        var started = Now;
        var contact = started.AddSeconds(5);
        var cutEnded = contact.AddSeconds(seconds);
        Now = cutEnded.AddSeconds(30);
        return new Cut
        {
            StartedAt = started,
            CutStartedAt = contact,
            CutEndedAt = cutEnded,
            EndedAt = cutEnded.AddSeconds(4),
            Outcome = CutOutcome.Completed,
            Job = Job,
            BarId = string.Create(System.Globalization.CultureInfo.InvariantCulture, $"bar {seed}-{(int)((_cuts - 1) / CutsPerBar)}"),
            BladeId = BladeId,
            DepthMm = 100,
            MeanLoadKw = idle + net,
            PeakLoadKw = loads.Max(),
            IdleLoadKw = idle,
            EnergyKj = net * seconds,
            MeanBladeSpeedMMin = 60,
            Frames = (int)(seconds * 10),
            Coverage = 1,
            Basis = "head+load+bits",
            Loop = new BladeLoopMeasure(20, 5, 15, ratio, 0.004 * ratio),
            Profile = new DepthProfile(ProfileBasis.Depth, 100, [.. Enumerable.Repeat((float)(seconds / Bins), Bins)], loads, [.. Enumerable.Repeat(60f, Bins)]),
        };
    }

    public IEnumerable<Cut> Several(int count)
    {
        for (var i = 0; i < count; i++)
            yield return Next();
    }

    public static CutEvidence Evidence(Cut cut, params IReadOnlyList<LiveFinding> findings) => new(cut, cut.Job.Length > 0 ? Jobs.Find(cut.Job) : null, findings);

    public static CutRecorder Recorder(LoadSettings? settings = null, string? blade = null) => new(Machine, settings ?? new LoadSettings(), blade);
}
