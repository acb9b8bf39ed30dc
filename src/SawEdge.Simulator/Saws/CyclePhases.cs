using SawEdge.Core.Cycles;
using SawEdge.Simulator.Faults;

namespace SawEdge.Simulator.Saws;

/// <summary>The phases of one automatic cycle, and when what happened, in seconds since the start of the turn.</summary>
internal sealed class CyclePhases(MachineProfile machine, PhaseList phases, CycleEffects effects, double heightMm, double bladeSpeedMMin)
{
    /// <summary>Fault codes that the virtual controllers show.</summary>
    public const int EmergencyStopCode = 10;

    /// <summary>The motor protection tripped.</summary>
    public const int MotorProtectionCode = 20;

    /// <summary>The blade broke.</summary>
    public const int BladeBreakCode = 30;

    /// <summary>The controller started anew and does not know where the head stands.</summary>
    public const int RestartCode = 40;

    // By hand the head is raised slower than in a cycle.
    private const double ManualShare = 0.4;

    public double ContactS { get; private set; } = double.NaN;

    public double BreakthroughS { get; private set; } = double.NaN;

    public double LeftS { get; private set; } = double.NaN;

    public double BladeLostS { get; private set; } = double.NaN;

    public double RaisedS { get; private set; } = double.NaN;

    /// <summary>End of the feed stroke: when the controller counts; NaN where it does not.</summary>
    public double CountS { get; private set; } = double.NaN;

    public double EndS { get; private set; }

    public double OfflineFromS { get; private set; } = double.NaN;

    public double OfflineToS { get; private set; } = double.NaN;

    public CutOutcome? Outcome { get; private set; }

    public double DepthMm { get; private set; }

    /// <summary>Time on the path for which chips were made, s.</summary>
    public double CutPathS { get; private set; }

    public List<(double FromS, double DurationS)> Holds { get; } = [];

    private double AirRateMmMin => Math.Min(machine.MaximumDescentMmMin, machine.MaximumFeedPerToothMm * 1000 * bladeSpeedMMin / machine.ToothPitchMm);

    /// <summary>Lays the whole cycle down.</summary>
    /// <param name="path">The cut, or null where there is no stock.</param>
    /// <param name="cutLengthMm">How far the bar is moved before.</param>
    /// <param name="trim">Whether it squares the bar's end.</param>
    /// <param name="handling">Factor on the handling times.</param>
    public void Lay(CutPath? path, double cutLengthMm, bool trim, double handling)
    {
        phases.CycleActive = true;
        phases.Stay(Math.Max(1, Math.Ceiling(cutLengthMm / machine.ShuttleStrokeMm)) * machine.IndexStrokeS * handling);
        phases.Stay(machine.ClampS * handling);
        if (phases.Blade != BladeDrive.Running)
            phases.StartBlade();
        phases.MoveTo(heightMm + machine.RapidGapMm, machine.ApproachMmMin);
        if (path is null)
        {
            Feed(-machine.OvertravelMm);
            FinishStroke(counts: true);
            return;
        }

        Feed(heightMm);
        ContactS = phases.NowS;
        phases.Cutting = true;
        Cut(path);
        if (effects.Ending is null)
        {
            BreakthroughS = phases.NowS;
            DepthMm = heightMm;
            Outcome = trim ? CutOutcome.Trim : CutOutcome.Completed;
            Feed(-machine.OvertravelMm);
            FinishStroke(counts: !trim);
        }
        else
        {
            End(effects.Ending, path);
        }
    }

    /// <summary>Feeds through air.</summary>
    private void Feed(double headMm)
    {
        phases.Cutting = machine.CuttingBit == CuttingBit.FeedStroke;
        phases.MoveTo(headMm, AirRateMmMin);
    }

    /// <summary>Feeds through the stock, with the holds, as far as the cut goes.</summary>
    private void Cut(CutPath path)
    {
        double at = 0;
        foreach (var hold in effects.Holds)
        {
            var until = path.TimeAt(hold.DepthShare * heightMm);
            phases.Follow(path, heightMm, at, until);
            at = until;
            var from = phases.NowS;
            if (hold.BladeStops)
            {
                phases.Cutting = false;
                phases.StopBlade();
                phases.Stay(Math.Max(0, hold.HoldS - machine.BladeStartS));
                phases.StartBlade();
                phases.Cutting = true;
            }
            else
            {
                phases.Stay(hold.HoldS);
            }

            Holds.Add((from, phases.NowS - from));
        }

        CutPathS = path.TimeAt(effects.EndingShare * heightMm);
        DepthMm = effects.EndingShare * heightMm;
        phases.Follow(path, heightMm, at, CutPathS);
    }

    private void FinishStroke(bool counts)
    {
        if (counts)
            CountS = phases.NowS;
        phases.Cutting = false;
        if (machine.BladeStopsBetweenCycles)
            phases.StopBlade();
        RaiseTo(machine.ReturnMmMin);
        phases.Stay(machine.UnclampS);
        phases.CycleActive = false;
        EndS = phases.NowS;
    }

    private void End(Fault ending, CutPath path)
    {
        switch (ending)
        {
            case PartialCut partial:
                LeftS = phases.NowS;
                Outcome = CutOutcome.Partial;
                FinishStroke(partial.Counts);
                return;
            case EmergencyStop stop:
                GiveUp(EmergencyStopCode);
                phases.Stay(stop.ClearedAfterS);
                break;
            case BladeBreak lost:
                BladeLostS = phases.NowS;
                phases.SetBlade(BladeDrive.Broken);
                var until = Math.Min(path.DurationS, CutPathS + lost.NoticedAfterS);
                phases.Follow(path, heightMm, CutPathS, until);
                GiveUp(BladeBreakCode);
                phases.Stay(30);
                break;
            case Stall stall:
                LeftS = phases.NowS;
                phases.SetBlade(BladeDrive.Stalled);
                phases.Stay(stall.TripAfterS);
                GiveUp(MotorProtectionCode);
                phases.Stay(30);
                break;
            case ControllerRestart restart:
                OfflineFromS = phases.NowS;
                OfflineToS = phases.NowS + restart.DownS;
                GiveUp(RestartCode);
                phases.Stay(restart.DownS + 15);
                break;
            default:
                throw new NotSupportedException($"{ending.GetType().Name} does not end a cut.");
        }

        phases.FaultCode = 0;
        phases.Manual = true;
        RaiseTo(machine.ReturnMmMin * ManualShare);
        phases.Stay(5);
        phases.Manual = false;
    }

    private void GiveUp(int code)
    {
        if (double.IsNaN(LeftS))
            LeftS = phases.NowS;
        Outcome = CutOutcome.Aborted;
        EndS = phases.NowS;
        phases.CycleActive = false;
        phases.Cutting = false;
        phases.FaultCode = code;
        if (phases.Blade == BladeDrive.Stalled)
            phases.SetBlade(BladeDrive.Stopped);
        else
            phases.StopBlade();
    }

    private void RaiseTo(double rateMmMin)
    {
        var passed = phases.MoveTo(machine.RestHeightMm, rateMmMin, heightMm);
        if (Outcome is CutOutcome.Aborted or CutOutcome.Partial)
            RaisedS = passed;
    }
}
