using System.Globalization;
using System.Text.Json;
using System.Text;
using SawEdge.Core.Materials;
using SawEdge.Core.Notation;

namespace SawEdge.Core.Cutting;

/// <content>The job list as JSON.</content>
public sealed partial class JobBook
{
    /// <summary>
    /// Reads a job list in JSON: a list of objects whose members are the columns of the CSV form, for example
    /// <c>[{ "job": "A-1", "material": "1045", "section": "round 100 mm", "pieces": 40 }]</c>. Remarks and trailing commas are allowed.
    /// A broken object is refused with its line; the rest serves.
    /// </summary>
    private static JobBookParse ParseJson(string text, MaterialCatalogue catalogue)
    {
        var errors = new List<JobRowError>();
        var rows = new List<CsvRow>();
        var bytes = Encoding.UTF8.GetBytes(text.TrimStart('\uFEFF'));
        var reader = new Utf8JsonReader(bytes, new JsonReaderOptions { CommentHandling = JsonCommentHandling.Skip, AllowTrailingCommas = true });
        try
        {
            reader.Read();
            if (reader.TokenType != JsonTokenType.StartArray)
            {
                errors.Add(new JobRowError(1, "a job list in JSON is a list of objects: [{ \"job\": ..., \"material\": ..., \"section\": ... }]."));
                return new JobBookParse(Empty, errors);
            }

            while (reader.Read() && reader.TokenType != JsonTokenType.EndArray)
            {
                var line = 1 + bytes.AsSpan(0, (int)reader.TokenStartIndex).Count((byte)'\n');
                using var element = JsonDocument.ParseValue(ref reader);
                if (Row(element.RootElement, line, errors) is { } row)
                    rows.Add(row);
            }
        }
        catch (JsonException wrong)
        {
            errors.Add(new JobRowError((int)(wrong.LineNumber ?? 0) + 1, $"this is no JSON from here on: {wrong.Message}"));
        }

        return Collect(rows, catalogue, errors);
    }

    private static CsvRow? Row(JsonElement element, int line, List<JobRowError> errors)
    {
        if (element.ValueKind != JsonValueKind.Object)
        {
            errors.Add(new JobRowError(line, "a job is an object with job, material and section."));
            return null;
        }

        var (columns, cells) = (new List<string>(), new List<string>());
        foreach (var member in element.EnumerateObject())
        {
            if (!JobRow.Columns.Contains(member.Name, StringComparer.OrdinalIgnoreCase))
            {
                errors.Add(new JobRowError(line, $"'{member.Name}' is not known and is left out; a job has {string.Join(", ", JobRow.Columns)}."));
                continue;
            }

            columns.Add(member.Name);
            cells.Add(member.Value.ValueKind switch
            {
                JsonValueKind.String => member.Value.GetString()!.Trim(),
                JsonValueKind.Number => member.Value.GetDouble().ToString(CultureInfo.InvariantCulture),
                JsonValueKind.Null => "",
                _ => member.Value.GetRawText(),
            });
        }

        return new CsvRow(line, columns, cells);
    }
}
