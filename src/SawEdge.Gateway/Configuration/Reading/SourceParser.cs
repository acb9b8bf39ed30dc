using System.Text;
using System.Text.Json;

namespace SawEdge.Gateway.Configuration.Reading;

/// <summary>Turns the bytes of the configuration file into <see cref="SourceNode"/>s; comments and trailing commas are allowed.</summary>
internal sealed class SourceParser
{
    private readonly byte[] _bytes;
    private readonly Findings _findings;
    private int _lineStart;
    private int _line = 1;
    private int _counted;

    private SourceParser(byte[] bytes, Findings findings)
    {
        _bytes = bytes;
        _findings = findings;
    }

    /// <summary>Parses a file.</summary>
    /// <returns>The root, or null where the file is no JSON; the findings then say where and why.</returns>
    public static SourceNode? Parse(byte[] bytes, Findings findings)
    {
        if (bytes is [0xFF, 0xFE, ..] or [0xFE, 0xFF, ..])
        {
            findings.Error("", "the file is saved as UTF-16; save it as UTF-8");
            return null;
        }

        var content = bytes is [0xEF, 0xBB, 0xBF, ..] ? bytes[3..] : bytes;
        return new SourceParser(content, findings).Parse();
    }

    private SourceNode? Parse()
    {
        var reader = new Utf8JsonReader(_bytes, new JsonReaderOptions { CommentHandling = JsonCommentHandling.Skip, AllowTrailingCommas = true });
        try
        {
            reader.Read();
            var root = ReadValue(ref reader, "");
            // Reads on to the end, so that anything behind the last brace is found.
            reader.Read();
            return root;
        }
        catch (JsonException e)
        {
            var (place, at) = PlaceOf(e);
            _findings.Add(new Finding(FindingSeverity.Error, "", Explain(e, at)) { Line = place.Line, Column = place.Column });
        }
        catch (InvalidOperationException e) when (e.InnerException is DecoderFallbackException)
        {
            var place = PlaceAt((int)reader.TokenStartIndex);
            _findings.Add(new Finding(FindingSeverity.Error, "", "the text holds bytes that are no UTF-8; save the file as UTF-8") { Line = place.Line, Column = place.Column });
        }

        return null;
    }

    private SourceNode ReadValue(ref Utf8JsonReader reader, string path)
    {
        var place = PlaceAt((int)reader.TokenStartIndex);
        switch (reader.TokenType)
        {
            case JsonTokenType.StartObject:
                var node = new SourceNode(SourceKind.Object, "", place);
                while (reader.Read() && reader.TokenType != JsonTokenType.EndObject)
                    ReadMember(ref reader, node, path);
                return node;
            case JsonTokenType.StartArray:
                var list = new SourceNode(SourceKind.List, "", place);
                while (reader.Read() && reader.TokenType != JsonTokenType.EndArray)
                    list.Items.Add(ReadValue(ref reader, $"{path}[{list.Items.Count}]"));
                return list;
            case JsonTokenType.String:
                return new SourceNode(SourceKind.Text, reader.GetString()!, place);
            case JsonTokenType.Number:
                return new SourceNode(SourceKind.Number, Encoding.ASCII.GetString(reader.ValueSpan), place);
            case JsonTokenType.True or JsonTokenType.False:
                return new SourceNode(SourceKind.Flag, reader.TokenType == JsonTokenType.True ? "true" : "false", place);
            default:
                return new SourceNode(SourceKind.Null, "", place);
        }
    }

    private void ReadMember(ref Utf8JsonReader reader, SourceNode node, string path)
    {
        var name = reader.GetString()!;
        var memberPath = Paths.Member(path, name);
        var place = PlaceAt((int)reader.TokenStartIndex);
        reader.Read();
        var value = ReadValue(ref reader, memberPath);
        var first = node.Members.FindIndex(member => member.Key == name);
        if (first < 0)
        {
            node.Members.Add(new(name, value));
            return;
        }

        var line = node.Members[first].Value.Place.Line;
        _findings.Add(new Finding(FindingSeverity.Error, memberPath, $"is stated twice; it is there already in line {line}") { Line = place.Line, Column = place.Column });
    }

    /// <summary>Line and character of a byte; asked for in rising order, so the file is counted through once.</summary>
    private SourcePlace PlaceAt(int index)
    {
        for (; _counted < index; _counted++)
        {
            if (_bytes[_counted] == '\n')
            {
                _line++;
                _lineStart = _counted + 1;
            }
        }

        return new SourcePlace(_line, CharactersBetween(_lineStart, index) + 1, null);
    }

    private (SourcePlace Place, int Index) PlaceOf(JsonException e)
    {
        var start = 0;
        for (var line = 0L; line < (e.LineNumber ?? 0); line++)
            start = Array.IndexOf(_bytes, (byte)'\n', start) + 1;
        var index = Math.Min(start + (int)(e.BytePositionInLine ?? 0), _bytes.Length);
        return (new SourcePlace((int)(e.LineNumber ?? 0) + 1, CharactersBetween(start, index) + 1, null), index);
    }

    private int CharactersBetween(int from, int to)
    {
        var count = 0;
        for (var i = from; i < to; i++)
        {
            // Bytes 10xxxxxx continue a character.
            if ((_bytes[i] & 0xC0) != 0x80)
                count++;
        }

        return count;
    }

    /// <summary>
    /// Says in plain words what is wrong with the JSON. The parser's own message is not passed on: it may quote
    /// what stands there, and that may be a secret.
    /// </summary>
    private string Explain(JsonException e, int index)
    {
        if (_bytes.AsSpan().Trim(" \t\r\n"u8).IsEmpty)
            return "the file is empty; write at least { \"site\": ..., \"gateway\": ..., \"dataFolder\": ..., \"saws\": [ ... ] }";
        if (e.Message.Contains("escapable", StringComparison.Ordinal))
            return "a backslash in a text is written twice, for example \"C:\\\\data\"";
        if (e.Message.Contains("depth", StringComparison.Ordinal))
            return "objects and lists are nested too deep";
        if (index >= _bytes.Length)
            return "the file ends too early; a closing }, ] or double quote is missing";
        return (char)_bytes[index] switch
        {
            '\'' => "texts and names stand in double quotes, not in single quotes",
            '\r' or '\n' => "a text must end on the line on which it begins; is its closing double quote missing?",
            '"' => "did not expect a double quote here; is a comma or a colon missing before it?",
            '{' or '[' => $"did not expect {(char)_bytes[index]} here; is a comma or a colon missing before it?",
            var c and ('}' or ']' or ',' or ':' or '=' or ';') => $"did not expect {c} here; look for a missing value, a wrong bracket or a wrong separator just before it",
            >= '0' and <= '9' or '-' or '+' or '.' => "this is no number that JSON knows; write for example 12.5 or -3, and anything else in double quotes",
            _ => "this is no JSON; texts and names stand in double quotes, only numbers, true, false and null do not",
        };
    }
}
