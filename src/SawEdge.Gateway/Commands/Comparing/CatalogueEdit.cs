using System.Text;
using System.Text.Encodings.Web;
using System.Text.Json;
using SawEdge.Core.Materials;

namespace SawEdge.Gateway.Commands.Comparing;

/// <summary>A reference rate that is proposed for a material.</summary>
/// <param name="Material">Name of the material in the catalogue.</param>
/// <param name="RateCm2Min">The rate, cm2/min, as it is written.</param>
/// <param name="Source">What it stands on, in words.</param>
internal sealed record ProposedRate(string Material, double RateCm2Min, string Source)
{
    /// <summary>The rate in the notation of the catalogue file.</summary>
    public string Notation => FormattableString.Invariant($"{RateCm2Min} cm2/min");
}

/// <summary>
/// Sets rates in the text of the plant's catalogue file and leaves all else as it stands, remarks and layout included, so that the differences are what a person has to
/// review and nothing more.
/// </summary>
internal static class CatalogueEdit
{
    private const string Mark = "rate: ";

    /// <summary>The text with the rates in it.</summary>
    /// <param name="text">The file as it is; null: there is none.</param>
    /// <param name="rates">The rates, of materials that the catalogue with this file knows.</param>
    /// <exception cref="CommandException">The file is not one that rates can be set in.</exception>
    public static string Apply(string? text, IReadOnlyList<ProposedRate> rates)
    {
        if (text is null)
            return $"{{\n  \"materials\": [\n{string.Join(",\n", rates.Select(rate => "    " + Entry(rate)))}\n  ]\n}}\n";
        var catalogue = MaterialCatalogue.BuiltIn.Overlay(text).Catalogue;
        var bytes = Encoding.UTF8.GetBytes(text);
        var file = FileShape.Read(bytes);
        var edits = new List<(int From, int To, string Text)>();
        var added = new List<ProposedRate>();
        foreach (var rate in rates)
        {
            // Of several entries for a material the last decides.
            if (file.Entries.LastOrDefault(entry => catalogue.Find(entry.Name)?.Name == rate.Material) is { } entry)
                Change(edits, entry, rate);
            else
                added.Add(rate);
        }

        if (added.Count > 0)
            edits.Add(Addition(file, bytes, added));
        var result = new StringBuilder();
        var at = 0;
        foreach (var (from, to, replacement) in edits.OrderBy(edit => edit.From))
        {
            result.Append(Encoding.UTF8.GetString(bytes.AsSpan(at..from))).Append(replacement);
            at = to;
        }

        var edited = result.Append(Encoding.UTF8.GetString(bytes.AsSpan(at..))).ToString();
        Check(edited, rates);
        return edited;
    }

    private static void Change(List<(int From, int To, string Text)> edits, EntryShape entry, ProposedRate rate)
    {
        var extra = new StringBuilder();
        if (entry.Rate is { } old)
            edits.Add((old.From, old.To, Quoted(rate.Notation)));
        else
            extra.Append(", \"rate\": ").Append(Quoted(rate.Notation));

        // The entry's other numbers keep what was said of them; what was said of an earlier rate goes.
        var words = Mark + rate.Source;
        if (entry.Source is { } source)
        {
            var kept = source.Text.IndexOf(Mark, StringComparison.Ordinal) is >= 0 and var begin ? source.Text[..begin].TrimEnd(' ', ';') : source.Text.Trim();
            edits.Add((source.From, source.To, Quoted(kept.Length > 0 ? $"{kept}; {words}" : words)));
        }
        else
        {
            extra.Append(", \"source\": ").Append(Quoted(words));
        }

        if (extra.Length > 0)
            edits.Add((entry.LastValueEnds, entry.LastValueEnds, extra.ToString()));
    }

    private static (int From, int To, string Text) Addition(FileShape file, byte[] bytes, List<ProposedRate> added)
    {
        if (file.Entries.Count > 0)
        {
            var indent = IndentOf(bytes, file.Entries[0].Begins);
            return (file.Entries[^1].Ends, file.Entries[^1].Ends, string.Concat(added.Select(rate => $",\n{indent}{Entry(rate)}")));
        }

        var entries = string.Join(",\n", added.Select(rate => "    " + Entry(rate)));
        return file.MaterialsBegin is { } begin
            ? (begin, begin, $"\n{entries}\n  ")
            : (file.RootBegins, file.RootBegins, $"\n  \"materials\": [\n{entries}\n  ]{(file.IsEmpty ? "\n" : ",")}");
    }

    private static string IndentOf(byte[] bytes, int at)
    {
        var line = Array.LastIndexOf(bytes, (byte)'\n', Math.Max(0, at - 1)) + 1;
        var before = Encoding.UTF8.GetString(bytes.AsSpan(line..at));
        return string.IsNullOrWhiteSpace(before) ? before : "    ";
    }

    private static string Entry(ProposedRate rate) => $"{{ \"name\": {Quoted(rate.Material)}, \"rate\": {Quoted(rate.Notation)}, \"source\": {Quoted(Mark + rate.Source)} }}";

    private static string Quoted(string text) => $"\"{JsonEncodedText.Encode(text, JavaScriptEncoder.UnsafeRelaxedJsonEscaping)}\"";

    // What goes out must read back as what was meant.
    private static void Check(string edited, IReadOnlyList<ProposedRate> rates)
    {
        var (catalogue, errors) = MaterialCatalogue.BuiltIn.Overlay(edited);
        if (errors.Count > 0 || rates.FirstOrDefault(rate => catalogue.Find(rate.Material)?.RateCm2Min.Value != rate.RateCm2Min) is { } lost && lost is not null)
            throw new CommandException($"The rates cannot be set in the catalogue file as it stands{(errors.Count > 0 ? $": {errors[0]}" : "")}; see to it that every material has one entry there.");
    }

    private sealed record EntryShape(string Name, int Begins, int Ends, int LastValueEnds, (int From, int To)? Rate, (int From, int To, string Text)? Source);

    // Where things stand in the file, in bytes.
    private sealed class FileShape
    {
        public List<EntryShape> Entries { get; } = [];

        public int? MaterialsBegin { get; private set; }

        public int RootBegins { get; private set; }

        public bool IsEmpty { get; private set; } = true;

        public static FileShape Read(ReadOnlySpan<byte> bytes)
        {
            var shape = new FileShape();
            try
            {
                var json = new Utf8JsonReader(bytes, new JsonReaderOptions { CommentHandling = JsonCommentHandling.Skip, AllowTrailingCommas = true });
                json.Read();
                shape.RootBegins = (int)json.BytesConsumed;
                while (json.Read() && json.TokenType == JsonTokenType.PropertyName)
                {
                    shape.IsEmpty = false;
                    var isMaterials = json.ValueTextEquals("materials");
                    json.Read();
                    if (!isMaterials || json.TokenType != JsonTokenType.StartArray)
                    {
                        json.Skip();
                        continue;
                    }

                    shape.MaterialsBegin = (int)json.BytesConsumed;
                    while (json.Read() && json.TokenType == JsonTokenType.StartObject)
                        shape.Entries.Add(ReadEntry(ref json));
                }

                return shape;
            }
            catch (Exception e) when (e is JsonException or InvalidOperationException)
            {
                throw new CommandException($"Rates cannot be set in the catalogue file: {e.Message}", e);
            }
        }

        private static EntryShape ReadEntry(ref Utf8JsonReader json)
        {
            var (name, begins, last) = ("", (int)json.TokenStartIndex, (int)json.BytesConsumed);
            (int From, int To)? rate = null;
            (int From, int To, string Text)? source = null;
            while (json.Read() && json.TokenType == JsonTokenType.PropertyName)
            {
                var field = json.GetString();
                json.Read();
                var from = (int)json.TokenStartIndex;
                var text = json.TokenType == JsonTokenType.String ? json.GetString()! : "";
                json.Skip();
                last = (int)json.BytesConsumed;
                if (field == "name")
                    name = text.Trim();
                else if (field == "rate")
                    rate = (from, last);
                else if (field == "source")
                    source = (from, last, text);
            }

            return new EntryShape(name, begins, (int)json.BytesConsumed, last, rate, source);
        }
    }
}
