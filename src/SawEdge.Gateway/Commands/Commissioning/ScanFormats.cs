using System.Globalization;
using System.Text;
using System.Text.Encodings.Web;
using System.Text.Json;
using SawEdge.Gateway.Acquisition.Modbus;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Configuration.Binding;

namespace SawEdge.Gateway.Commands.Commissioning;

/// <summary>A scanned range for programs: JSON or CSV, everything under every decoding.</summary>
internal static class ScanFormats
{
    private static readonly JsonWriterOptions Layout = new() { Indented = true, Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping };

    private static readonly Decoding[] Decodings =
    [
        new(RegisterType.UInt16, WordOrder.Abcd), new(RegisterType.Int16, WordOrder.Abcd), new(RegisterType.Bcd16, WordOrder.Abcd),
        new(RegisterType.UInt32, WordOrder.Abcd), new(RegisterType.Int32, WordOrder.Abcd), new(RegisterType.Float32, WordOrder.Abcd),
        new(RegisterType.UInt32, WordOrder.Cdab), new(RegisterType.Int32, WordOrder.Cdab), new(RegisterType.Float32, WordOrder.Cdab),
    ];

    /// <summary>The range as CSV with a heading; empty where a register was not read or holds no such number.</summary>
    public static IEnumerable<string> Csv(ScannedBlock block)
    {
        if (block.IsBits)
        {
            yield return "address,state,value";
            for (var i = 0; i < block.Count; i++)
                yield return $"{Address(block, i)},{State(block.StateOf(i))},{(block.StateOf(i) == ScannedState.Read ? block[i] : "")}";
            yield break;
        }

        yield return $"address,state,hex,{string.Join(',', Decodings.Select(Name))}";
        for (var i = 0; i < block.Count; i++)
        {
            var hex = block.StateOf(i) == ScannedState.Read ? block[i].ToString("X4", CultureInfo.InvariantCulture) : "";
            yield return $"{Address(block, i)},{State(block.StateOf(i))},{hex},{string.Join(',', Decodings.Select(decoding => Text(ValueAt(block, i, decoding), decoding)))}";
        }
    }

    /// <summary>The places of a value as CSV with a heading.</summary>
    public static IEnumerable<string> Csv(IEnumerable<Candidate> candidates, string unit)
    {
        yield return "address,type,order,scale,value,text,configuration";
        foreach (var candidate in candidates)
        {
            var value = double.IsNaN(candidate.Value) ? "" : candidate.Value.ToString("G9", CultureInfo.InvariantCulture);
            yield return string.Create(CultureInfo.InvariantCulture, $"{candidate.Address},{candidate.Decoding.TypeName},{candidate.Decoding.OrderName},{candidate.Scale:0.####},{value},{Quoted(candidate.Text)},{Quoted(candidate.Configuration(unit))}");
        }
    }

    /// <summary>Everything as one JSON object.</summary>
    /// <param name="source">Where, in words.</param>
    /// <param name="block">The range as it was read first.</param>
    /// <param name="sought">What was looked for, or null.</param>
    /// <param name="candidates">Where it may lie.</param>
    /// <param name="changes">What changed, or null where the range was read once.</param>
    public static string Json(string source, ScannedBlock block, SoughtValue? sought, IReadOnlyList<Candidate> candidates, RegisterChanges? changes)
    {
        using var bytes = new MemoryStream();
        using (var json = new Utf8JsonWriter(bytes, Layout))
        {
            json.WriteStartObject();
            json.WriteString("source", source);
            json.WriteString("first", Address(block, 0));
            json.WriteNumber("count", block.Count);
            json.WriteNumber("read", block.ReadCount);
            json.WriteNumber("requests", block.Requests);
            json.WriteString("broken_off", block.BrokenOff);
            json.WriteStartArray("registers");
            for (var i = 0; i < block.Count; i++)
                Write(json, block, i, changes);
            json.WriteEndArray();
            if (sought is not null)
            {
                json.WriteString("sought", sought.Text);
                json.WriteStartArray("candidates");
                foreach (var candidate in candidates)
                    Write(json, candidate, sought.Unit);
                json.WriteEndArray();
            }

            json.WriteEndObject();
        }

        return Encoding.UTF8.GetString(bytes.ToArray());
    }

    private static void Write(Utf8JsonWriter json, ScannedBlock block, int index, RegisterChanges? changes)
    {
        json.WriteStartObject();
        json.WriteString("address", Address(block, index));
        json.WriteString("state", State(block.StateOf(index)));
        if (block.StateOf(index) == ScannedState.Read && block.IsBits)
        {
            json.WriteNumber("value", block[index]);
        }
        else if (block.StateOf(index) == ScannedState.Read)
        {
            json.WriteString("hex", block[index].ToString("X4", CultureInfo.InvariantCulture));
            json.WriteString("characters", Decoding.Characters(block[index]));
            foreach (var decoding in Decodings)
            {
                if (ValueAt(block, index, decoding) is var value && double.IsFinite(value))
                    json.WriteNumber(Name(decoding), value);
                else
                    json.WriteNull(Name(decoding));
            }
        }

        if (changes is not null)
            json.WriteNumber("changes", changes.ChangesOf(index));
        json.WriteEndObject();
    }

    private static void Write(Utf8JsonWriter json, Candidate candidate, string unit)
    {
        json.WriteStartObject();
        json.WriteString("address", candidate.Address.ToString());
        json.WriteString("type", candidate.Decoding.TypeName);
        json.WriteString("order", candidate.Decoding.OrderName);
        json.WriteNumber("scale", candidate.Scale);
        if (double.IsNaN(candidate.Value))
            json.WriteString("text", candidate.Text);
        else
            json.WriteNumber("value", candidate.Value);
        json.WriteString("configuration", candidate.Configuration(unit));
        json.WriteEndObject();
    }

    private static double ValueAt(ScannedBlock block, int index, Decoding decoding) =>
        block.Has(index, decoding.Length) ? decoding.Of(block.Words(index, decoding.Length)) : double.NaN;

    private static string Text(double value, Decoding decoding) =>
        double.IsFinite(value) ? decoding.IsFloat ? ((float)value).ToString("R", CultureInfo.InvariantCulture) : value.ToString("0", CultureInfo.InvariantCulture) : "";

    private static string Name(Decoding decoding) => decoding.Length == 1 ? decoding.TypeName : $"{decoding.TypeName}_{decoding.OrderName}";

    private static string Address(ScannedBlock block, int index) => new RegisterAddress(block.Table, (ushort)(block.First + index)).ToString();

    private static string State(ScannedState state) => JsonNamingPolicy.SnakeCaseLower.ConvertName(state.ToString());

    private static string Quoted(string text) => text.AsSpan().ContainsAny(',', '"') ? $"\"{text.Replace("\"", "\"\"", StringComparison.Ordinal)}\"" : text;
}
