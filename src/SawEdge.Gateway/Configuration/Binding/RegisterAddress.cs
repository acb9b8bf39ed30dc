using System.Diagnostics.CodeAnalysis;
using System.Globalization;
using System.Text.RegularExpressions;
using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Configuration.Binding;

/// <summary>
/// A place in the Modbus data model, in either notation: table and protocol address (<c>holding 100</c>, counted from 0, as in the
/// request), or a reference number as register lists print it (<c>40101</c>, <c>400101</c>, <c>4x0101</c>, counted from 1). Both ways of
/// counting: MODBUS Application Protocol Specification V1.1b3, section 4.4 ("Modbus addresses are 0 to 65535, the data model's are
/// numbered from 1 to n"); the leading digit for the table is the older custom of the PI-MBUS-300 reference guide.
/// </summary>
internal readonly partial record struct RegisterAddress(RegisterTable Table, ushort Address)
{
    public const string Pattern = "^ *(?:(?:holding|input|coil|discrete) +(?:0*[0-9]{1,5}|0x0*[0-9A-Fa-f]{1,4})|[134]x[0-9]{1,5}|[0134][0-9]{4,5}) *$";

    private const string Right = "write for example \"holding 100\" (protocol address, from 0) or \"40101\" (reference number, from 1)";

    private static readonly (string Word, RegisterTable Table, char Digit)[] Tables =
        [("coil", RegisterTable.Coil, '0'), ("discrete", RegisterTable.DiscreteInput, '1'), ("input", RegisterTable.Input, '3'), ("holding", RegisterTable.Holding, '4')];

    /// <summary>The word by which a table is written.</summary>
    public static string WordFor(RegisterTable table) => Array.Find(Tables, entry => entry.Table == table).Word;

    /// <summary>Whether the place holds one bit.</summary>
    public bool IsBit => Table is RegisterTable.Coil or RegisterTable.DiscreteInput;

    /// <summary>The place as table and protocol address.</summary>
    public override string ToString() => string.Create(CultureInfo.InvariantCulture, $"{WordFor(Table)} {Address}");

    /// <summary>Reads either notation.</summary>
    /// <param name="text">What a person wrote.</param>
    /// <param name="address">The place.</param>
    /// <param name="problem">What is wrong and what would be right, or null.</param>
    public static bool TryParse(string text, out RegisterAddress address, [NotNullWhen(false)] out string? problem)
    {
        address = default;
        var trimmed = text.Trim();
        if (Word().Match(trimmed) is { Success: true } word)
            problem = FromWord(trimmed, word, out address);
        else if (WithBit().IsMatch(trimmed))
            problem = $"{Words.Quoted(trimmed)}: write the bit in its own member, \"bit\": {trimmed[(trimmed.LastIndexOf('.') + 1)..]}";
        else if (HexOrCoil().IsMatch(trimmed))
            problem = $"{Words.Quoted(trimmed)} may be a coil or a hexadecimal number; write for example \"coil 2\", \"00003\" or \"holding 0x64\"";
        else if (Reference().Match(trimmed) is { Success: true } reference)
            problem = FromReference(trimmed, reference, out address);
        else if (Digits().IsMatch(trimmed))
            problem = $"{Words.Quoted(trimmed)} does not say which table; {Right}";
        else
            problem = $"{Words.Quoted(trimmed)} is no register address; {Right}";
        return problem is null;
    }

    private static string? FromWord(string text, Match match, out RegisterAddress address)
    {
        address = default;
        var name = match.Groups["table"].Value;
        var entry = Array.Find(Tables, candidate => candidate.Word == name);
        if (entry.Word is null)
            return $"{Words.Quoted(text)} names no table; {(Words.Nearest(name, Tables.Select(table => table.Word)) is { } near ? $"did you mean '{near}'?" : "write holding, input, coil or discrete")}";
        var number = match.Groups["hex"].Success
            ? long.Parse(match.Groups["hex"].Value, NumberStyles.AllowHexSpecifier, CultureInfo.InvariantCulture)
            : long.Parse(match.Groups["number"].Value, CultureInfo.InvariantCulture);
        if (number > ushort.MaxValue)
            return $"{Words.Quoted(text)} is beyond the last address; write {name} 0 to {name} 65535";
        address = new RegisterAddress(entry.Table, (ushort)number);
        return null;
    }

    private static string? FromReference(string text, Match match, out RegisterAddress address)
    {
        address = default;
        var digit = match.Groups["table"].Value[0];
        var entry = Array.Find(Tables, candidate => candidate.Digit == digit);
        if (entry.Word is null)
            return $"{Words.Quoted(text)}: reference numbers begin with 0 (coils), 1 (discrete inputs), 3 (input registers) or 4 (holding registers)";
        var number = int.Parse(match.Groups["number"].Value, CultureInfo.InvariantCulture);
        if (number == 0)
            return $"{Words.Quoted(text)}: reference numbers count from 1; the first is {digit}0001";
        if (number > 65536)
            return $"{Words.Quoted(text)} is beyond the last reference number; write {digit}00001 to {digit}65536";
        address = new RegisterAddress(entry.Table, (ushort)(number - 1));
        return null;
    }

    [GeneratedRegex("^(?<table>[a-z]+) +(?:(?<number>[0-9]{1,9})|0x(?<hex>[0-9A-Fa-f]{1,7}))$")]
    private static partial Regex Word();

    [GeneratedRegex("^(?<table>[0-9])(?:x(?<number>[0-9]{1,5})|(?<number>[0-9]{4,5}))$")]
    private static partial Regex Reference();

    [GeneratedRegex("^0[xX]")]
    private static partial Regex HexOrCoil();

    [GeneratedRegex("^(?:[a-z]+ +)?[0-9x]+\\.[0-9]{1,2}$")]
    private static partial Regex WithBit();

    [GeneratedRegex("^[0-9]+$")]
    private static partial Regex Digits();
}

/// <summary>Reads a <see cref="RegisterAddress"/>; a reference number may stand without quotes.</summary>
internal sealed class RegisterAddressType : ConfigType<RegisterAddress>
{
    public override bool TryRead(SourceNode node, string path, ReadContext context, out RegisterAddress value)
    {
        value = default;
        string? problem;
        if (node.Kind is not (SourceKind.Text or SourceKind.Number or SourceKind.Loose))
            problem = $"is {node.KindInWords}; write a register address, for example \"holding 100\" or \"40101\"";
        else if (RegisterAddress.TryParse(node.Text, out value, out problem))
            return true;
        context.Findings.Error(path, problem);
        return false;
    }

    public override TypeDescription Describe() => new ScalarDescription
    {
        Kind = "register address",
        Forms = [SourceKind.Text, SourceKind.Number],
        Whole = true,
        Minimum = 10001,
        Maximum = 465536,
        Pattern = RegisterAddress.Pattern,
        Examples = ["holding 100", "input 7", "coil 3", "discrete 12", "40101", "400101"],
        Range = "protocol addresses count from 0 (\"holding 100\"), reference numbers from 1 (40101 is holding 100)",
    };
}
