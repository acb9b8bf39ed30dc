using SawEdge.Core.Signals;

namespace SawEdge.Core.Alarms;

/// <summary>
/// One signal over the frames. Frames that do not read it say nothing, so that it does not matter in which of them it comes; where
/// it stays away for much longer than it uses to, nobody knows what it was meanwhile.
/// </summary>
internal sealed class SignalTrack(Signal signal)
{
    private const long LeastPatienceTicks = 5 * TimeSpan.TicksPerSecond;
    private const long Never = long.MinValue;

    private long _lastTicks = Never;
    private long _usualTicks;

    public Signal Signal => signal;

    public bool IsText { get; } = !SignalInfo.IsNumeric(signal);

    /// <summary>The number last read; NaN where it was not usable.</summary>
    public double Number { get; private set; } = double.NaN;

    /// <summary>The text last read; null where it was not usable.</summary>
    public string? Text { get; private set; }

    /// <summary>Whether the frame said something of it, be it that it has no usable value.</summary>
    public bool IsRead { get; private set; }

    /// <summary>Whether it comes again after it had stayed away.</summary>
    public bool IsBack { get; private set; }

    private long PatienceTicks => Math.Max(LeastPatienceTicks, 3 * _usualTicks);

    public void Read(in SignalFrame frame, long ticks)
    {
        var quality = frame.QualityOf(signal);
        IsRead = quality != SignalQuality.NotRead;
        IsBack = false;
        if (!IsRead)
            return;
        if (quality != SignalQuality.Good)
        {
            (Number, Text) = (double.NaN, null);
            return;
        }

        if (_lastTicks != Never)
        {
            var distance = ticks - _lastTicks;
            IsBack = distance < 0 || distance > PatienceTicks;
            if (distance > 0)
                _usualTicks = _usualTicks == 0 ? distance : _usualTicks + ((Math.Min(distance, 2 * _usualTicks) - _usualTicks) / 4);
        }

        _lastTicks = ticks;
        if (IsText)
            Text = frame.Text(signal);
        else
            Number = frame.Number(signal);
    }

    /// <summary>Whether what was last read may still be taken for what is.</summary>
    public bool IsFresh(long ticks) => _lastTicks != Never && ticks >= _lastTicks && ticks - _lastTicks <= PatienceTicks && (IsText ? Text is not null : !double.IsNaN(Number));

    /// <summary>The number, or NaN where it is not fresh.</summary>
    public double NumberAt(long ticks) => IsFresh(ticks) ? Number : double.NaN;
}
