using System.Text;
using System.Text.Unicode;

namespace SawEdge.Gateway.Acquisition.Recordings;

/// <summary>Walks over the fields of one row, as slices of it; only a field with doubled quotes is copied, into the scratch space.</summary>
internal ref struct CsvFields
{
    private readonly Span<byte> _scratch;
    private readonly byte _separator;
    private ReadOnlySpan<byte> _rest;
    private bool _more;

    /// <summary>Starts at the first field.</summary>
    /// <param name="row">A row whose quotes are right.</param>
    /// <param name="scratch">As long as the row where it has quotes; may be empty where it has none.</param>
    /// <param name="separator">What stands between two fields.</param>
    public CsvFields(ReadOnlySpan<byte> row, Span<byte> scratch, byte separator = (byte)',')
    {
        _separator = separator;
        _rest = row;
        _scratch = scratch;
        _more = true;
    }

    /// <summary>The texts of all fields of a row; for headers.</summary>
    public static string[] Texts(ReadOnlySpan<byte> row, bool quoted, byte separator = (byte)',')
    {
        var texts = new List<string>();
        var fields = new CsvFields(row, quoted ? new byte[row.Length] : [], separator);
        while (fields.TryNext(out var field))
        {
            // What is no UTF-8 comes from a program of the time before it.
            texts.Add((Utf8.IsValid(field) ? Encoding.UTF8 : Encoding.Latin1).GetString(field));
        }

        return [.. texts];
    }

    /// <summary>Takes the next field.</summary>
    /// <param name="field">Its content without quotes; valid until the next call.</param>
    /// <returns>False when there is none left.</returns>
    public bool TryNext(out ReadOnlySpan<byte> field)
    {
        if (!_more)
        {
            field = default;
            return false;
        }

        if (!_rest.IsEmpty && _rest[0] == '"' && !_scratch.IsEmpty)
        {
            field = Unquote();
            return true;
        }

        var comma = _rest.IndexOf(_separator);
        if (comma < 0)
        {
            field = _rest;
            _more = false;
        }
        else
        {
            field = _rest[..comma];
            _rest = _rest[(comma + 1)..];
        }

        return true;
    }

    private ReadOnlySpan<byte> Unquote()
    {
        var length = 0;
        var i = 1;
        while (i < _rest.Length)
        {
            var quote = _rest[i..].IndexOf((byte)'"');
            if (quote < 0)
                quote = _rest.Length - i;
            _rest.Slice(i, quote).CopyTo(_scratch[length..]);
            length += quote;
            i += quote + 1;
            if (i >= _rest.Length || _rest[i] != '"')
                break;
            _scratch[length++] = (byte)'"';
            i++;
        }

        _more = i < _rest.Length && _rest[i] == _separator;
        _rest = _more ? _rest[(i + 1)..] : default;
        return _scratch[..length];
    }
}
