using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Export;

/// <summary>What was asked for cannot be exported; the message says what would be right.</summary>
public sealed class ExportException(string message) : Exception(message);

/// <summary>Opens what was asked for.</summary>
public static class ExportSources
{
    /// <summary>The rows of a question, in its columns and units.</summary>
    /// <exception cref="ExportException">It names a column that the table does not have, or filters that mean nothing to it; the message offers the nearest.</exception>
    public static IRowSource Open(HistoryReader reader, ExportQuestion question) => throw new NotImplementedException();
}
