using SawEdge.Core;
using SawEdge.Core.Blades;
using SawEdge.Core.Load;
using SawEdge.Core.Oee;
using SawEdge.Core.Signals;

namespace SawEdge.Gateway.Processing;

/// <summary>
/// What a saw does now, for whoever wants to look. The saw's loop puts each frame in without waiting or allocating; anybody may read at any
/// time and gets one whole moment.
/// </summary>
/// <param name="machine">The machine clock.</param>
internal sealed class SawLive(TimeProvider machine)
{
    /// <summary>How long a value holds that is not read in every frame: as in the detector.</summary>
    private static readonly TimeSpan ValueHolds = TimeSpan.FromSeconds(5);

    private readonly Lock _gate = new();
    private SawMoment _now = SawMoment.Nothing;
    private Held _head = Held.Nothing;
    private Held _load = Held.Nothing;
    private Held _speed = Held.Nothing;
    private IReadOnlyList<BladeAccount> _blades = [];
    private LoadOutlook? _outlook;
    private (long Cycle, string Job) _outlookOf;

    /// <summary>What the saw does; <see cref="SawMoment.Nothing"/> before the first frame.</summary>
    public SawMoment Read()
    {
        lock (_gate)
            return _now;
    }

    /// <summary>The blades, the latest last, as of the last finished cut.</summary>
    public IReadOnlyList<BladeAccount> Blades
    {
        get => Volatile.Read(ref _blades);
        set => Volatile.Write(ref _blades, value);
    }

    /// <summary>Takes a frame; from the saw's loop, after pipeline and states took it.</summary>
    /// <param name="frame">The frame.</param>
    /// <param name="pipeline">The saw's pipeline.</param>
    /// <param name="states">What the saw does.</param>
    public void Push(in SignalFrame frame, SawPipeline pipeline, StateWatch states)
    {
        if (!pipeline.TookLast)
            return;
        _head.Read(frame, Signal.HeadPosition);
        _load.Read(frame, Signal.MotorLoad);
        _speed.Read(frame, Signal.BladeSpeed);
        var cut = pipeline.Cut;
        var idle = double.IsNaN(cut.IdleKw) ? pipeline.IdleKw : cut.IdleKw;
        var expected = cut.IsDown ? OutlookFor(pipeline, cut)?.At(cut.DepthMm, cut.DescentMmMin) ?? ExpectedLoad.Unknown : ExpectedLoad.Unknown;
        var job = pipeline.Job;
        var receivedAt = machine.GetUtcNow();
        lock (_gate)
        {
            _now = new SawMoment
            {
                Frames = _now.Frames + 1,
                At = frame.Time,
                ReceivedAt = receivedAt,
                Holds = states.Holds,
                State = states.State,
                StateSince = states.Since,
                Fault = states.Fault,
                Job = pipeline.JobId,
                Material = job?.Material.Name ?? "",
                Section = job?.Section.Notation ?? "",
                Blade = frame.Text(Signal.BladeId) ?? _now.Blade,
                HeadMm = _head.Value,
                LoadKw = _load.Value,
                IdleKw = idle,
                BladeSpeedMMin = _speed.Value,
                ExpectedKw = idle + expected.ExpectedKw,
                LowKw = idle + expected.LowKw,
                HighKw = idle + expected.HighKw,
                CutShare = cut.Share,
                CutStartedAt = cut.StartedAt,
                PartCount = frame.Has(Signal.PartCount) ? (long)frame.Number(Signal.PartCount) : _now.PartCount,
            };
        }
    }

    // Made once a cut, when the blade is in the stock: by then the speed of the blade is known.
    private LoadOutlook? OutlookFor(SawPipeline pipeline, in LiveCut cut)
    {
        if (!(cut.DepthMm >= 0) || pipeline.Job is not { } job)
            return null;
        if (_outlookOf != (pipeline.OpenCycle, job.JobId))
        {
            _outlookOf = (pipeline.OpenCycle, job.JobId);
            _outlook = pipeline.Recorder.Outlook(job, _speed.Value);
        }

        return _outlook;
    }

    /// <summary>A value that is not read in every frame.</summary>
    private struct Held
    {
        private DateTimeOffset _at;

        public static Held Nothing => new() { Value = double.NaN };

        public double Value { get; private set; }

        public void Read(in SignalFrame frame, Signal signal)
        {
            if (frame.Has(signal))
                (Value, _at) = (frame.Number(signal), frame.Time);
            else if ((frame.Time - _at).Duration() > ValueHolds)
                Value = double.NaN;
        }
    }
}
