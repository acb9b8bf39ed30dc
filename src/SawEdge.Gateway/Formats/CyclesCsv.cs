using System.Buffers;
using System.Globalization;
using SawEdge.Core;

namespace SawEdge.Gateway.Formats;

/// <summary>
/// Cycle records as a table: the columns of <see cref="CycleColumns"/>, RFC 4180 with LF, UTF-8 without a byte order mark, times
/// as RFC 3339 with milliseconds, numbers in their shortest form that reads back to the same double, nothing where a value is not
/// known. The same records give the same bytes.
/// </summary>
public static class CyclesCsv
{
    private const int WriteAtBytes = 64 * 1024;

    /// <summary>Writes the table.</summary>
    /// <param name="stream">Where to write; left open.</param>
    /// <param name="cycles">The records, ordered by start and then by saw; those that agree in both are put in the order of their identity.</param>
    /// <param name="cancellation">Ends the work.</param>
    /// <returns>How many records were written.</returns>
    /// <exception cref="InvalidOperationException">The records are not in order.</exception>
    public static async Task<long> WriteAsync(Stream stream, IAsyncEnumerable<CycleRecord> cycles, CancellationToken cancellation = default)
    {
        var buffer = new ArrayBufferWriter<byte>(2 * WriteAtBytes);
        WriteHeader(buffer);
        var count = 0L;
        var tied = new List<CycleRecord>();
        await foreach (var cycle in cycles.WithCancellation(cancellation))
        {
            if (tied.Count > 0 && Compare(tied[0], cycle) is var order && order != 0)
            {
                if (order > 0)
                    throw new InvalidOperationException($"Cycle {cycle.CycleId} comes after a later one.");
                WriteTied(buffer, tied);
            }

            tied.Add(cycle);
            count++;
            if (buffer.WrittenCount >= WriteAtBytes)
                await WriteOutAsync(stream, buffer, cancellation);
        }

        WriteTied(buffer, tied);
        await WriteOutAsync(stream, buffer, cancellation);
        return count;
    }

    /// <summary>Writes one line of column names.</summary>
    internal static void WriteHeader(IBufferWriter<byte> destination)
    {
        for (var i = 0; i < CycleColumns.All.Count; i++)
        {
            if (i > 0)
                destination.Write(","u8);
            CsvText.Write(destination, CycleColumns.All[i].Name);
        }

        destination.Write("\n"u8);
    }

    /// <summary>Writes one record as a line.</summary>
    internal static void WriteRow(IBufferWriter<byte> destination, CycleRecord cycle)
    {
        for (var i = 0; i < CycleColumns.All.Count; i++)
        {
            if (i > 0)
                destination.Write(","u8);
            WriteValue(destination, CycleColumns.All[i].Get(cycle));
        }

        destination.Write("\n"u8);
    }

    private static void WriteValue(IBufferWriter<byte> destination, object? value)
    {
        switch (value)
        {
            case null:
            case double number when !double.IsFinite(number):
                break;
            case string text:
                CsvText.Write(destination, text);
                break;
            case double number:
                number.TryFormat(destination.GetSpan(32), out var length, default, CultureInfo.InvariantCulture);
                destination.Advance(length);
                break;
            case long whole:
                whole.TryFormat(destination.GetSpan(32), out length, default, CultureInfo.InvariantCulture);
                destination.Advance(length);
                break;
            case DateTimeOffset time:
                // Milliseconds are the contract's resolution, and records are rounded to them.
                destination.Advance(Rfc3339.Format(new DateTimeOffset(time.UtcTicks - (time.UtcTicks % TimeSpan.TicksPerMillisecond), TimeSpan.Zero), destination.GetSpan(Rfc3339.MaximumLength)));
                break;
            default:
                throw new InvalidOperationException($"A column gave a {value.GetType()}.");
        }
    }

    private static int Compare(CycleRecord a, CycleRecord b)
    {
        var byStart = a.StartedAt.CompareTo(b.StartedAt);
        return byStart != 0 ? byStart : string.CompareOrdinal(a.Saw, b.Saw);
    }

    private static void WriteTied(IBufferWriter<byte> destination, List<CycleRecord> tied)
    {
        tied.Sort((a, b) => string.CompareOrdinal(a.CycleId, b.CycleId));
        foreach (var cycle in tied)
            WriteRow(destination, cycle);
        tied.Clear();
    }

    private static async Task WriteOutAsync(Stream stream, ArrayBufferWriter<byte> buffer, CancellationToken cancellation)
    {
        await stream.WriteAsync(buffer.WrittenMemory, cancellation);
        buffer.ResetWrittenCount();
    }
}
