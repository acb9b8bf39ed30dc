using System.Text.Encodings.Web;
using System.Text.Json;
using SawEdge.Core;
using SawEdge.Core.Blades;
using SawEdge.Core.Load;

namespace SawEdge.Gateway.Commands.Explain;

/// <summary>The explanation of a cut for programs: one JSON object, metric, units in the names, null where something is not known.</summary>
internal static class ExplainJson
{
    private static readonly JsonWriterOptions Layout = new() { Indented = true, Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping };

    /// <summary>The text of the object.</summary>
    public static string Write(Explained cut)
    {
        using var bytes = new MemoryStream();
        using (var json = new Utf8JsonWriter(bytes, Layout))
        {
            json.WriteStartObject();
            json.WriteStartObject("record");
            foreach (var column in CycleColumns.All)
                Value(json, column.Name, column.Get(cut.Record));
            json.WriteEndObject();
            Value(json, "expected_energy_kj", cut.ExpectedEnergyKj);
            json.WritePropertyName("assessment");
            if (cut.Assessment is { } assessment)
                Write(json, assessment, cut.IsUnusual);
            else
                json.WriteNullValue();
            json.WriteString("caution", AlarmCaution.General);
            json.WriteEndObject();
        }

        return System.Text.Encoding.UTF8.GetString(bytes.ToArray());
    }

    private static void Write(Utf8JsonWriter json, LoadAssessment assessment, bool isUnusual)
    {
        json.WriteStartObject();
        Value(json, "score", assessment.Score);
        Value(json, "threshold", assessment.Threshold);
        json.WriteBoolean("unusual", isUnusual);
        json.WriteString("basis", assessment.Basis);
        json.WriteBoolean("accepted", assessment.Accepted);
        json.WriteString("why", assessment.Why);
        List(json, "views", assessment.Views, view =>
        {
            json.WriteString("view", view.View.ToString().ToLowerInvariant());
            json.WriteString("what", view.What);
            Value(json, "value", view.Value);
            Value(json, "expected", view.Expected);
            Value(json, "spread", view.Spread);
            Value(json, "statistic", view.Statistic);
            Value(json, "p_value", view.PValue);
            Value(json, "score", view.Score);
            json.WriteNumber("history", view.History);
        });
        List(json, "causes", assessment.Causes, cause =>
        {
            json.WriteString("name", cause.Name);
            Value(json, "weight", cause.Weight);
            json.WriteString("evidence", cause.Evidence);
            json.WriteString("may_be", cause.MayBe);
            json.WriteString("caution", cause.Caution);
        });
        List(json, "findings", assessment.Findings, finding =>
        {
            json.WriteString("kind", finding.Kind.ToName());
            Value(json, "at", finding.At);
            Value(json, "value", finding.Value);
            Value(json, "limit", finding.Limit);
            json.WriteString("words", finding.Words);
        });
        json.WriteStartArray("doubts");
        foreach (var doubt in assessment.Doubts)
            json.WriteStringValue(doubt);
        json.WriteEndArray();
        json.WritePropertyName("wear");
        Write(json, assessment.Wear);
        json.WritePropertyName("profile");
        Write(json, assessment.Profile);
        json.WriteEndObject();
    }

    private static void Write(Utf8JsonWriter json, WearForecast? wear)
    {
        if (wear is null)
        {
            json.WriteNullValue();
            return;
        }

        json.WriteStartObject();
        Value(json, "rise", wear.Rise);
        Value(json, "dull_rise", wear.DullRise);
        Value(json, "area_m2", wear.AreaM2);
        Value(json, "slope_per_m2", wear.SlopePerM2);
        Value(json, "area_left_m2", wear.AreaLeftM2);
        Value(json, "low_m2", wear.LowM2);
        Value(json, "high_m2", wear.HighM2);
        Value(json, "cuts_left", wear.CutsLeft);
        json.WriteBoolean("due", wear.IsDue);
        json.WriteEndObject();
    }

    private static void Write(Utf8JsonWriter json, ResidualProfile? profile)
    {
        if (profile is null)
        {
            json.WriteNullValue();
            return;
        }

        json.WriteStartObject();
        json.WriteBoolean("by_depth", profile.ByDepth);
        foreach (var (name, list) in new[]
        {
            ("load_kw", profile.LoadKw), ("expected_kw", profile.ExpectedKw), ("low_kw", profile.LowKw), ("high_kw", profile.HighKw), ("standardised", profile.Standardised),
        })
        {
            json.WriteStartArray(name);
            foreach (var value in list)
            {
                if (float.IsFinite(value))
                    json.WriteNumberValue(value);
                else
                    json.WriteNullValue();
            }

            json.WriteEndArray();
        }

        json.WriteEndObject();
    }

    private static void List<T>(Utf8JsonWriter json, string name, IReadOnlyList<T> items, Action<T> write)
    {
        json.WriteStartArray(name);
        foreach (var item in items)
        {
            json.WriteStartObject();
            write(item);
            json.WriteEndObject();
        }

        json.WriteEndArray();
    }

    /// <summary>Writes a member; null where the value is null, empty or no finite number.</summary>
    internal static void Value(Utf8JsonWriter json, string name, object? value)
    {
        switch (value)
        {
            case double number when double.IsFinite(number):
                json.WriteNumber(name, number);
                break;
            case long number:
                json.WriteNumber(name, number);
                break;
            case DateTimeOffset time:
                json.WriteString(name, time.UtcDateTime);
                break;
            case string { Length: > 0 } text:
                json.WriteString(name, text);
                break;
            default:
                json.WriteNull(name);
                break;
        }
    }
}
