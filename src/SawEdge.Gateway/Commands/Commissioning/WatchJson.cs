using System.Text;
using System.Text.Encodings.Web;
using System.Text.Json;
using SawEdge.Core;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Commands.Explain;

namespace SawEdge.Gateway.Commands.Commissioning;

/// <summary>A watched saw for programs: one JSON object in one line, metric, null where something is not known.</summary>
internal sealed class WatchJson(WatchHead head, WatchText text, CycleWords words)
{
    private static readonly JsonWriterOptions Layout = new() { Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping };

    /// <summary>Writes the object.</summary>
    /// <param name="at">The present time.</param>
    /// <param name="moment">The saw as it is now.</param>
    /// <param name="troubles">What is wrong.</param>
    public string Write(DateTimeOffset at, WatchMoment moment, IReadOnlyList<SaidTrouble> troubles)
    {
        using var bytes = new MemoryStream();
        using (var json = new Utf8JsonWriter(bytes, Layout))
        {
            json.WriteStartObject();
            json.WriteString("time", at.UtcDateTime);
            json.WriteString("saw", head.Saw);
            json.WriteString("source", head.Source);
            json.WriteNumber("running_s", Math.Round(moment.Running.TotalSeconds, 1));
            json.WriteNumber("frames", moment.Frames);
            json.WriteStartObject("signals");
            foreach (var signal in moment.Signals)
                Write(json, signal);
            json.WriteEndObject();
            json.WriteStartObject("cycle");
            json.WriteString("phase", moment.Cycle.Phase.ToString().ToLowerInvariant());
            json.WriteString("waits_for", JsonNamingPolicy.SnakeCaseLower.ConvertName(moment.Cycle.WaitsFor.ToString()));
            json.WriteBoolean("has_cut", moment.Cycle.HasCut);
            ExplainJson.Value(json, "contact_head_mm", moment.Cycle.ContactHeadMm);
            ExplainJson.Value(json, "idle_kw", moment.Cycle.IdleKw);
            json.WriteString("words", words.Of(moment));
            json.WriteNumber("finished", moment.Cycles);
            json.WritePropertyName("last");
            Write(json, moment.LastCycle);
            json.WriteEndObject();
            if (moment.Polls is { } polls)
            {
                json.WriteStartObject("polls");
                json.WriteNumber("count", polls.Polls);
                json.WriteNumber("requests", polls.Requests);
                json.WriteNumber("median_ms", Math.Round(polls.Median.TotalMilliseconds, 2));
                json.WriteNumber("greatest_ms", Math.Round(polls.Greatest.TotalMilliseconds, 2));
                json.WriteEndObject();
            }

            json.WriteStartArray("troubles");
            foreach (var said in troubles)
            {
                json.WriteStartObject();
                json.WriteString("at", said.At.UtcDateTime);
                json.WriteBoolean("over", said.IsOver);
                json.WriteString("text", said.Text);
                json.WriteEndObject();
            }

            json.WriteEndArray();
            json.WriteEndObject();
        }

        return Encoding.UTF8.GetString(bytes.ToArray());
    }

    private void Write(Utf8JsonWriter json, SignalMoment signal)
    {
        var info = signal.Place.Info;
        json.WriteStartObject(info.Name);
        json.WriteString("from", signal.Place.From);
        json.WriteString("form", signal.Place.Form);
        json.WriteString("raw", signal.Raw);
        switch (info.Kind)
        {
            case SignalKind.Flag when signal.Flag is { } flag:
                json.WriteBoolean("value", flag);
                break;
            case SignalKind.Text when signal.Text is { } value:
                json.WriteString("value", value);
                break;
            case SignalKind.Number or SignalKind.Integer:
                ExplainJson.Value(json, "value", signal.Number);
                break;
            default:
                json.WriteNull("value");
                break;
        }

        json.WriteString("unit", info.Unit);
        json.WriteString("quality", JsonNamingPolicy.SnakeCaseLower.ConvertName(signal.Quality.ToString()));
        if (signal.Quality == SignalQuality.Good)
            json.WriteNull("why");
        else
            json.WriteString("why", text.Why(signal, info));
        if (!double.IsNaN(signal.OutOfRange))
            ExplainJson.Value(json, "out_of_range", signal.OutOfRange);
        ExplainJson.Value(json, "age_s", signal.Age is { } age ? Math.Round(age.TotalSeconds, 3) : double.NaN);
        if (info.Kind is SignalKind.Number or SignalKind.Integer)
        {
            ExplainJson.Value(json, "min", signal.Minimum);
            ExplainJson.Value(json, "max", signal.Maximum);
        }
        else
        {
            json.WriteNumber("changes", signal.Changes);
        }

        json.WriteEndObject();
    }

    private static void Write(Utf8JsonWriter json, CycleRecord? record)
    {
        if (record is null)
        {
            json.WriteNullValue();
            return;
        }

        json.WriteStartObject();
        foreach (var column in CycleColumns.All)
            ExplainJson.Value(json, column.Name, column.Get(record));
        json.WriteEndObject();
    }
}
