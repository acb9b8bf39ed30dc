namespace SawEdge.Fuzz.Targets;

/// <summary>All targets.</summary>
internal static class FuzzTargets
{
    public static IReadOnlyList<IFuzzTarget> All() =>
        [new MbapTarget(), new RtuTarget(), new JsonTarget(), new PayloadTimeTarget(), new SparkplugTarget(), new SparkplugSessionTarget(), new CsvTarget(), new MappedCsvTarget()];
}
