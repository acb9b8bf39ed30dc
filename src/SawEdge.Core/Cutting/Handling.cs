namespace SawEdge.Core.Cutting;

/// <summary>What a cycle takes besides the cut: index strokes, clamping, approach and return, one after the other.</summary>
public static class Handling
{
    /// <summary>Shuttle strokes for a part length: the next whole number of length / stroke.</summary>
    /// <param name="partLengthMm">Part length, mm.</param>
    /// <param name="strokeMm">Greatest length of one stroke, mm.</param>
    public static int Strokes(double partLengthMm, double strokeMm) => (int)Math.Ceiling((partLengthMm / strokeMm) - 1e-9);

    /// <summary>Handling time, s; null where a part of it is not known.</summary>
    /// <param name="job">The job.</param>
    /// <param name="machine">The saw.</param>
    /// <param name="missing">What is not known, in the words of the settings.</param>
    public static double? Seconds(CutJob job, SawMachine machine, out IReadOnlyList<string> missing) => Times(job, machine, out missing)?.TotalS;

    /// <summary>The parts of the handling time; null where one of them is not known.</summary>
    /// <param name="job">The job.</param>
    /// <param name="machine">The saw.</param>
    /// <param name="missing">What is not known, in the words of the settings.</param>
    public static HandlingTimes? Times(CutJob job, SawMachine machine, out IReadOnlyList<string> missing)
    {
        var unknown = new List<string>();
        var length = Known(job.PartLengthMm, "part_length of the job");
        var stroke = Known(machine.ShuttleStrokeMm, "shuttle stroke");
        var strokeTime = Known(machine.IndexStrokeS, "time of an index stroke");
        var clamp = Known(machine.ClampS, "clamp time");
        var unclamp = Known(machine.UnclampS, "unclamp time");
        var rest = Known(machine.RestHeightMm, "rest height of the head");
        var approach = Known(machine.ApproachMmMin, "approach rate");
        var back = Known(machine.ReturnMmMin, "return rate");
        missing = unknown;
        if (unknown.Count > 0)
            return null;
        var strokes = Strokes(length, stroke);
        return new HandlingTimes(strokes, strokes * strokeTime, clamp, unclamp, Math.Max(0, rest - job.Section.HeightMm) / approach * 60, rest / back * 60);

        double Known(double? value, string name)
        {
            if (value is null)
                unknown.Add(name);
            return value ?? double.NaN;
        }
    }
}

/// <summary>The parts of the handling time of one cut.</summary>
/// <param name="Strokes">Strokes of the shuttle.</param>
/// <param name="IndexS">Time of all strokes, s.</param>
/// <param name="ClampS">Time to clamp, s.</param>
/// <param name="UnclampS">Time to unclamp, s.</param>
/// <param name="ApproachS">Time of the head from rest down to the stock, s.</param>
/// <param name="ReturnS">Time of the head back up, s.</param>
public readonly record struct HandlingTimes(int Strokes, double IndexS, double ClampS, double UnclampS, double ApproachS, double ReturnS)
{
    /// <summary>All of them, s.</summary>
    public double TotalS => IndexS + ClampS + UnclampS + ApproachS + ReturnS;
}
