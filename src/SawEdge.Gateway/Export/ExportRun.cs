using SawEdge.Gateway.Formats.Tables;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Export;

/// <summary>Where an export stands.</summary>
/// <param name="Rows">Rows written.</param>
/// <param name="All">Rows that there will be, about; null where that is not known.</param>
public readonly record struct ExportPosition(long Rows, long? All);

/// <summary>Moves rows from a source to a writer: while one batch is written, the next is read. Memory stays flat.</summary>
public static class ExportRun
{
    /// <summary>Moves all rows and finishes the table.</summary>
    /// <param name="source">Where from.</param>
    /// <param name="writer">Where to; finished, not disposed.</param>
    /// <param name="told">Told where the export stands, after each batch; null: nobody.</param>
    /// <param name="cancellation">Breaks off.</param>
    /// <returns>How many rows were written.</returns>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    /// <exception cref="IOException">It cannot be written.</exception>
    public static Task<long> CopyAsync(IRowSource source, IRowWriter writer, Action<ExportPosition>? told, CancellationToken cancellation) => throw new NotImplementedException();

    /// <summary>
    /// Writes all rows to a file: under another name in the same folder first, and renamed once it is whole and on the disk, so that nobody
    /// reads half. Whatever goes wrong, the file that was there before stays and no half file is left.
    /// </summary>
    /// <returns>How many rows were written.</returns>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    /// <exception cref="IOException">It cannot be written; the message names the file and what to do.</exception>
    public static Task<long> ToFileAsync(IRowSource source, TableStyle style, string path, Action<ExportPosition>? told, CancellationToken cancellation) => throw new NotImplementedException();
}
