using SawEdge.Core.Cycles;
using SawEdge.Core.Signals;

namespace SawEdge.Core.Tests.Cycles;

/// <summary>
/// A saw's movements written down phase by phase on a continuous time axis, sampled into frames at will: the exact
/// times of contact and breakthrough are known, whatever the sampling.
/// </summary>
internal sealed class SawScript
{
    private readonly List<Phase> _phases = [];
    private double _time;
    private double _head;
    private double _load;
    private bool _cycle;
    private bool _cutting;
    private bool _blade = true;
    private long _fault;
    private long _count;
    private string _job = "J-1";

    public SawScript(double head = 300, double idle = 2)
    {
        _head = head;
        Idle = _load = idle;
    }

    public static DateTimeOffset Epoch { get; } = new(2026, 3, 2, 6, 0, 0, TimeSpan.Zero);

    public double Idle { get; private set; }

    public double Now => _time;

    public static DateTimeOffset At(double seconds) => Epoch.AddTicks((long)Math.Round(seconds * TimeSpan.TicksPerSecond));

    public SawScript Cycle(bool on)
    {
        _cycle = on;
        return this;
    }

    public SawScript Cutting(bool on)
    {
        _cutting = on;
        return this;
    }

    public SawScript Blade(bool on)
    {
        _blade = on;
        _load = on ? Idle : 0;
        return this;
    }

    /// <summary>Another blade speed: the blade in air takes another load from here on.</summary>
    public SawScript IdleAt(double kw)
    {
        Idle = _load = kw;
        return this;
    }

    public SawScript Fault(long code)
    {
        _fault = code;
        return this;
    }

    public SawScript Count(long value)
    {
        _count = value;
        return this;
    }

    public SawScript CountUp() => Count(_count + 1);

    public SawScript Job(string job)
    {
        _job = job;
        return this;
    }

    /// <summary>Nothing moves for a while.</summary>
    public SawScript Wait(double seconds, double? load = null) => Add(seconds, _head, Steady(load ?? _load));

    /// <summary>The head moves to a height at a rate, in air.</summary>
    public SawScript Move(double toHead, double mmPerMinute, double? load = null) =>
        Add(Math.Abs(toHead - _head) / mmPerMinute * 60, toHead, Steady(load ?? _load));

    /// <summary>The head feeds to a height; load above idle by depth share 0..1.</summary>
    public SawScript Feed(double toHead, double mmPerMinute, Func<double, double> netLoad)
    {
        var length = (_head - toHead) / mmPerMinute * 60;
        var idle = Idle;
        return Add(length, toHead, share => idle + netLoad(share));
    }

    /// <summary>A whole automatic cycle on flat stock; returns the times of contact and breakthrough.</summary>
    public SawScript FullCut(out double contact, out double breakthrough, double stock = 100, double feed = 60, double net = 4, double rest = 300, bool counts = true, double overtravel = 4)
    {
        Cycle(true).Wait(3);
        Wait(1, load: 15).Wait(2);
        Move(stock + 5, 3000).Cutting(true).Move(stock, feed);
        contact = _time;
        Feed(0, feed, _ => net);
        breakthrough = _time;
        Move(-overtravel, feed).Cutting(false);
        if (counts)
            CountUp();
        return Move(rest, 6000).Wait(2).Cycle(false).Wait(8);
    }

    /// <summary>The frames at a sampling interval.</summary>
    /// <param name="interval">Seconds between frames.</param>
    /// <param name="signals">Which signals exist.</param>
    /// <param name="offset">Time of the first frame, s.</param>
    /// <param name="noise">Standard deviation of the load's noise, kW.</param>
    /// <param name="keep">Which frames arrive, by number.</param>
    public IEnumerable<SignalFrame> Frames(double interval, Signal[] signals, double offset = 0, double noise = 0, Func<int, bool>? keep = null)
    {
        var random = new Random(7);
        for (var n = 0; ; n++)
        {
            var t = offset + (n * interval);
            if (t >= _time)
                yield break;
            var jitter = (random.NextDouble() + random.NextDouble() + random.NextDouble() + random.NextDouble() - 2) * Math.Sqrt(3) * noise;
            if (keep is null || keep(n))
                yield return FrameAt(t, signals, jitter);
        }
    }

    public static IReadOnlyList<Cut> Detect(IEnumerable<SignalFrame> frames, CycleDetector? detector = null, bool complete = true)
    {
        detector ??= new CycleDetector();
        var cuts = new List<Cut>();
        foreach (var frame in frames)
        {
            detector.Push(frame);
            while (detector.TryTake(out var cut))
                cuts.Add(cut);
        }

        if (complete)
            detector.Complete();
        while (detector.TryTake(out var cut))
            cuts.Add(cut);
        return cuts;
    }

    public SignalFrame FrameAt(double t, Signal[] signals, double jitter = 0)
    {
        var phase = _phases[^1];
        foreach (var candidate in _phases)
        {
            if (t < candidate.To)
            {
                phase = candidate;
                break;
            }
        }

        var share = phase.To > phase.From ? Math.Clamp((t - phase.From) / (phase.To - phase.From), 0, 1) : 1;
        var frame = new SignalFrame(At(t));
        foreach (var signal in signals)
        {
            switch (signal)
            {
                case Signal.HeadPosition:
                    frame.Set(signal, phase.HeadFrom + (share * (phase.HeadTo - phase.HeadFrom)));
                    break;
                case Signal.MotorLoad:
                    frame.Set(signal, phase.Load(share) + jitter);
                    break;
                case Signal.CycleActive:
                    frame.Set(signal, phase.Cycle);
                    break;
                case Signal.Cutting:
                    frame.Set(signal, phase.Cutting);
                    break;
                case Signal.BladeRunning:
                    frame.Set(signal, phase.Blade);
                    break;
                case Signal.FaultCode:
                    frame.Set(signal, (double)phase.Fault);
                    break;
                case Signal.PartCount:
                    frame.Set(signal, (double)phase.Count);
                    break;
                case Signal.Job:
                    frame.Set(signal, phase.Job);
                    break;
                default:
                    break;
            }
        }

        return frame;
    }

    // The load as it is now, whatever comes later in the script.
    private static Func<double, double> Steady(double kw) => _ => kw;

    private SawScript Add(double seconds, double head, Func<double, double> load)
    {
        _phases.Add(new Phase(_time, _time + seconds, _head, head, load, _cycle, _cutting, _blade, _fault, _count, _job));
        _time += seconds;
        _head = head;
        return this;
    }

    private sealed record Phase(double From, double To, double HeadFrom, double HeadTo, Func<double, double> Load, bool Cycle, bool Cutting, bool Blade, long Fault, long Count, string Job);
}
