using System.Text.Encodings.Web;
using System.Text.Json;
using SawEdge.Core.Materials;

namespace SawEdge.Gateway.Commands.Estimate;

/// <summary>An estimate for programs: one JSON object, metric, units in the names, null where something is not known.</summary>
internal static class EstimateJson
{
    private static readonly JsonWriterOptions Layout = new() { Indented = true, Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping };

    /// <summary>The text of the object.</summary>
    public static string Write(EstimateReport report)
    {
        using var bytes = new MemoryStream();
        using (var json = new Utf8JsonWriter(bytes, Layout))
        {
            json.WriteStartObject();
            foreach (var (name, value, _) in report.Subject)
                json.WriteString(name, value);
            json.WriteBoolean("blade_is_stated", report.BladeIsStated);
            foreach (var item in report.Items)
                Write(json, item);
            List(json, "advice", report.Advice);
            json.WriteString("caution", EstimateReport.Caution);
            json.WriteEndObject();
        }

        return System.Text.Encoding.UTF8.GetString(bytes.ToArray());
    }

    private static void Write(Utf8JsonWriter json, EstimateItem item)
    {
        json.WriteStartObject(item.Key);
        foreach (var figure in item.Figures)
        {
            if (figure.Value is { } value)
                json.WriteNumber(figure.Name, Rounded(value));
            else
                json.WriteNull(figure.Name);
        }

        json.WriteString("rule", item.Rule);
        json.WriteStartArray("factors");
        foreach (var factor in item.Factors)
        {
            json.WriteStartObject();
            json.WriteString("name", factor.Name);
            json.WriteNumber("value", Rounded(factor.Value));
            json.WriteString("unit", factor.Unit);
            json.WriteString("provenance", Name(factor.Provenance));
            json.WriteString("source", factor.Source);
            json.WriteEndObject();
        }

        json.WriteEndArray();
        List(json, "missing", item.Missing);
        List(json, "remarks", item.Remarks);
        json.WriteEndObject();
    }

    private static void List(Utf8JsonWriter json, string name, IReadOnlyList<string> texts)
    {
        json.WriteStartArray(name);
        foreach (var text in texts)
            json.WriteStringValue(text);
        json.WriteEndArray();
    }

    /// <summary>To nine significant digits: more than any of these numbers is worth, and no rounding noise.</summary>
    private static double Rounded(double value)
    {
        if (value == 0)
            return 0;
        var decimals = 8 - (int)Math.Floor(Math.Log10(Math.Abs(value)));
        return decimals is >= 0 and <= 15 ? Math.Round(value, decimals) : value;
    }

    private static string Name(Provenance provenance) => JsonNamingPolicy.SnakeCaseLower.ConvertName(provenance.ToString());
}
