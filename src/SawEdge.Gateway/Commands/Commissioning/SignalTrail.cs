using System.Globalization;
using System.Text;
using SawEdge.Core.Signals;

namespace SawEdge.Gateway.Commands.Commissioning;

/// <summary>The latest raw and decoded value of one signal, and its least and greatest value since the start.</summary>
internal sealed class SignalTrail(SignalPlace place)
{
    /// <summary>Of a text as it came, so many bytes are kept.</summary>
    public const int MostBytes = 256;

    private ushort[] _words = [];
    private byte[] _bytes = [];
    private int _length;
    private bool _bit;
    private Came _came;
    private long? _cameAt;
    private SignalFrame _frame;
    private double _minimum = double.NaN;
    private double _maximum = double.NaN;
    private bool? _lastFlag;
    private string? _lastText;
    private long _changes;

    private enum Came : byte
    {
        Nothing,
        Words,
        Bit,
        Text,
    }

    /// <summary>The signal.</summary>
    public SignalPlace Place => place;

    /// <summary>Registers came.</summary>
    public void CameAs(ReadOnlySpan<ushort> words, long now)
    {
        if (_words.Length != words.Length)
            _words = new ushort[words.Length];
        words.CopyTo(_words);
        (_came, _cameAt) = (Came.Words, now);
    }

    /// <summary>A bit came.</summary>
    public void CameAs(bool bit, long now) => (_bit, _came, _cameAt) = (bit, Came.Bit, now);

    /// <summary>A text came.</summary>
    public void CameAs(ReadOnlySpan<byte> text, long now)
    {
        if (_bytes.Length == 0)
            _bytes = new byte[MostBytes];
        _length = Math.Min(text.Length, MostBytes);
        text[.._length].CopyTo(_bytes);
        (_came, _cameAt) = (Came.Text, now);
    }

    /// <summary>A frame came.</summary>
    public void Take(in SignalFrame frame, long now)
    {
        _frame = frame;
        if (!frame.Has(place.Signal))
            return;
        if (_came == Came.Nothing)
            _cameAt = now;
        switch (place.Info.Kind)
        {
            case SignalKind.Flag:
                var flag = frame.Flag(place.Signal);
                _changes += _lastFlag is not null && flag != _lastFlag ? 1 : 0;
                _lastFlag = flag;
                break;
            case SignalKind.Text:
                var text = frame.Text(place.Signal);
                _changes += _lastText is not null && text != _lastText ? 1 : 0;
                _lastText = text;
                break;
            default:
                var value = frame.Number(place.Signal);
                _minimum = value >= _minimum ? _minimum : value;
                _maximum = value <= _maximum ? _maximum : value;
                break;
        }
    }

    /// <summary>What there is to see now.</summary>
    public SignalMoment Look(TimeProvider time, long now) => new()
    {
        Place = place,
        Raw = Raw(),
        Quality = _frame.QualityOf(place.Signal),
        Number = _frame.Number(place.Signal),
        Flag = place.Info.Kind == SignalKind.Flag ? _frame.Flag(place.Signal) : null,
        Text = _frame.Text(place.Signal) is { } text ? ControllerText.Clean(text) : null,
        OutOfRange = _frame.QualityOf(place.Signal) == SignalQuality.OutOfRange ? Unlimited() : double.NaN,
        Age = _cameAt is { } at ? time.GetElapsedTime(at, now) : null,
        Minimum = _minimum,
        Maximum = _maximum,
        Changes = _changes,
    };

    private double Unlimited() => _came switch
    {
        Came.Words => place.Unlimited(_words),
        Came.Text => place.Unlimited(_bytes.AsSpan(0, _length)),
        _ => double.NaN,
    };

    private string Raw() => _came switch
    {
        Came.Words => string.Join(' ', _words.Select(word => word.ToString("X4", CultureInfo.InvariantCulture))),
        Came.Bit => _bit ? "1" : "0",
        Came.Text => ControllerText.Clean(Encoding.UTF8.GetString(_bytes, 0, _length)),
        _ => "",
    };
}
