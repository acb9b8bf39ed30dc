namespace SawEdge.Gateway.History;

/// <summary>What the history takes on the disk.</summary>
/// <param name="Pages">Pages of the file.</param>
/// <param name="FreePages">Those of them that hold nothing: they are used again, or given back.</param>
/// <param name="PageBytes">Size of a page, bytes.</param>
/// <param name="GivesBack">Whether free pages can be given back to the disk without writing the whole file anew.</param>
/// <param name="LogBytes">Bytes of the log beside the file (<c>-wal</c>). It is cut back to 16 MiB, but grows while somebody reads for long.</param>
public sealed record HistorySpace(long Pages, long FreePages, int PageBytes, bool GivesBack, long LogBytes = 0)
{
    /// <summary>Bytes of file and log.</summary>
    public long AllBytes => Bytes + LogBytes;

    /// <summary>Bytes of the file; where nothing can be given back, bytes of the pages that hold something, because only those can become fewer.</summary>
    public long Bytes => (GivesBack ? Pages : Pages - FreePages) * PageBytes;

    /// <summary>Bytes of the pages that hold something.</summary>
    public long UsedBytes => (Pages - FreePages) * PageBytes;
}

/// <summary>A stretch of a saw's cycles whose details (profile, what the load score says along it, evidence) can be cleared away together: it ends where a checkpoint lies.</summary>
/// <remarks>Together, because a record that is computed anew without its profile would be worth less than the one that is stored.</remarks>
/// <param name="Saw">The saw.</param>
/// <param name="From">Start of the first cycle.</param>
/// <param name="To">The checkpoint from which records can be computed anew afterwards; a cycle that starts at this moment belongs to the stretch.</param>
internal sealed record DetailBlock(string Saw, DateTimeOffset From, DateTimeOffset To);
