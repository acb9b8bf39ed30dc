using System.Globalization;
using SawEdge.Gateway.Acquisition.Modbus;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Configuration.Binding;

namespace SawEdge.Gateway.Commands.Commissioning;

/// <summary>A scanned range as lines of text: each register under the common decodings side by side. Pure.</summary>
internal static class ScanText
{
    private const int BitsInALine = 16;

    // Runs of nothing are told in one line.
    private const int LeastRun = 4;

    private static readonly (string Head, int Cells, Decoding Decoding)[] Pairs =
    [
        ("uint32", 10, new Decoding(RegisterType.UInt32, WordOrder.Abcd)),
        ("int32", 10, new Decoding(RegisterType.Int32, WordOrder.Abcd)),
        ("float32", 9, new Decoding(RegisterType.Float32, WordOrder.Abcd)),
        ("uint32", 10, new Decoding(RegisterType.UInt32, WordOrder.Cdab)),
        ("int32", 10, new Decoding(RegisterType.Int32, WordOrder.Cdab)),
        ("float32", 9, new Decoding(RegisterType.Float32, WordOrder.Cdab)),
    ];

    /// <summary>The heading: what was read, and how it went.</summary>
    /// <param name="source">Where, in words.</param>
    /// <param name="block">The range.</param>
    public static string Heading(string source, ScannedBlock block)
    {
        var range = string.Create(CultureInfo.InvariantCulture, $"{RegisterAddress.WordFor(block.Table)} {block.First}{(block.Count > 1 ? $" to {block.First + block.Count - 1}" : "")}");
        return string.Create(CultureInfo.InvariantCulture, $"{source}: {range}, {block.ReadCount} of {block.Count} read in {block.Requests} request{(block.Requests == 1 ? "" : "s")}");
    }

    /// <summary>The table.</summary>
    public static IEnumerable<TextLine> Table(ScannedBlock block) => block.IsBits ? Bits(block) : Registers(block);

    private static IEnumerable<TextLine> Registers(ScannedBlock block)
    {
        yield return new TextLine("                                with the next register, abcd    with the next register, cdab", LineTone.Dim);
        yield return new TextLine($"{"addr",5} {"hex",-4} {"uint16",6} {"int16",6} {"ch",-2} {"bcd",4} {string.Join(' ', Pairs.Select(pair => TextCells.Right(pair.Head, pair.Cells)))}", LineTone.Dim);
        for (var i = 0; i < block.Count;)
        {
            var run = RunAt(block, i);
            if (run >= LeastRun || block.StateOf(i) != ScannedState.Read)
            {
                yield return new TextLine(RunText(block, i, run), block.StateOf(i) == ScannedState.Read ? LineTone.Plain : LineTone.Dim);
                i += run;
                continue;
            }

            yield return new TextLine(Row(block, i++));
        }

        if (block.ReadCount == 0)
            yield return new TextLine("The device has nothing there. Addresses count from 0 (\"holding 100\"), lists often from 1 or 40001; try another table too.");
    }

    private static string Row(ScannedBlock block, int i)
    {
        var word = block[i];
        var bcd = new Decoding(RegisterType.Bcd16, WordOrder.Abcd).Of(block.Words(i, 1));
        var row = string.Create(
            CultureInfo.InvariantCulture,
            $"{block.First + i,5} {word:X4} {word,6} {(word > short.MaxValue ? (short)word : ""),6} {Decoding.Characters(word)} {(double.IsNaN(bcd) ? "" : bcd),4}");
        if (!block.Has(i, 2))
            return row;
        foreach (var (_, cells, decoding) in Pairs)
            row += " " + TextCells.Right(Pair(decoding.Of(block.Words(i, 2)), decoding), cells);
        return row.TrimEnd();
    }

    // What can hardly be meant is left blank, so that what can be is seen.
    private static string Pair(double value, Decoding decoding) => decoding.Type switch
    {
        RegisterType.UInt32 => value.ToString("0", CultureInfo.InvariantCulture),
        RegisterType.Int32 => value is < 0 and > -1e9 ? value.ToString("0", CultureInfo.InvariantCulture) : "",
        _ => Decoding.IsPlausible(value) ? Decoding.Text(value) : "",
    };

    private static IEnumerable<TextLine> Bits(ScannedBlock block)
    {
        yield return new TextLine($"{"addr",5} {string.Join(' ', Enumerable.Range(0, BitsInALine).Select(i => $"+{i:X}"))}", LineTone.Dim);
        for (var i = 0; i < block.Count; i += BitsInALine)
        {
            var bits = Enumerable.Range(i, Math.Min(BitsInALine, block.Count - i)).Select(index => block.StateOf(index) == ScannedState.Read ? block[index] == 0 ? " ." : " 1" : " ?");
            yield return new TextLine(string.Create(CultureInfo.InvariantCulture, $"{block.First + i,5} {string.Join(' ', bits)}"));
        }

        var on = Enumerable.Range(0, block.Count).Where(index => block.StateOf(index) == ScannedState.Read && block[index] != 0).Select(index => (block.First + index).ToString(CultureInfo.InvariantCulture)).ToList();
        yield return new TextLine(on.Count == 0 ? "No bit is set." : $"Set (1): {string.Join(", ", on.Take(60))}{(on.Count > 60 ? " and more" : "")}.");
        if (block.ReadCount < block.Count)
            yield return new TextLine("?: not read; the device has no such bit, or did not answer.", LineTone.Dim);
    }

    // How many follow that are not there, or not read, or all 0.
    private static int RunAt(ScannedBlock block, int index)
    {
        var state = block.StateOf(index);
        if (state == ScannedState.Read && block[index] != 0)
            return 1;
        var end = index + 1;
        while (end < block.Count && block.StateOf(end) == state && (state != ScannedState.Read || block[end] == 0))
            end++;
        return end - index;
    }

    private static string RunText(ScannedBlock block, int index, int run)
    {
        var range = run == 1
            ? string.Create(CultureInfo.InvariantCulture, $"{block.First + index,5}")
            : string.Create(CultureInfo.InvariantCulture, $"{block.First + index,5} to {block.First + index + run - 1}");
        return range + block.StateOf(index) switch
        {
            ScannedState.Read => ": all 0",
            ScannedState.NotThere => ": not there",
            ScannedState.NoAnswer => ": no answer",
            _ => ": not asked for",
        };
    }
}
