using System.Buffers;
using System.Globalization;
using SawEdge.Core.Signals;

namespace SawEdge.Simulator.Recordings;

/// <summary>Writes frames as a recording: CSV (RFC 4180), <c>time,saw,&lt;signals...&gt;</c>, one row a frame, an empty field for what was not read.</summary>
internal sealed class FrameCsv(TextWriter writer, IReadOnlyList<Signal> signals)
{
    private static readonly SearchValues<char> Special = SearchValues.Create(",\"\r\n");

    public void WriteHeader()
    {
        writer.Write("time,saw");
        foreach (var signal in signals)
        {
            writer.Write(',');
            writer.Write(SignalInfo.Of(signal).Name);
        }

        writer.Write('\n');
    }

    public void Write(string saw, in SignalFrame frame)
    {
        Span<char> room = stackalloc char[32];
        frame.Time.UtcDateTime.TryFormat(room, out var written, "yyyy-MM-ddTHH:mm:ss.fffZ", CultureInfo.InvariantCulture);
        writer.Write(room[..written]);
        writer.Write(',');
        WriteText(writer, saw);
        foreach (var signal in signals)
        {
            writer.Write(',');
            if (!frame.Has(signal))
                continue;
            switch (SignalInfo.Of(signal).Kind)
            {
                case SignalKind.Text:
                    WriteText(writer, frame.Text(signal)!);
                    break;
                case SignalKind.Flag:
                    writer.Write(frame.Flag(signal) == true ? "true" : "false");
                    break;
                default:
                    frame.Number(signal).TryFormat(room, out written, "0.######", CultureInfo.InvariantCulture);
                    writer.Write(room[..written]);
                    break;
            }
        }

        writer.Write('\n');
    }

    /// <summary>A field, in quotes where it must be.</summary>
    public static void WriteText(TextWriter writer, string text)
    {
        if (text.AsSpan().IndexOfAny(Special) < 0)
        {
            writer.Write(text);
            return;
        }

        writer.Write('"');
        writer.Write(text.Replace("\"", "\"\"", StringComparison.Ordinal));
        writer.Write('"');
    }
}
