using System.Globalization;
using System.Text;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Formats;

namespace SawEdge.Gateway.Acquisition;

/// <summary>
/// Puts what comes as a number, a yes or no, or a text into a frame, with its quality. Strict about types: a text where a number
/// is due is no number, whatever stands in it, because a publisher that changes its types is broken.
/// </summary>
internal class MappedSignal
{
    private const double LargestWhole = 9_007_199_254_740_992; // 2^53

    private readonly TextCache _texts = new(16);
    private readonly SignalInfo _info;
    private readonly ValueMapping _mapping;
    private readonly (byte[] Raw, string Text)[] _codes;
    private readonly byte[][] _yes;

    public MappedSignal(ValueMapping mapping)
    {
        _mapping = mapping;
        _info = SignalInfo.Of(mapping.Signal);
        _codes = [.. (mapping.Texts ?? new Dictionary<string, string>()).Select(pair => (Encoding.UTF8.GetBytes(pair.Key), pair.Value))];
        _yes = [.. (mapping.Values ?? []).Select(Encoding.UTF8.GetBytes)];
    }

    public Signal Signal => _info.Signal;

    public string Name => _info.Name;

    public SignalKind Kind => _info.Kind;

    /// <summary>What the signal's values should be, for a message.</summary>
    public string Expected => _info.Kind switch
    {
        SignalKind.Flag when _yes.Length > 0 => "a number, a text, true or false",
        SignalKind.Flag => "true, false, 1 or 0",
        SignalKind.Integer => "a whole number",
        SignalKind.Number => "a number",
        _ when _codes.Length > 0 => $"one of {string.Join(", ", _mapping.Texts!.Keys)}",
        _ => "a text",
    };

    /// <summary>Sets from a number as it is written.</summary>
    /// <returns>Whether the signal can be such a value.</returns>
    public bool SetNumber(ReadOnlySpan<byte> text, ref SignalFrame frame)
    {
        if (_info.Kind == SignalKind.Text || _yes.Length > 0)
            return SetText(text, ref frame);
        return NumberText.TryParse(text, out var raw) ? SetValue(raw, ref frame) : SetInvalid(ref frame);
    }

    /// <summary>Sets from a number.</summary>
    /// <returns>Whether the signal can be such a value.</returns>
    public bool SetNumber(double raw, ref SignalFrame frame)
    {
        if (_info.Kind != SignalKind.Text && _yes.Length == 0)
            return SetValue(raw, ref frame);
        Span<byte> text = stackalloc byte[32];
        return raw.TryFormat(text, out var length, default, CultureInfo.InvariantCulture) ? SetText(text[..length], ref frame) : SetInvalid(ref frame);
    }

    /// <inheritdoc cref="SetNumber(double, ref SignalFrame)"/>
    public bool SetFlag(bool value, ref SignalFrame frame) => _info.Kind switch
    {
        SignalKind.Flag when _yes.Length == 0 => SetYes(value, ref frame),
        SignalKind.Flag or SignalKind.Text => SetText(value ? "true"u8 : "false"u8, ref frame),
        _ => SetInvalid(ref frame),
    };

    /// <inheritdoc cref="SetNumber(double, ref SignalFrame)"/>
    public bool SetText(ReadOnlySpan<byte> text, ref SignalFrame frame)
    {
        if (_info.Kind == SignalKind.Flag && _yes.Length > 0)
            return SetYes(IsYes(text), ref frame);
        if (_info.Kind != SignalKind.Text)
            return SetInvalid(ref frame);
        if (_codes.Length == 0)
        {
            frame.Set(Signal, _texts.Get(text));
            return true;
        }

        foreach (var (raw, meaning) in _codes)
        {
            if (!text.SequenceEqual(raw))
                continue;
            frame.Set(Signal, meaning);
            return true;
        }

        return SetInvalid(ref frame);
    }

    /// <summary>Sets from a value that stands alone, without a type of its own. An empty one says that there is none.</summary>
    /// <returns>Whether the signal can be such a value.</returns>
    public bool SetBare(ReadOnlySpan<byte> payload, ref SignalFrame frame)
    {
        payload = payload.Trim(" \t\r\n"u8);
        if (payload.IsEmpty)
        {
            frame.Mark(Signal, SignalQuality.NotRead);
            return true;
        }

        if (_info.Kind == SignalKind.Text || _yes.Length > 0)
            return SetText(payload, ref frame);
        if (_info.Kind == SignalKind.Flag && Ascii.EqualsIgnoreCase(payload, "true"u8))
            return SetFlag(true, ref frame);
        if (_info.Kind == SignalKind.Flag && Ascii.EqualsIgnoreCase(payload, "false"u8))
            return SetFlag(false, ref frame);
        return SetNumber(payload, ref frame);
    }

    /// <summary>Marks what cannot be a value of this signal.</summary>
    public bool SetInvalid(ref SignalFrame frame)
    {
        frame.Mark(Signal, SignalQuality.Invalid);
        return false;
    }

    private bool SetValue(double raw, ref SignalFrame frame)
    {
        if (!double.IsFinite(raw))
            return SetInvalid(ref frame);
        if (_info.Kind == SignalKind.Flag)
            return raw is 0 or 1 ? SetYes(raw == 1, ref frame) : SetInvalid(ref frame);

        var value = _mapping.Conversion.Apply(raw);
        if (!double.IsFinite(value) || (_info.Kind == SignalKind.Integer && (Math.Abs(value) > LargestWhole || Math.Floor(value) != value)))
            return SetInvalid(ref frame);
        if (value < _mapping.Minimum || value > _mapping.Maximum)
            frame.Mark(Signal, SignalQuality.OutOfRange);
        else
            frame.Set(Signal, value);
        return true;
    }

    private bool SetYes(bool value, ref SignalFrame frame)
    {
        frame.Set(Signal, value != _mapping.Invert);
        return true;
    }

    private bool IsYes(ReadOnlySpan<byte> text)
    {
        foreach (var yes in _yes)
        {
            if (text.SequenceEqual(yes))
                return true;
        }

        return false;
    }
}
