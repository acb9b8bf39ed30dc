using System.Buffers;
using System.Globalization;
using System.Text;
using InfluxDB.Client.Api.Domain;
using InfluxDB.Client.Writes;
using SawEdge.Core;
using SawEdge.Core.Cycles;

namespace SawEdge.Gateway.Forwarding;

/// <summary>Cycle records as points of the measurement <c>cycle</c>, in line protocol. Pure: the same record gives the same line.</summary>
/// <remarks>
/// <para>Tags are <c>site</c>, <c>gateway</c> and <c>saw</c>, and nothing else, for two reasons. A point is known by
/// its tags and time: a correction that changes the outcome, the material or the blade must land on the same point, or
/// sums would count the cut twice, and only what the configuration fixes never changes. And tag values must be bounded
/// in number, which blades, jobs and materials named by a controller are not. All of those are text fields; they can
/// be filtered on as well (<c>WHERE outcome = 'completed'</c>).</para>
/// <para>The time is the start of the cycle: two cycles of one saw never share it, and a correction never moves it.</para>
/// <para>Every other column of the record is a field of the same name: numbers as floats, whole numbers as integers,
/// times as integers in milliseconds since 1970, texts as texts. What is not known is absent. <c>completed</c> is 1 for
/// a completed cut and 0 for any other, because text cannot be summed up.</para>
/// </remarks>
internal sealed class PointMapper
{
    /// <summary>Name of the measurement.</summary>
    public const string Measurement = "cycle";

    // A double with its sign, 17 digits, point and exponent takes 24.
    private const int LongestNumber = 32;

    /// <summary>Unit of the points' times.</summary>
    public const WritePrecision Precision = WritePrecision.Ms;

    private static readonly (byte[] Start, Func<CycleRecord, object?> Get)[] Fields = [.. CycleColumns.All
        .Where(column => column.Name is not ("saw" or "started_at"))
        .Select(column => (column.Name, column.Get))
        .Append(("completed", record => record.Outcome == CutOutcome.Completed ? 1L : 0L))
        .OrderBy(field => field.Item1, StringComparer.Ordinal)
        .Select(field => (Encoding.UTF8.GetBytes(field.Item1 + "="), field.Item2))];

    private readonly string _site;
    private readonly string _gateway;
    private readonly Dictionary<string, byte[]> _series = new(StringComparer.Ordinal);

    /// <summary>A mapper for one gateway.</summary>
    public PointMapper(string site, string gateway)
    {
        _site = LineText.Tag(site);
        _gateway = LineText.Tag(gateway);
    }

    /// <summary>The line of a record.</summary>
    public string ToLine(CycleRecord record)
    {
        var line = new ArrayBufferWriter<byte>();
        Write(record, line);
        return Encoding.UTF8.GetString(line.WrittenSpan);
    }

    /// <summary>Writes the line of a record. Not for two threads at once.</summary>
    /// <remarks>
    /// Byte for byte what the client library makes of the same point (a test holds that), in a tenth of its time: a backlog is mostly cycles, and to
    /// encode them took longer than to send them.
    /// </remarks>
    public void Write(CycleRecord record, ArrayBufferWriter<byte> output)
    {
        output.Write(SeriesOf(record.Saw));
        var separator = " "u8;
        foreach (var (start, get) in Fields)
        {
            var value = get(record);
            if (value is null or "" || (value is double number && !double.IsFinite(number)))
                continue;
            output.Write(separator);
            output.Write(start);
            separator = ","u8;
            switch (value)
            {
                case string text:
                    Quoted(LineText.Field(text), output);
                    break;
                case double finite:
                    Formatted(finite, output);
                    break;
                case long whole:
                    Formatted(whole, output);
                    output.Write("i"u8);
                    break;
                case DateTimeOffset time:
                    Formatted(time.ToUnixTimeMilliseconds(), output);
                    output.Write("i"u8);
                    break;
            }
        }

        output.Write(" "u8);
        Formatted(record.StartedAt.ToUnixTimeMilliseconds(), output);
    }

    // Measurement and tags as the library writes them: what stands before the first field.
    private byte[] SeriesOf(string saw)
    {
        if (_series.TryGetValue(saw, out var known))
            return known;
        var line = PointData.Builder.Measurement(Measurement).Tag("site", _site).Tag("gateway", _gateway).Tag("saw", LineText.Tag(saw)).Field("f", 1L).ToPointData().ToLineProtocol();
        return _series[saw] = Encoding.UTF8.GetBytes(line[..line.LastIndexOf(" f=1i", StringComparison.Ordinal)]);
    }

    private static void Quoted(string text, ArrayBufferWriter<byte> output)
    {
        output.Write("\""u8);
        var rest = text.AsSpan();
        for (int i; (i = rest.IndexOfAny('"', '\\')) >= 0; rest = rest[(i + 1)..])
        {
            Encoding.UTF8.GetBytes(rest[..i], output);
            output.Write(rest[i] == '"' ? "\\\""u8 : "\\\\"u8);
        }

        Encoding.UTF8.GetBytes(rest, output);
        output.Write("\""u8);
    }

    private static void Formatted<T>(T number, ArrayBufferWriter<byte> output)
        where T : IUtf8SpanFormattable
    {
        number.TryFormat(output.GetSpan(LongestNumber), out var written, default, CultureInfo.InvariantCulture);
        output.Advance(written);
    }
}
