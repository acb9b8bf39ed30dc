using System.Globalization;
using System.Text.Json;
using SawEdge.Gateway.Acquisition.Modbus;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Configuration.Binding;

namespace SawEdge.Gateway.Commands.Commissioning;

/// <summary>A place where the value that is looked for may lie.</summary>
/// <param name="Address">Where.</param>
/// <param name="Decoding">How.</param>
/// <param name="Scale">What one count is, in the unit of the panel.</param>
/// <param name="Value">What the registers give with it, in the unit of the panel.</param>
/// <param name="Doubt">How little speaks for it; the least comes first.</param>
/// <param name="Text">The text there, where one was looked for.</param>
/// <param name="Registers">How many registers it takes.</param>
internal sealed record Candidate(RegisterAddress Address, Decoding Decoding, double Scale, double Value, double Doubt, string Text, int Registers)
{
    /// <summary>The way it lies there, in words: <c>uint16 x 0.1</c>, <c>float32 cdab</c>.</summary>
    public string Way => Decoding.Type == RegisterType.Ascii || Scale == 1 ? Form : string.Create(CultureInfo.InvariantCulture, $"{Form} x {Scale:0.####}");

    private string Form => Decoding.Order == WordOrder.Abcd ? Decoding.TypeName : $"{Decoding.TypeName} {Decoding.OrderName}";

    /// <summary>The mapping for a configuration, to be put behind the name of the signal.</summary>
    /// <param name="unit">The unit of the panel, or empty.</param>
    public string Configuration(string unit)
    {
        var members = new List<string> { $"\"address\": {Quoted(Address.ToString())}", $"\"type\": {Quoted(Decoding.TypeName)}" };
        if (Decoding.Order != WordOrder.Abcd)
            members.Add($"\"order\": {Quoted(Decoding.OrderName)}");
        if (Decoding.Type == RegisterType.Ascii)
            members.Add(string.Create(CultureInfo.InvariantCulture, $"\"registers\": {Registers}"));
        else if (unit.Length > 0)
            members.Add($"\"unit\": {Quoted(Scale == 1 ? unit : string.Create(CultureInfo.InvariantCulture, $"{Scale:0.####} {unit}"))}");
        else if (Scale != 1)
            members.Add(string.Create(CultureInfo.InvariantCulture, $"\"scale\": {Scale:0.####}"));
        return $"{{ {string.Join(", ", members)} }}";
    }

    private static string Quoted(string text) => JsonSerializer.Serialize(text, JsonSerializerOptions.Default);
}

/// <summary>
/// Finds where a value that a person sees on the panel may lie: under which decoding and with which scale registers give it. Pure.
/// </summary>
internal static class ValueSearch
{
    // What one count may be, and how much that speaks against it. Controllers keep tenths and hundredths in whole numbers; floating numbers
    // are in their unit, or in one a thousand times as large or as small.
    private static readonly (double Scale, double Doubt)[] WholeScales = [(1, 0), (0.1, 0), (0.01, 0.5), (0.001, 1), (0.0001, 2), (10, 2), (100, 3), (1000, 3)];
    private static readonly (double Scale, double Doubt)[] FloatScales = [(1, 0), (0.001, 1.5), (1000, 1.5), (0.1, 2.5), (0.01, 2.5), (10, 2.5), (100, 2.5)];

    // How much a decoding itself speaks against a hit: what is common in controllers comes first. A floating number that fits is hardly ever
    // chance, and neither is a whole one whose upper half is not empty.
    private static readonly (Decoding Decoding, double Doubt)[] Decodings =
    [
        (new(RegisterType.UInt16, WordOrder.Abcd), 0),
        (new(RegisterType.Int16, WordOrder.Abcd), 0),
        (new(RegisterType.Float32, WordOrder.Abcd), -1),
        (new(RegisterType.Float32, WordOrder.Cdab), -1),
        (new(RegisterType.UInt32, WordOrder.Abcd), 1),
        (new(RegisterType.UInt32, WordOrder.Cdab), 1),
        (new(RegisterType.Int32, WordOrder.Abcd), 1),
        (new(RegisterType.Int32, WordOrder.Cdab), 1),
        (new(RegisterType.Float64, WordOrder.Abcd), 0),
        (new(RegisterType.Float64, WordOrder.Dcba), 1),
        (new(RegisterType.Float64, WordOrder.Cdab), 0.5),
        (new(RegisterType.Float64, WordOrder.Badc), 1.5),
        (new(RegisterType.Float32, WordOrder.Badc), 1),
        (new(RegisterType.Float32, WordOrder.Dcba), 1),
        (new(RegisterType.Bcd16, WordOrder.Abcd), 2),
        (new(RegisterType.Bcd32, WordOrder.Abcd), 3),
        (new(RegisterType.Bcd32, WordOrder.Cdab), 3),
        (new(RegisterType.UInt16, WordOrder.Badc), 3.5),
        (new(RegisterType.Int16, WordOrder.Badc), 3.5),
        (new(RegisterType.UInt32, WordOrder.Badc), 4),
        (new(RegisterType.UInt32, WordOrder.Dcba), 4),
        (new(RegisterType.Int32, WordOrder.Badc), 4),
        (new(RegisterType.Int32, WordOrder.Dcba), 4),
    ];

    private const int RoomForText = 16;

    /// <summary>All places that give the value, the likeliest first.</summary>
    /// <param name="block">Registers that were read.</param>
    /// <param name="sought">What is looked for.</param>
    public static IReadOnlyList<Candidate> Find(ScannedBlock block, SoughtValue sought)
    {
        if (block.IsBits)
            return [];

        // The number of a job or a bar may be a number, or be written.
        var found = double.IsNaN(sought.Number) ? Texts(block, sought.Text)
            : sought.Text.Length >= 3 ? Numbers(block, sought).Concat(Texts(block, sought.Text))
            : Numbers(block, sought);
        return [.. found.OrderBy(candidate => candidate.Doubt).ThenBy(candidate => candidate.Address.Address)];
    }

    private static IEnumerable<Candidate> Numbers(ScannedBlock block, SoughtValue sought)
    {
        for (var i = 0; i < block.Count; i++)
        {
            foreach (var (decoding, doubt) in Decodings)
            {
                if (!block.Has(i, decoding.Length))
                    continue;
                var raw = decoding.Of(block.Words(i, decoding.Length));
                if (!double.IsFinite(raw) || IsTheSameShorter(raw, decoding))
                    continue;
                foreach (var (scale, scaleDoubt) in decoding.IsFloat ? FloatScales : WholeScales)
                {
                    var value = raw * scale;

                    // The last place of the panel is rounded, and what is exactly half way counts.
                    var off = Math.Abs(value - sought.Number);
                    if (off > (sought.Tolerance * 1.000001) + (1e-9 * Math.Abs(sought.Number)))
                        continue;
                    var doubts = doubt + scaleDoubt + (sought.Tolerance > 0 ? 0.4 * off / sought.Tolerance : 0) + Coarse(raw, scale, decoding, sought);
                    yield return new Candidate(At(block, i), decoding, scale, value, doubts, "", decoding.Length);
                }
            }
        }
    }

    // A number with an empty upper half is the shorter one that is found as well; one that is not negative is the unsigned one.
    private static bool IsTheSameShorter(double raw, Decoding decoding) => decoding.Type switch
    {
        RegisterType.Int16 or RegisterType.Int32 => raw >= 0,
        RegisterType.Bcd16 or RegisterType.Bcd32 => raw < 10,
        RegisterType.Float32 or RegisterType.Float64 => raw != 0 && !Decoding.IsPlausible(raw),
        _ => false,
    };

    // A whole number of few digits fits anywhere: 0, 1 and 2 lie in every table. An empty upper half makes a long number a short one.
    private static double Coarse(double raw, double scale, Decoding decoding, SoughtValue sought)
    {
        if (decoding.IsFloat)
            return raw == 0 ? 3 : 0;
        var few = Math.Abs(raw) < 10 ? 1.5 : 0;
        var empty = decoding.Length == 2 && Math.Abs(raw) <= ushort.MaxValue ? 2.5 : 0;

        // Finer counts than the panel shows fit more easily by chance.
        var chance = sought.Tolerance > 0 ? Math.Max(0, Math.Log10(2 * sought.Tolerance / scale)) * 0.6 : 0;
        return few + empty + chance;
    }

    private static IEnumerable<Candidate> Texts(ScannedBlock block, string text)
    {
        foreach (var (order, doubt) in new[] { (WordOrder.Abcd, 0.0), (WordOrder.Badc, 1.0) })
        {
            for (var start = 0; start < block.Count; start++)
            {
                if (block.StateOf(start) != ScannedState.Read)
                    continue;
                var length = 1;
                while (block.Has(start, length + 1))
                    length++;
                foreach (var candidate in Texts(block, start, Decoding.Characters(block.Words(start, length), order == WordOrder.Badc), text, order, doubt))
                    yield return candidate;
                start += length;
            }
        }
    }

    // A text begins with a register; where it is found in the middle of a longer one, that one is proposed from its beginning.
    private static IEnumerable<Candidate> Texts(ScannedBlock block, int start, string characters, string text, WordOrder order, double doubt)
    {
        for (var at = characters.IndexOf(text, StringComparison.OrdinalIgnoreCase); at >= 0; at = characters.IndexOf(text, at + 1, StringComparison.OrdinalIgnoreCase))
        {
            var begin = at;
            while (begin > 0 && characters[begin - 1] != '\0')
                begin--;
            var end = at + text.Length;
            while (end < characters.Length && characters[end] != '\0')
                end++;
            var first = begin / 2;
            var registers = ((end + 1) / 2) - first;

            // Empty registers behind it are room for longer ones.
            while (registers < RoomForText && block.Has(start + first + registers, 1) && block[start + first + registers] == 0)
                registers++;
            yield return new Candidate(At(block, start + first), new Decoding(RegisterType.Ascii, order), 1, double.NaN, doubt + (begin % 2) + (end - begin > text.Length ? 0.5 : 0), characters[begin..end], registers);
        }
    }

    private static RegisterAddress At(ScannedBlock block, int index) => new(block.Table, (ushort)(block.First + index));
}
