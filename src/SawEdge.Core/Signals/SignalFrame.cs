using System.Runtime.CompilerServices;

namespace SawEdge.Core.Signals;

/// <summary>
/// Everything one saw told at one moment: a value and a quality for each signal. A plain value, so that
/// frames pass through channels and the detector without an allocation. A default frame holds nothing.
/// </summary>
public struct SignalFrame
{
    private NumberSlots _numbers;
    private TextSlots _texts;
    private ulong _qualities;

    /// <summary>Starts a frame in which nothing was read yet.</summary>
    /// <param name="time">The moment the values belong to; kept as UTC.</param>
    public SignalFrame(DateTimeOffset time)
    {
        Time = time.ToUniversalTime();
    }

    /// <summary>The moment the values belong to, UTC.</summary>
    public DateTimeOffset Time { readonly get; set; }

    /// <summary>The quality of one signal in this frame.</summary>
    public readonly SignalQuality QualityOf(Signal signal) => (SignalQuality)((_qualities >> ((int)signal * 4)) & 0xF);

    /// <summary>Whether the signal was read and may be used.</summary>
    public readonly bool Has(Signal signal) => QualityOf(signal) == SignalQuality.Good;

    /// <summary>Whether any signal was read and may be used. Where none was, the frame says that nobody sees the saw.</summary>
    public readonly bool HasAny
    {
        get
        {
            for (var i = 0; i < SignalInfo.Count; i++)
            {
                if (Has((Signal)i))
                    return true;
            }

            return false;
        }
    }

    /// <summary>
    /// Sets a number, flag (0 or 1) or integer with good quality; a value that is no finite number is marked
    /// <see cref="SignalQuality.Invalid"/> instead.
    /// </summary>
    /// <exception cref="ArgumentException">The signal is a text.</exception>
    public void Set(Signal signal, double value)
    {
        if (!SignalInfo.IsNumeric(signal))
            throw new ArgumentException($"{signal} is a text, not a number.", nameof(signal));
        if (!double.IsFinite(value))
        {
            Mark(signal, SignalQuality.Invalid);
            return;
        }

        _numbers[(int)signal] = value;
        SetQuality(signal, SignalQuality.Good);
    }

    /// <summary>Sets a flag with good quality.</summary>
    public void Set(Signal signal, bool value) => Set(signal, value ? 1.0 : 0.0);

    /// <summary>Sets a text with good quality; an empty text counts as not read.</summary>
    /// <exception cref="ArgumentException">The signal is no text.</exception>
    public void Set(Signal signal, string? value)
    {
        if (SignalInfo.IsNumeric(signal))
            throw new ArgumentException($"{signal} is a number, not a text.", nameof(signal));
        if (string.IsNullOrEmpty(value))
        {
            Mark(signal, SignalQuality.NotRead);
            return;
        }

        _texts[(int)signal - SignalInfo.NumericCount] = value;
        SetQuality(signal, SignalQuality.Good);
    }

    /// <summary>States why a signal has no usable value; whatever value it had is forgotten.</summary>
    /// <exception cref="ArgumentException">The quality is <see cref="SignalQuality.Good"/>, which needs a value.</exception>
    public void Mark(Signal signal, SignalQuality quality)
    {
        if (quality == SignalQuality.Good)
            throw new ArgumentException("Good quality needs a value.", nameof(quality));
        if (SignalInfo.IsNumeric(signal))
            _numbers[(int)signal] = 0;
        else
            _texts[(int)signal - SignalInfo.NumericCount] = null;
        SetQuality(signal, quality);
    }

    /// <summary>The number, or NaN where the signal has no usable value.</summary>
    public readonly double Number(Signal signal) => Has(signal) && SignalInfo.IsNumeric(signal) ? _numbers[(int)signal] : double.NaN;

    /// <summary>The flag, or null where the signal has no usable value.</summary>
    public readonly bool? Flag(Signal signal) => Has(signal) && SignalInfo.IsNumeric(signal) ? _numbers[(int)signal] != 0 : null;

    /// <summary>The text, or null where the signal has no usable value.</summary>
    public readonly string? Text(Signal signal) => Has(signal) && !SignalInfo.IsNumeric(signal) ? _texts[(int)signal - SignalInfo.NumericCount] : null;

    private void SetQuality(Signal signal, SignalQuality quality)
    {
        var shift = (int)signal * 4;
        _qualities = (_qualities & ~(0xFUL << shift)) | ((ulong)quality << shift);
    }

    [InlineArray(SignalInfo.NumericCount)]
    private struct NumberSlots
    {
        private double _first;
    }

    [InlineArray(SignalInfo.TextCount)]
    private struct TextSlots
    {
        private string? _first;
    }
}
