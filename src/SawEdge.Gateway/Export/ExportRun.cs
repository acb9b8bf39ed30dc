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
    public static async Task<long> CopyAsync(IRowSource source, IRowWriter writer, Action<ExportPosition>? told, CancellationToken cancellation)
    {
        var all = told is null ? null : await source.CountAsync(cancellation);
        var (ready, next) = (new RowBatch(source.Head.Columns.Count), new RowBatch(source.Head.Columns.Count));
        var rows = 0L;
        await source.FillAsync(ready, cancellation);
        while (ready.Count > 0)
        {
            next.Clear();
            await WriteAndFillAsync(source, writer, ready, next, cancellation);
            rows += ready.Count;
            told?.Invoke(new ExportPosition(rows, all));
            (ready, next) = (next, ready);
        }

        cancellation.ThrowIfCancellationRequested();
        await writer.FinishAsync(cancellation);
        return rows;
    }

    /// <summary>
    /// Writes all rows to a file: under another name in the same folder first, and renamed once it is whole and on the disk, so that nobody
    /// reads half. Whatever goes wrong, the file that was there before stays and no half file is left.
    /// </summary>
    /// <returns>How many rows were written.</returns>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    /// <exception cref="IOException">It cannot be written; the message names the file and what to do.</exception>
    public static Task<long> ToFileAsync(IRowSource source, TableStyle style, string path, Action<ExportPosition>? told, CancellationToken cancellation) =>
        WholeFile.WriteAsync(path, async stream =>
        {
            await using var writer = TableFormats.Writer(source.Head, style, stream);
            return await CopyAsync(source, writer, told, cancellation);
        });

    // Whichever side fails, the other is waited for: a batch must not be filled any more once somebody else has it.
    private static async Task WriteAndFillAsync(IRowSource source, IRowWriter writer, RowBatch ready, RowBatch next, CancellationToken cancellation)
    {
        using var ended = CancellationTokenSource.CreateLinkedTokenSource(cancellation);
        var filling = source.FillAsync(next, ended.Token);
        try
        {
            await writer.WriteAsync(ready, cancellation);
        }
        catch
        {
            await ended.CancelAsync();
            await filling.ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
            throw;
        }

        await filling;
    }
}
