namespace SawEdge.Gateway.Export;

/// <summary>All tables that can be exported.</summary>
public static class ExportTables
{
    /// <summary>All of them, in the order in which they are told.</summary>
    public static IReadOnlyList<ExportTable> All => throw new NotImplementedException();

    /// <summary>A table by name; null where there is none.</summary>
    public static ExportTable? Find(string name) => All.FirstOrDefault(table => table.Name == name);
}
