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
    public static double? Seconds(CutJob job, SawMachine machine, out IReadOnlyList<string> missing)
    {
        var unknown = new List<string>();
        var length = Known(job.PartLengthMm, "part_length of the job");
        var stroke = Known(machine.ShuttleStrokeMm, "shuttle stroke");
        var strokeTime = Known(machine.IndexStrokeS, "time of an index stroke");
        var clamping = Known(machine.ClampS, "clamp time") + Known(machine.UnclampS, "unclamp time");
        var rest = Known(machine.RestHeightMm, "rest height of the head");
        var approach = Known(machine.ApproachMmMin, "approach rate");
        var back = Known(machine.ReturnMmMin, "return rate");
        missing = unknown;
        if (unknown.Count > 0)
            return null;
        var down = Math.Max(0, rest - job.Section.HeightMm) / approach * 60;
        return (Strokes(length, stroke) * strokeTime) + clamping + down + (rest / back * 60);

        double Known(double? value, string name)
        {
            if (value is null)
                unknown.Add(name);
            return value ?? double.NaN;
        }
    }
}
