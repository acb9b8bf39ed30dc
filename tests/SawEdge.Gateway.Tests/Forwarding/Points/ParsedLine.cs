using System.Globalization;
using System.Text;
using SawEdge.Gateway.Forwarding.Points;

namespace SawEdge.Gateway.Tests.Forwarding.Points;

/// <summary>
/// A line of line protocol taken apart by the rules of its documentation (InfluxDB v2 line protocol reference, github.com/influxdata/docs-v2,
/// content/influxdb/v2/reference/syntax/line-protocol.md at 0967a8a), apart from the library that wrote it.
/// </summary>
internal sealed record ParsedLine(string Measurement, IReadOnlyDictionary<string, string> Tags, IReadOnlyDictionary<string, object> Fields, long Time)
{
    public static ParsedLine Of(string line)
    {
        var at = 0;
        var measurement = Name(line, ref at, ", ");
        var tags = new Dictionary<string, string>(StringComparer.Ordinal);
        while (line[at] == ',')
        {
            at++;
            var tag = Name(line, ref at, "=");
            at++;
            tags.Add(tag, Name(line, ref at, ", "));
        }

        var fields = new Dictionary<string, object>(StringComparer.Ordinal);
        do
        {
            at++;
            var field = Name(line, ref at, "=");
            at++;
            fields.Add(field, Value(line, ref at));
        }
        while (line[at] == ',');
        return new ParsedLine(measurement, tags, fields, long.Parse(line.AsSpan(at + 1), NumberStyles.AllowLeadingSign, CultureInfo.InvariantCulture));
    }

    /// <summary>Holds the line to the table of its measurement.</summary>
    public void IsInItsTable()
    {
        var table = PointTables.Find(Measurement) ?? throw new Xunit.Sdk.XunitException($"The table has no measurement {Measurement}.");
        foreach (var (tag, value) in Tags)
        {
            Assert.Contains(tag, table.Tags.Select(known => known.Name));
            Assert.NotEmpty(value);
        }

        foreach (var (field, value) in Fields)
        {
            var known = table.Fields.FirstOrDefault(known => known.Name == field) ?? throw new Xunit.Sdk.XunitException($"The table of {Measurement} has no field {field}.");
            Assert.Equal((field, known.Type), (field, value switch { double => FieldType.Float, long => FieldType.Integer, _ => FieldType.String }));
        }

        foreach (var tag in table.Tags.Where(tag => tag.AbsentWhen == "never"))
            Assert.Contains(tag.Name, Tags);
        foreach (var field in table.Fields.Where(field => field.AbsentWhen == "never"))
            Assert.Contains(field.Name, Fields);
    }

    private static string Name(string line, ref int at, string ends)
    {
        var text = new StringBuilder();
        for (; !ends.Contains(line[at], StringComparison.Ordinal); at++)
        {
            if (line[at] == '\\' && line[at + 1] is ',' or '=' or ' ')
                at++;
            text.Append(line[at]);
        }

        return text.ToString();
    }

    private static object Value(string line, ref int at)
    {
        if (line[at] == '"')
        {
            var text = new StringBuilder();
            for (at++; line[at] != '"'; at++)
            {
                if (line[at] == '\\' && line[at + 1] is '"' or '\\')
                    at++;
                text.Append(line[at]);
            }

            at++;
            return text.ToString();
        }

        var end = line.IndexOfAny([',', ' '], at);
        var written = line[at..end];
        at = end;
        return written.EndsWith('i') ? (object)long.Parse(written[..^1], NumberStyles.AllowLeadingSign, CultureInfo.InvariantCulture) : double.Parse(written, NumberStyles.Float, CultureInfo.InvariantCulture);
    }
}
