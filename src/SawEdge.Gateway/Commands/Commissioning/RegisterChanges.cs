using System.Globalization;
using SawEdge.Gateway.Acquisition.Modbus;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Commands.Commissioning;

/// <summary>How far a number went under one decoding.</summary>
/// <param name="Least">The least.</param>
/// <param name="Greatest">The greatest.</param>
internal readonly record struct ValueSpan(double Least, double Greatest)
{
    /// <summary>No number at all.</summary>
    public static ValueSpan Nothing { get; } = new(double.NaN, double.NaN);

    /// <summary>With one more number.</summary>
    public ValueSpan With(double value) => new(Least <= value ? Least : value, Greatest >= value ? Greatest : value);
}

/// <summary>
/// What changes in a range that is read again and again: a head or a load that moves is found by its registers. Keeps, for each register, the
/// number of changes and how far it went under the common decodings.
/// </summary>
internal sealed class RegisterChanges
{
    /// <summary>The decodings that are followed.</summary>
    public static readonly IReadOnlyList<Decoding> Decodings =
    [
        new(RegisterType.UInt16, WordOrder.Abcd), new(RegisterType.Int16, WordOrder.Abcd),
        new(RegisterType.Float32, WordOrder.Abcd), new(RegisterType.Float32, WordOrder.Cdab),
        new(RegisterType.UInt32, WordOrder.Abcd), new(RegisterType.UInt32, WordOrder.Cdab),
    ];

    private readonly Entry[] _entries;
    private ScannedBlock? _last;

    /// <summary>Begins.</summary>
    /// <param name="count">Registers of the range.</param>
    public RegisterChanges(int count) => _entries = [.. Enumerable.Range(0, count).Select(_ => new Entry())];

    /// <summary>How often the range was read.</summary>
    public int Times { get; private set; }

    /// <summary>The registers that changed, by rising address.</summary>
    public IEnumerable<int> Changed => Enumerable.Range(0, _entries.Length).Where(i => _entries[i].Changes > 0);

    /// <summary>How often one changed from one reading to the next.</summary>
    public int ChangesOf(int index) => _entries[index].Changes;

    /// <summary>What it held at first.</summary>
    public ushort FirstOf(int index) => _entries[index].First;

    /// <summary>What it held at last.</summary>
    public ushort LastOf(int index) => _entries[index].Last;

    /// <summary>
    /// How far it went, with its neighbours where the decoding needs them; nothing where they did not change, were not read each time, or, for a
    /// floating number, held one that can hardly be meant.
    /// </summary>
    public ValueSpan SpanOf(int index, int decoding)
    {
        var length = Decodings[decoding].Length;
        if (index + length > _entries.Length || !Enumerable.Range(index, length).Any(i => _entries[i].Changes > 0))
            return ValueSpan.Nothing;
        var span = _entries[index].Spans[decoding];
        return _entries[index].Spoiled[decoding] ? ValueSpan.Nothing : span;
    }

    /// <summary>Takes a reading of the range.</summary>
    public void Take(ScannedBlock block)
    {
        Times++;
        for (var i = 0; i < _entries.Length; i++)
        {
            if (block.StateOf(i) != ScannedState.Read)
                continue;
            var entry = _entries[i];
            if (!entry.IsKnown)
                (entry.IsKnown, entry.First) = (true, block[i]);
            else if (entry.Last != block[i])
                entry.Changes++;
            entry.Last = block[i];
            for (var d = 0; d < Decodings.Count; d++)
            {
                if (!block.Has(i, Decodings[d].Length))
                    continue;
                var value = Decodings[d].Of(block.Words(i, Decodings[d].Length));
                entry.Spoiled[d] |= Decodings[d].IsFloat && !Decoding.IsPlausible(value);
                entry.Spans[d] = entry.Spans[d].With(value);
            }
        }

        _last = block;
    }

    /// <summary>The table of what changed.</summary>
    public IEnumerable<TextLine> Text()
    {
        if (_last is null)
            yield break;
        var changed = Changed.ToList();
        yield return new TextLine(string.Create(CultureInfo.InvariantCulture, $"Read {Times} times: {changed.Count} of {_entries.Length} registers changed."));
        if (changed.Count == 0)
            yield break;
        yield return new TextLine($"{"addr",5} {"changes",7} {"first",-5} {"last",-4}  {"least to greatest as",-22}", LineTone.Dim);
        foreach (var i in changed)
        {
            var ways = Enumerable.Range(0, Decodings.Count).Where(d => Decodings[d].Length == 1 && Worth(i, d)).ToList();
            yield return new TextLine(string.Create(CultureInfo.InvariantCulture, $"{_last.First + i,5} {ChangesOf(i),7} {FirstOf(i):X4}  {LastOf(i):X4}  {string.Join("   ", ways.Select(d => Way(i, d)))}"));
        }

        // A long number may begin one register before the one that changed.
        var pairs = changed.SelectMany(i => new[] { i - 1, i }).Where(i => i >= 0).Distinct()
            .SelectMany(i => Enumerable.Range(0, Decodings.Count).Where(d => Decodings[d].Length == 2 && Worth(i, d)).Select(d => (Index: i, Decoding: d))).ToList();
        if (pairs.Count == 0)
            yield break;
        yield return new TextLine("With the next register:", LineTone.Dim);
        foreach (var (index, decoding) in pairs)
            yield return new TextLine(string.Create(CultureInfo.InvariantCulture, $"{_last.First + index,5}  {Way(index, decoding)}"));
    }

    private string Way(int index, int decoding)
    {
        var span = SpanOf(index, decoding);
        return $"{Decodings[decoding].TypeName}{(Decodings[decoding].Length > 1 ? " " + Decodings[decoding].OrderName : "")} {Number(span.Least, decoding)} to {Number(span.Greatest, decoding)}";
    }

    private static string Number(double value, int decoding) =>
        Decodings[decoding].IsFloat ? Decoding.Text(value) : value.ToString("0", CultureInfo.InvariantCulture);

    // A number that jumps over its whole range is hardly one; a signed one is told where it says more than the other.
    private bool Worth(int index, int decoding)
    {
        var span = SpanOf(index, decoding);
        if (double.IsNaN(span.Least))
            return false;
        return Decodings[decoding].Type switch
        {
            RegisterType.Int16 => span.Least < 0,
            RegisterType.UInt32 => CarriesOver(index, Decodings[decoding].Order),
            RegisterType.Float32 => span.Greatest > span.Least,
            _ => true,
        };
    }

    // The upper half of a long number changes, and more seldom than the lower one.
    private bool CarriesOver(int index, WordOrder order)
    {
        var (upper, lower) = order == WordOrder.Abcd ? (index, index + 1) : (index + 1, index);
        return ChangesOf(upper) > 0 && 2 * ChangesOf(upper) < ChangesOf(lower);
    }

    private sealed class Entry
    {
        public bool IsKnown { get; set; }

        public ushort First { get; set; }

        public ushort Last { get; set; }

        public int Changes { get; set; }

        public ValueSpan[] Spans { get; } = [.. Decodings.Select(_ => ValueSpan.Nothing)];

        public bool[] Spoiled { get; } = new bool[Decodings.Count];
    }
}
