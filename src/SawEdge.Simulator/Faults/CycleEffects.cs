using SawEdge.Simulator.Saws;

namespace SawEdge.Simulator.Faults;

/// <summary>A fault that holds in a cycle.</summary>
/// <param name="Fault">The fault.</param>
/// <param name="Age">Cycles it held before this one.</param>
internal readonly record struct ActiveFault(Fault Fault, long Age);

/// <summary>What all faults together do to one cycle.</summary>
internal sealed class CycleEffects
{
    private CycleEffects(VirtualMaterial material, string controllerJob) => (Material, ControllerJob) = (material, controllerJob);

    public VirtualMaterial Material { get; private set; }

    public string ControllerJob { get; private set; }

    /// <summary>Factor on cutting force.</summary>
    public double Force { get; private set; } = 1;

    /// <summary>Factor on the cutting rate.</summary>
    public double Rate { get; private set; } = 1;

    public double ExtraIdleKw { get; private set; }

    public StrippedTeeth? Teeth { get; private set; }

    public HardSpot? HardSpot { get; private set; }

    public LooseStock? LooseStock { get; private set; }

    public bool WithoutStock { get; private set; }

    /// <summary>The restart in the wait before the cycle, or null.</summary>
    public ControllerRestart? RestartBefore { get; private set; }

    /// <summary>What ends the cut before breakthrough, the shallowest of them, or null.</summary>
    public Fault? Ending { get; private set; }

    /// <summary>Depth of it, as a share of the height; 1 where nothing ends the cut.</summary>
    public double EndingShare { get; private set; } = 1;

    /// <summary>Holds in order of depth.</summary>
    public List<FeedHold> Holds { get; } = [];

    public List<StuckSignal> NewlyStuck { get; } = [];

    public List<string> Names { get; } = [];

    public static CycleEffects Of(IEnumerable<ActiveFault> active, VirtualJob job)
    {
        var effects = new CycleEffects(job.Material, job.Id);
        foreach (var (fault, age) in active)
        {
            effects.Apply(fault, age);
            effects.Names.Add(fault.Name);
        }

        effects.Holds.RemoveAll(hold => hold.DepthShare >= effects.EndingShare);
        effects.Holds.Sort((a, b) => a.DepthShare.CompareTo(b.DepthShare));
        return effects;
    }

    private void Apply(Fault fault, long age)
    {
        switch (fault)
        {
            case DullBlade dull:
                Force *= 1 + (dull.Rise * Math.Min(1, (age + 1.0) / Math.Max(1, dull.OverCycles)));
                break;
            case StarvedFeed starved:
                Rate *= 1 - starved.Loss;
                break;
            case GuideDrag drag:
                ExtraIdleKw += drag.ExtraKw;
                break;
            case WrongMaterial wrong:
                Material = wrong.Material;
                break;
            case WrongGrade grade:
                Material = Material with { Kc11 = Material.Kc11 * grade.ForceFactor };
                break;
            case LooseStock loose:
                LooseStock = loose;
                break;
            case StrippedTeeth teeth:
                Teeth = teeth;
                break;
            case HardSpot spot:
                HardSpot = spot;
                break;
            case NoStock:
                WithoutStock = true;
                break;
            case FeedHold hold:
                Holds.Add(hold);
                break;
            case StuckSignal stuck:
                if (age == 0)
                    NewlyStuck.Add(stuck);
                break;
            case WrongJob wrong:
                ControllerJob = wrong.Job;
                break;
            case ControllerRestart { DepthShare: null } restart:
                RestartBefore = restart;
                break;
            case ControllerRestart restart:
                EndAt(restart, restart.DepthShare!.Value);
                break;
            case BladeBreak end:
                EndAt(end, end.DepthShare);
                break;
            case Stall end:
                EndAt(end, end.DepthShare);
                break;
            case EmergencyStop end:
                EndAt(end, end.DepthShare);
                break;
            case PartialCut end:
                EndAt(end, end.DepthShare);
                break;
            default:
                throw new NotSupportedException($"{fault.GetType().Name} is a fault that the saw cannot play.");
        }
    }

    private void EndAt(Fault fault, double share)
    {
        if (share >= EndingShare)
            return;
        Ending = fault;
        EndingShare = share;
    }
}
