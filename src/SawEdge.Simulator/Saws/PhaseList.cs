namespace SawEdge.Simulator.Saws;

/// <summary>Lays phases end to end: each begins where the last one left head, blade and bits.</summary>
internal sealed class PhaseList(MachineProfile machine, double headMm, BladeDrive blade)
{
    /// <summary>Time in which a blade that is switched off runs out, s.</summary>
    public const double RunOutS = 1.2;

    private readonly List<Phase> _phases = [];
    private double _bladeSince;

    public double NowS { get; private set; }

    public double HeadMm { get; private set; } = headMm;

    public BladeDrive Blade { get; private set; } = blade;

    public bool CycleActive { get; set; }

    public bool Cutting { get; set; }

    public bool Manual { get; set; }

    public int FaultCode { get; set; }

    public Phase[] ToArray() => [.. _phases];

    /// <summary>Lets time pass.</summary>
    public void Stay(double seconds) => Add(seconds, HeadMm, double.NaN);

    /// <summary>Moves the head on a straight line.</summary>
    /// <returns>When it passes a height on the way, s since the start of the turn; NaN where it does not.</returns>
    public double MoveTo(double headMm, double rateMmMin, double passingMm = double.NaN)
    {
        var (from, start) = (HeadMm, NowS);
        var seconds = Math.Abs(headMm - from) / rateMmMin * 60;
        Add(seconds, headMm, double.NaN);
        var share = (passingMm - from) / (headMm - from);
        return share is >= 0 and <= 1 ? start + (seconds * share) : double.NaN;
    }

    /// <summary>Feeds through the stock from one time on the cut's path to another.</summary>
    public void Follow(CutPath path, double heightMm, double fromS, double toS)
    {
        var cursor = 0;
        Add(toS - fromS, heightMm - path.DepthAt(toS, ref cursor), fromS);
    }

    /// <summary>Switches the blade on, waits until it is at speed.</summary>
    public void StartBlade()
    {
        SetBlade(BladeDrive.Starting);
        Stay(machine.BladeStartS);
        SetBlade(BladeDrive.Running);
    }

    /// <summary>Switches the blade off; it runs out in the phases that follow.</summary>
    public void StopBlade()
    {
        if (Blade != BladeDrive.Stopped)
            SetBlade(BladeDrive.Stopping);
    }

    public void SetBlade(BladeDrive drive)
    {
        Blade = drive;
        _bladeSince = NowS;
    }

    private void Add(double seconds, double headMm, double pathFromS)
    {
        if (seconds <= 0)
        {
            HeadMm = headMm;
            return;
        }

        var runOut = _bladeSince + RunOutS - NowS;
        if (Blade == BladeDrive.Stopping && runOut < seconds)
        {
            // Comes to rest on the way: the phase is cut in two. The blade is never switched off on the cut's path
            // while the head goes on, so a straight line will do.
            var rest = HeadMm + ((headMm - HeadMm) * (Math.Max(runOut, 0) / seconds));
            if (runOut > 0)
                Append(runOut, rest, pathFromS);
            SetBlade(BladeDrive.Stopped);
            seconds -= Math.Max(runOut, 0);
        }

        Append(seconds, headMm, pathFromS);
    }

    private void Append(double seconds, double headMm, double pathFromS)
    {
        _phases.Add(new Phase
        {
            FromS = NowS,
            ToS = NowS + seconds,
            HeadFromMm = HeadMm,
            HeadToMm = headMm,
            PathFromS = pathFromS,
            Blade = Blade,
            BladeSinceS = _bladeSince,
            CycleActive = CycleActive,
            Cutting = Cutting,
            Manual = Manual,
            FaultCode = FaultCode,
        });
        NowS += seconds;
        HeadMm = headMm;
    }
}
