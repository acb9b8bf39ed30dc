using SawEdge.Core.Signals;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Formats;

namespace SawEdge.Gateway.Acquisition.Mqtt;

/// <summary>
/// Puts what a payload says into a frame: value = raw * scale + offset, with its quality. Strict about types: a text where a number
/// is due is no number, whatever stands in it, because a publisher that changes its types is broken.
/// </summary>
internal sealed class MappedSignal
{
    private const double LargestWhole = 9_007_199_254_740_992; // 2^53

    private readonly TextCache _texts = new(16);
    private readonly SignalInfo _info;

    public MappedSignal(MqttMapping mapping)
    {
        Mapping = mapping;
        _info = SignalInfo.Of(mapping.Signal);
    }

    public MqttMapping Mapping { get; }

    public Signal Signal => _info.Signal;

    public string Name => _info.Name;

    public SignalKind Kind => _info.Kind;

    /// <summary>What the signal's values should be, for a message.</summary>
    public string Expected => _info.Kind switch
    {
        SignalKind.Flag => "true, false, 1 or 0",
        SignalKind.Integer => "a whole number",
        SignalKind.Number => "a number",
        _ => "a text",
    };

    /// <summary>Sets from a number as it is written.</summary>
    /// <returns>Whether the signal can be such a value.</returns>
    public bool SetNumber(ReadOnlySpan<byte> text, ref SignalFrame frame)
    {
        if (_info.Kind == SignalKind.Text)
            return SetText(text, ref frame);
        if (!NumberText.TryParse(text, out var raw) || !double.IsFinite(raw))
            return SetInvalid(ref frame);
        if (_info.Kind == SignalKind.Flag)
            return raw is 0 or 1 ? Set(raw, ref frame) : SetInvalid(ref frame);

        var value = (raw * Mapping.Scale) + Mapping.Offset;
        if (_info.Kind == SignalKind.Integer && (Math.Abs(value) > LargestWhole || Math.Floor(value) != value))
            return SetInvalid(ref frame);
        if (value < Mapping.Minimum || value > Mapping.Maximum)
        {
            frame.Mark(Signal, SignalQuality.OutOfRange);
            return true;
        }

        return Set(value, ref frame);
    }

    /// <inheritdoc cref="SetNumber"/>
    public bool SetFlag(bool value, ref SignalFrame frame) => _info.Kind switch
    {
        SignalKind.Flag => Set(value ? 1 : 0, ref frame),
        SignalKind.Text => SetText(value ? "true"u8 : "false"u8, ref frame),
        _ => SetInvalid(ref frame),
    };

    /// <inheritdoc cref="SetNumber"/>
    public bool SetText(ReadOnlySpan<byte> text, ref SignalFrame frame)
    {
        if (_info.Kind != SignalKind.Text)
            return SetInvalid(ref frame);
        frame.Set(Signal, _texts.Get(text));
        return true;
    }

    /// <summary>Sets from a topic's payload: the bare value. An empty payload says that there is none.</summary>
    /// <returns>Whether the signal can be such a value.</returns>
    public bool SetBare(ReadOnlySpan<byte> payload, ref SignalFrame frame)
    {
        payload = payload.Trim(" \t\r\n"u8);
        if (payload.IsEmpty)
        {
            frame.Mark(Signal, SignalQuality.NotRead);
            return true;
        }

        if (_info.Kind == SignalKind.Text)
            return SetText(payload, ref frame);
        if (_info.Kind == SignalKind.Flag && System.Text.Ascii.EqualsIgnoreCase(payload, "true"u8))
            return SetFlag(true, ref frame);
        if (_info.Kind == SignalKind.Flag && System.Text.Ascii.EqualsIgnoreCase(payload, "false"u8))
            return SetFlag(false, ref frame);
        return SetNumber(payload, ref frame);
    }

    /// <summary>Marks what cannot be a value of this signal.</summary>
    public bool SetInvalid(ref SignalFrame frame)
    {
        frame.Mark(Signal, SignalQuality.Invalid);
        return false;
    }

    private bool Set(double value, ref SignalFrame frame)
    {
        frame.Set(Signal, value);
        return true;
    }
}
