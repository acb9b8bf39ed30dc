using System.Runtime.CompilerServices;
using System.Text.Json;
using Microsoft.Data.Sqlite;
using SawEdge.Core.Signals;

namespace SawEdge.Gateway.History;

/// <content>Downsampled signals.</content>
public sealed partial class HistoryReader
{
    private const int SamplePage = 2000;
    private const string SampleColumns = "at, saw, every_ms, frames, data";

    /// <summary>The samples of a filter, ordered by the begin of their intervals, then by saw, then by the length of the interval.</summary>
    /// <remarks>Where the configured interval was changed, samples of both lengths may overlap; no frame is in two of them.</remarks>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    /// <exception cref="InvalidDataException">What is stored is no sample of a known version.</exception>
    public async IAsyncEnumerable<SawSample> SamplesAsync(SampleFilter filter, [EnumeratorCancellation] CancellationToken cancellation = default)
    {
        SawSample? last = null;
        while (true)
        {
            var page = await AskAsync(connection => Samples(connection, filter, last, SamplePage), cancellation);
            foreach (var sample in page)
                yield return sample;
            if (page.Count < SamplePage)
                yield break;
            last = page[^1];
        }
    }

    /// <summary>One page of the samples of a filter, in the order of <see cref="SamplesAsync"/>.</summary>
    /// <param name="filter">Which samples.</param>
    /// <param name="after">The last of the page before; null: from the first.</param>
    /// <param name="most">Samples at most; fewer come only at the end.</param>
    /// <param name="cancellation">Ends the reading.</param>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    internal async Task<IReadOnlyList<SawSample>> SamplePageAsync(SampleFilter filter, SawSample? after, int most, CancellationToken cancellation)
    {
        try
        {
            return await AskAsync(connection => Samples(connection, filter, after, most), cancellation);
        }
        catch (InvalidDataException e)
        {
            throw new HistoryException($"The history '{_path}' cannot be read: {e.Message}", e);
        }
    }

    /// <summary>The number of samples of a filter.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<long> CountSamplesAsync(SampleFilter filter, CancellationToken cancellation = default) =>
        AskAsync(
            connection =>
            {
                using var command = connection.CreateCommand();
                command.CommandText = "SELECT count(*) FROM signal_samples WHERE " + Condition(filter, null, command);
                return (long)command.ExecuteScalar()!;
            },
            cancellation);

    /// <summary>The sample of one saw and interval; null where there is none.</summary>
    /// <param name="saw">The saw.</param>
    /// <param name="from">Begin of the interval.</param>
    /// <param name="every">Its length.</param>
    /// <param name="cancellation">Ends the reading.</param>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    /// <exception cref="InvalidDataException">What is stored is no sample of a known version.</exception>
    public Task<SignalSample?> SampleAsync(string saw, DateTimeOffset from, TimeSpan every, CancellationToken cancellation = default) =>
        AskAsync(
            connection => Rows(
                connection,
                $"SELECT {SampleColumns} FROM signal_samples WHERE at = @at AND saw = @saw AND every_ms = @every",
                row => (SignalSample?)ReadSample(row).Sample,
                ("@at", from.ToUnixTimeMilliseconds()),
                ("@saw", saw),
                ("@every", (long)every.TotalMilliseconds)).FirstOrDefault(),
            cancellation);

    private static List<SawSample> Samples(SqliteConnection connection, SampleFilter filter, SawSample? after, int most)
    {
        using var command = connection.CreateCommand();
        command.CommandText = $"SELECT {SampleColumns} FROM signal_samples WHERE {Condition(filter, after, command)} ORDER BY at, saw, every_ms LIMIT @most";
        command.Parameters.AddWithValue("@most", most);
        return Rows(command, ReadSample);
    }

    private static string Condition(SampleFilter filter, SawSample? after, SqliteCommand command)
    {
        var parts = new List<string> { "1" };
        if (after is { } last)
        {
            parts.Add("(at, saw, every_ms) > (@afterAt, @afterSaw, @afterEvery)");
            command.Parameters.AddWithValue("@afterAt", last.Sample.From.ToUnixTimeMilliseconds());
            command.Parameters.AddWithValue("@afterSaw", last.Saw);
            command.Parameters.AddWithValue("@afterEvery", (long)last.Sample.Every.TotalMilliseconds);
        }
        else if (filter.From is { } from)
        {
            parts.Add("at >= @from");
            command.Parameters.AddWithValue("@from", RoundedUp(from));
        }

        if (filter.To is { } to)
        {
            parts.Add("at < @to");
            command.Parameters.AddWithValue("@to", RoundedUp(to));
        }

        if (filter.Saws is { } saws)
        {
            parts.Add("saw IN (SELECT value FROM json_each(@saws))");
            command.Parameters.AddWithValue("@saws", JsonSerializer.Serialize(saws));
        }

        return string.Join(" AND ", parts);
    }

    // Intervals begin at whole milliseconds.
    private static long RoundedUp(DateTimeOffset time)
    {
        var whole = time.ToUnixTimeMilliseconds();
        return Time(whole) < time ? whole + 1 : whole;
    }

    private static SawSample ReadSample(SqliteDataReader row) =>
        new(row.GetString(1), SampleCodec.Decode(Time(row.GetInt64(0)), TimeSpan.FromMilliseconds(row.GetInt64(2)), row.GetInt32(3), (byte[])row[4]));
}
