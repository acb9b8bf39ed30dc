using System.Text;
using Parquet;
using Parquet.Schema;

namespace SawEdge.Gateway.Formats.Tables;

/// <summary>
/// A column of texts. Each text is kept once, as UTF-8, as long as few are different; such a column gets a dictionary in the file. What is
/// no Unicode (half of a surrogate pair) becomes U+FFFD.
/// </summary>
internal sealed class ParquetTexts(DataField declared, DataField stored) : ParquetColumn(declared, stored)
{
    // More different texts in a row group than that, and a dictionary saves nothing.
    private const int MostDifferent = 16_384;

    // A longer text would cost more in the file's end than it lets a reader skip.
    private const int LongestBound = 64;

    private readonly Dictionary<string, int> _numbers = new(StringComparer.Ordinal);
    private readonly List<string> _texts = [];
    private readonly ParquetBuffer<byte> _utf8 = new();
    private readonly ParquetBuffer<int> _ends = new();
    private readonly ParquetBuffer<int> _values = new();
    private bool _isCounted = true;

    /// <inheritdoc/>
    public override long Bytes => base.Bytes + _utf8.Count + (sizeof(int) * (long)(_ends.Count + _values.Count));

    /// <inheritdoc/>
    public override async Task<ParquetBounds> WriteAsync(ParquetRowGroupWriter group, ParquetOptions options, ParquetScratch scratch, CancellationToken cancellation)
    {
        var bounds = Bounds(out var isOrderTheSame);
        var levels = Levels(scratch);

        // The library states the bounds of a dictionary in the page's head in the order of UTF-16, which is not the order of Parquet where
        // there are texts beyond U+FFFF and others from U+E000 on. Texts that are handed over as bytes get none there.
        if (_isCounted && isOrderTheSame && _texts.Count * 2 <= _values.Count)
        {
            options.ColumnEncodingHints[Declared.Path.ToString()] = EncodingHint.Dictionary;
            await group.WriteAllPartsAsync(Declared, Texts(scratch), levels, null, cancellation);
        }
        else
        {
            await group.WriteAllPartsAsync(Stored, Utf8(scratch), levels, null, cancellation);
        }

        return bounds.Least?.Length <= LongestBound && bounds.Greatest?.Length <= LongestBound ? bounds : default;
    }

    /// <inheritdoc/>
    public override void Clear()
    {
        base.Clear();
        _numbers.Clear();
        _texts.Clear();
        _utf8.Clear();
        _ends.Clear();
        _values.Clear();
        _isCounted = true;
    }

    /// <inheritdoc/>
    protected override void Add(in Cell cell)
    {
        var text = cell.Text;
        if (_isCounted && _numbers.TryGetValue(text, out var number))
        {
            _values.Add(number);
            return;
        }

        if (_isCounted && _texts.Count == MostDifferent)
        {
            _isCounted = false;
            _numbers.Clear();
            _texts.Clear();
        }

        if (_isCounted)
        {
            _numbers.Add(text, _ends.Count);
            _texts.Add(text);
        }

        _values.Add(_ends.Count);
        var most = Encoding.UTF8.GetMaxByteCount(text.Length);
        _utf8.Shorten(most - Encoding.UTF8.GetBytes(text, _utf8.Extend(most)));
        _ends.Add(_utf8.Count);
    }

    private ReadOnlyMemory<byte> Text(int number) => _utf8.Memory[(number == 0 ? 0 : _ends.Span[number - 1]).._ends.Span[number]];

    private ReadOnlyMemory<ReadOnlyMemory<char>> Texts(ParquetScratch scratch)
    {
        var texts = ParquetScratch.Room(ref scratch.Texts, _values.Count);
        var values = _values.Span;
        for (var i = 0; i < values.Length; i++)
            texts[i] = _texts[values[i]].AsMemory();
        return texts.AsMemory(0, values.Length);
    }

    private ReadOnlyMemory<ReadOnlyMemory<byte>> Utf8(ParquetScratch scratch)
    {
        var texts = ParquetScratch.Room(ref scratch.Utf8, _values.Count);
        var values = _values.Span;
        for (var i = 0; i < values.Length; i++)
            texts[i] = Text(values[i]);
        return texts.AsMemory(0, values.Length);
    }

    private ParquetBounds Bounds(out bool isOrderTheSame)
    {
        isOrderTheSame = true;
        if (_ends.Count == 0)
            return default;
        var (least, greatest) = (0, 0);
        for (var i = 1; i < _ends.Count; i++)
        {
            var text = Text(i).Span;
            if (text.SequenceCompareTo(Text(least).Span) < 0)
                least = i;
            if (text.SequenceCompareTo(Text(greatest).Span) > 0)
                greatest = i;
        }

        foreach (var text in _texts)
            isOrderTheSame &= string.CompareOrdinal(text, _texts[least]) >= 0 && string.CompareOrdinal(text, _texts[greatest]) <= 0;
        return new(Text(least).ToArray(), Text(greatest).ToArray());
    }
}
