namespace SawEdge.Evaluation.Datasets;

/// <summary>Real machining recordings with measured wear.</summary>
internal static class RealRecordings
{
    public static int Run(string? folder, TextWriter output)
    {
        output.WriteLine(folder);
        return 0;
    }
}
