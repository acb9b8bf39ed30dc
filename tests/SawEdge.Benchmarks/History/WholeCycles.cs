using System.Globalization;
using SawEdge.Benchmarks.Score;
using SawEdge.Core;
using SawEdge.Core.Load;
using SawEdge.Core.Signals;
using SawEdge.Gateway.History;

namespace SawEdge.Benchmarks.History;

/// <summary>Finished cycles with everything that a gateway stores with them, and downsampled signals, made of those of a virtual saw.</summary>
internal sealed class WholeCycles
{
    // What a saw has learned of eight jobs, see "score".
    private const int StateBytes = 39_000;

    private static readonly TimeSpan Distance = TimeSpan.FromSeconds(90);

    private readonly List<FinishedCut> _cuts;
    private readonly List<SignalSample> _samples = [];
    private readonly byte[] _state = new byte[StateBytes];

    public WholeCycles()
    {
        var cuts = new VirtualCuts(8);
        var recorder = new CutRecorder(cuts.Machine, new LoadSettings());
        _cuts = [.. cuts.Evidence(120).SelectMany(recorder.Take).Where(cut => cut.Record.CutTimeS is not null).TakeLast(60)];
        new Random(1).NextBytes(_state);

        var sampler = new SignalSampler(TimeSpan.FromSeconds(10));
        foreach (var frame in cuts.Frames(20))
        {
            sampler.Push(frame);
            while (sampler.TryTake(out var sample))
                _samples.Add(sample);
        }
    }

    /// <summary>A cycle, of which no two are the same.</summary>
    public FinishedCycle Make(string saw, int number)
    {
        var cut = _cuts[number % _cuts.Count];
        var by = _cuts[0].Record.StartedAt + (number * Distance) - cut.Record.StartedAt;
        return new FinishedCycle
        {
            Record = cut.Record with
            {
                CycleId = string.Create(CultureInfo.InvariantCulture, $"{saw}-{number}"),
                Saw = saw,
                StartedAt = cut.Record.StartedAt + by,
                CutStartedAt = cut.Record.CutStartedAt + by,
                CutEndedAt = cut.Record.CutEndedAt + by,
                EndedAt = cut.Record.EndedAt + by,
                PartCount = number,
            },
            Profile = cut.Evidence.Cut.Profile,
            Evidence = VirtualCuts.Shifted(cut.Evidence, by),
            Assessment = cut.Assessment,
            SawState = new SawState(1, _state),
        };
    }

    /// <summary>What the signals of a saw did in an interval.</summary>
    public SawSample Sample(string saw, int number)
    {
        var sample = _samples[number % _samples.Count];
        return new SawSample(saw, new SignalSample(_samples[0].From + (number * sample.Every), sample.Every, sample.Frames, sample.Figures.ToArray()));
    }
}
