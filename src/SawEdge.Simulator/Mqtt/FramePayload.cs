using System.Globalization;
using System.Text;
using System.Text.Json;
using SawEdge.Core.Signals;

namespace SawEdge.Simulator.Mqtt;

/// <summary>Frames as MQTT payloads. A signal without a usable value is left out.</summary>
public static class FramePayload
{
    /// <summary>
    /// The whole frame as one JSON object: <c>{"time":"2026-03-02T06:00:00.000Z","head_position":123.4,"cutting":true,"job":"A1"}</c>.
    /// </summary>
    public static byte[] Json(in SignalFrame frame)
    {
        var buffer = new MemoryStream(256);
        using (var json = new Utf8JsonWriter(buffer))
        {
            json.WriteStartObject();
            json.WriteString("time", Time(frame));
            foreach (var info in SignalInfo.All)
            {
                if (!frame.Has(info.Signal))
                    continue;
                switch (info.Kind)
                {
                    case SignalKind.Text:
                        json.WriteString(info.Name, frame.Text(info.Signal));
                        break;
                    case SignalKind.Flag:
                        json.WriteBoolean(info.Name, frame.Flag(info.Signal) == true);
                        break;
                    case SignalKind.Integer:
                        json.WriteNumber(info.Name, (long)frame.Number(info.Signal));
                        break;
                    default:
                        json.WriteNumber(info.Name, frame.Number(info.Signal));
                        break;
                }
            }

            json.WriteEndObject();
        }

        return buffer.ToArray();
    }

    /// <summary>One signal's bare value as text; null where it has none.</summary>
    public static byte[]? Bare(in SignalFrame frame, Signal signal)
    {
        if (!frame.Has(signal))
            return null;
        return Encoding.UTF8.GetBytes(SignalInfo.Of(signal).Kind switch
        {
            SignalKind.Text => frame.Text(signal)!,
            SignalKind.Flag => frame.Flag(signal) == true ? "true" : "false",
            SignalKind.Integer => ((long)frame.Number(signal)).ToString(CultureInfo.InvariantCulture),
            _ => frame.Number(signal).ToString("R", CultureInfo.InvariantCulture),
        });
    }

    private static string Time(in SignalFrame frame) => frame.Time.UtcDateTime.ToString("yyyy-MM-ddTHH:mm:ss.fffZ", CultureInfo.InvariantCulture);
}
