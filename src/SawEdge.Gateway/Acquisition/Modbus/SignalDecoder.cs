using System.Globalization;
using System.Text;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Acquisition.Modbus;

/// <summary>
/// Turns what one mapping reads into its signal in a frame: converted, with the quality. Remembers the last
/// text, so that a text that does not change costs no memory.
/// </summary>
internal sealed class SignalDecoder
{
    private readonly SignalInfo _info;
    private readonly ushort[] _lastWords;
    private string? _lastText;

    public SignalDecoder(RegisterMapping mapping)
    {
        Mapping = mapping;
        _info = SignalInfo.Of(mapping.Signal);
        IsBit = mapping.Table is RegisterTable.Coil or RegisterTable.DiscreteInput;
        Length = IsBit ? 1 : mapping.Count;
        if (Length < 1 || mapping.Address + Length > 65536)
            throw new ArgumentException($"{_info.Name}: {Length} registers from address {mapping.Address} do not lie within 0 to 65535.", nameof(mapping));
        _lastWords = new ushort[Length];
    }

    /// <summary>The mapping.</summary>
    public RegisterMapping Mapping { get; }

    /// <summary>Registers or bits that it covers.</summary>
    public int Length { get; }

    /// <summary>Whether it lies in a table of bits.</summary>
    public bool IsBit { get; }

    /// <summary>Address after its last.</summary>
    public int End => Mapping.Address + Length;

    /// <summary>Puts a bit's signal into the frame.</summary>
    public void Decode(bool bit, ref SignalFrame frame)
    {
        if (_info.Kind == SignalKind.Text)
            SetText(bit ? "1" : "0", bit ? 1 : 0, ref frame);
        else
            SetNumber(bit ? 1 : 0, ref frame);
    }

    /// <summary>Puts the signal of registers into the frame.</summary>
    /// <param name="words">As many registers as <see cref="Length"/>.</param>
    /// <param name="frame">The frame.</param>
    public void Decode(ReadOnlySpan<ushort> words, ref SignalFrame frame)
    {
        if (_info.Kind == SignalKind.Text)
        {
            DecodeText(words, ref frame);
            return;
        }

        if (Mapping.Type == RegisterType.Ascii)
        {
            frame.Mark(_info.Signal, SignalQuality.Invalid);
            return;
        }

        var bits = RegisterValue.Bits(words, Mapping.Order);
        if (Mapping.Bit is { } bit)
            SetNumber((bits >> bit) & 1, ref frame);
        else if (Mapping.Type == RegisterType.Bool)
            SetNumber(bits != 0 ? 1 : 0, ref frame);
        else if (Mapping.Values is not null)
            SetByValue(RegisterValue.Whole(bits, Mapping.Type), ref frame);
        else
            SetNumber(RegisterValue.Number(bits, Mapping.Type), ref frame);
    }

    private void SetNumber(double raw, ref SignalFrame frame)
    {
        if (!double.IsFinite(raw))
        {
            frame.Mark(_info.Signal, SignalQuality.Invalid);
            return;
        }

        if (_info.Kind == SignalKind.Flag)
        {
            frame.Set(_info.Signal, (raw != 0) != Mapping.Invert);
            return;
        }

        var value = Mapping.Conversion.Apply(raw);
        if (_info.Kind == SignalKind.Integer)
            value = Math.Round(value);
        if (!double.IsFinite(value))
            frame.Mark(_info.Signal, SignalQuality.Invalid);
        else if (value < Mapping.Minimum || value > Mapping.Maximum)
            frame.Mark(_info.Signal, SignalQuality.OutOfRange);
        else
            frame.Set(_info.Signal, value);
    }

    /// <summary>A flag from a number that says more than yes and no, for example a state.</summary>
    private void SetByValue(long? value, ref SignalFrame frame)
    {
        if (value is { } state)
            SetNumber(Mapping.Values!.Contains(state) ? 1 : 0, ref frame);
        else
            frame.Mark(_info.Signal, SignalQuality.Invalid);
    }

    private void DecodeText(ReadOnlySpan<ushort> words, ref SignalFrame frame)
    {
        if (_lastText is not null && words.SequenceEqual(_lastWords))
        {
            frame.Set(_info.Signal, _lastText);
            return;
        }

        words.CopyTo(_lastWords);
        _lastText = null;
        if (Mapping.Type == RegisterType.Ascii)
        {
            _lastText = ControllerText.Clean(Characters(words));
            frame.Set(_info.Signal, _lastText);
            return;
        }

        var bits = RegisterValue.Bits(words, Mapping.Order);
        if (Mapping.Bit is { } bit)
            bits = (bits >> bit) & 1;
        if (RegisterValue.Whole(bits, Mapping.Type) is { } code)
            SetText(null, code, ref frame);
        else
            frame.Mark(_info.Signal, SignalQuality.Invalid);
    }

    /// <summary>A code's text from the mapping's list; without a list, the number itself is the text.</summary>
    private void SetText(string? number, long code, ref SignalFrame frame)
    {
        if (Mapping.Texts is null)
            _lastText = number ?? code.ToString(CultureInfo.InvariantCulture);
        else if (Mapping.Texts.TryGetValue(code, out var text))
            _lastText = text;
        else
            _lastText = null;

        if (_lastText is null)
            frame.Mark(_info.Signal, SignalQuality.Invalid);
        else
            frame.Set(_info.Signal, _lastText);
    }

    /// <summary>Two characters a register up to the first NUL. Bytes past ASCII are taken as Latin-1, which is what controllers that have them mean.</summary>
    private string Characters(ReadOnlySpan<ushort> words)
    {
        Span<byte> bytes = stackalloc byte[2 * 125];
        var count = 0;
        foreach (var word in words[..Math.Min(words.Length, 125)])
        {
            var ordered = RegisterValue.Word(word, Mapping.Order);
            bytes[count++] = (byte)(ordered >> 8);
            bytes[count++] = (byte)ordered;
        }

        var end = bytes[..count].IndexOf((byte)0);
        return Encoding.Latin1.GetString(bytes[..(end < 0 ? count : end)]);
    }
}
