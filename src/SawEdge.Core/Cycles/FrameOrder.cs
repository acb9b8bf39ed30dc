using SawEdge.Core.Signals;

namespace SawEdge.Core.Cycles;

/// <summary>
/// Puts frames onto a time axis of their own that only rises. Duplicates and stragglers are dropped and counted; a
/// clock that was set back while frames kept coming is recognised by several frames that rise among themselves, and
/// the axis goes on without a break.
/// </summary>
internal sealed class FrameOrder
{
    /// <summary>Frames behind the last one that must rise among themselves before a set-back clock is believed.</summary>
    private const int ProofOfStep = 3;

    private const int Remembered = 1024;

    private readonly long[] _seenTimes = new long[Remembered];
    private readonly long[] _seenContents = new long[Remembered];
    private readonly SignalFrame[] _behind = new SignalFrame[ProofOfStep];
    private int _seen;
    private int _behindCount;
    private long _lastClock = long.MinValue;
    private long _lastAxis;
    private long _usualInterval = TimeSpan.TicksPerSecond / 10;

    /// <summary>What to add to the axis to get the clock of the frames, ticks.</summary>
    public long ClockOffset { get; private set; }

    /// <summary>Frames dropped because they had been seen or came too late.</summary>
    public long Dropped { get; private set; }

    /// <summary>By how much the clock was set back, ticks, the last time that was recognised; 0: never.</summary>
    public long LastStep { get; private set; }

    /// <summary>Frames that <see cref="Admit"/> released together, in order.</summary>
    public ReadOnlySpan<SignalFrame> Released => _behind.AsSpan(0, ProofOfStep);

    /// <summary>Places a frame on the axis.</summary>
    /// <param name="frame">The frame.</param>
    /// <param name="axis">Its time on the axis; with <see cref="Verdict.Stepped"/> that of the first released frame.</param>
    /// <returns>What to do with it.</returns>
    public Verdict Admit(in SignalFrame frame, out long axis)
    {
        var clock = frame.Time.UtcTicks;
        if (clock > _lastClock)
        {
            if (_lastClock != long.MinValue)
            {
                // Follows the usual spacing slowly; a gap must not become the usual.
                var interval = Math.Min(clock - _lastClock, _usualInterval * 2);
                _usualInterval += (interval - _usualInterval) / 16;
            }

            Dropped += _behindCount;
            _behindCount = 0;
            _lastClock = clock;
            axis = clock - ClockOffset;
            _lastAxis = axis;
            Remember(frame);
            return Verdict.Take;
        }

        axis = 0;
        if (clock == _lastClock || WasSeen(frame))
        {
            Dropped++;
            return Verdict.Drop;
        }

        if (_behindCount > 0 && clock <= _behind[_behindCount - 1].Time.UtcTicks)
        {
            Dropped += _behindCount;
            _behindCount = 0;
        }

        _behind[_behindCount++] = frame;
        if (_behindCount < ProofOfStep)
            return Verdict.Drop;

        _behindCount = 0;
        var first = _behind[0].Time.UtcTicks;
        axis = _lastAxis + _usualInterval;
        LastStep = _lastClock - first + _usualInterval;
        ClockOffset = first - axis;
        _lastClock = clock;
        _lastAxis = clock - ClockOffset;
        foreach (ref readonly var released in Released)
            Remember(released);
        return Verdict.Stepped;
    }

    // Not HashCode.Combine: its seed differs from process to process, and the domain is deterministic.
    private static long ContentOf(in SignalFrame frame)
    {
        var content = BitConverter.DoubleToInt64Bits(frame.Number(Signal.HeadPosition));
        content = (content * 31) ^ BitConverter.DoubleToInt64Bits(frame.Number(Signal.MotorLoad));
        content = (content * 31) ^ BitConverter.DoubleToInt64Bits(frame.Number(Signal.Cutting));
        content = (content * 31) ^ BitConverter.DoubleToInt64Bits(frame.Number(Signal.CycleActive));
        return (content * 31) ^ BitConverter.DoubleToInt64Bits(frame.Number(Signal.PartCount));
    }

    private void Remember(in SignalFrame frame)
    {
        _seenTimes[_seen % Remembered] = frame.Time.UtcTicks;
        _seenContents[_seen % Remembered] = ContentOf(frame);
        _seen++;
    }

    private bool WasSeen(in SignalFrame frame)
    {
        var clock = frame.Time.UtcTicks;
        var content = ContentOf(frame);
        for (var i = 0; i < Math.Min(_seen, Remembered); i++)
        {
            if (_seenTimes[i] == clock && _seenContents[i] == content)
                return true;
        }

        return false;
    }

    /// <summary>What to do with a frame.</summary>
    public enum Verdict
    {
        /// <summary>It follows the last one: take it.</summary>
        Take,

        /// <summary>Seen before, or behind the last one: leave it.</summary>
        Drop,

        /// <summary>The clock was set back: take all of <see cref="Released"/>.</summary>
        Stepped,
    }
}
