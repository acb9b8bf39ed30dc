using System.Globalization;
using Microsoft.Extensions.Logging;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Formats;

namespace SawEdge.Gateway.Acquisition.Mqtt;

/// <summary>What is wrong with one saw's messages, said once each.</summary>
internal sealed class SawTroubles : IValueListener
{
    private readonly string _saw;
    private readonly ILogger _logger;
    private readonly IRawValueObserver? _observer;
    private readonly Trouble _payload;
    private readonly Trouble _time;
    private readonly Trouble _order;
    private readonly Trouble _clock;
    private readonly Trouble[] _values;

    public SawTroubles(string saw, TimeProvider time, ILogger logger, SourceErrors errors, IRawValueObserver? observer = null)
    {
        _saw = saw;
        _logger = logger;
        _observer = observer;
        _payload = new Trouble(time, () => errors.Count(SourceError.Payload));
        _time = new Trouble(time, () => errors.Count(SourceError.Time));
        _order = new Trouble(time, () => errors.Count(SourceError.Order));
        _clock = new Trouble(time);
        _values = [.. Enumerable.Range(0, SignalInfo.Count).Select(_ => new Trouble(time, () => errors.Count(SourceError.Value)))];
    }

    /// <summary>A frame's payload was looked at.</summary>
    public void Payload(string topic, string? reason)
    {
        if (reason is not null && _payload.Comes())
            MqttLog.PayloadIsUseless(_logger, _saw, ControllerText.Clean(topic), reason);
        else if (reason is null && _payload.StaysAway())
            MqttLog.PayloadIsUsed(_logger, _saw, ControllerText.Clean(topic), _payload.Count);
    }

    /// <summary>The time of a frame's payload is good.</summary>
    public void TimeIsGood()
    {
        if (_time.StaysAway())
            MqttLog.TimeIsUsed(_logger, _saw, _time.Count);
    }

    /// <summary>A frame's payload said no time, or something else.</summary>
    public void TimeIsUnreadable(bool missing)
    {
        if (_time.Comes())
            MqttLog.TimeIsRefused(_logger, _saw, missing ? "is missing" : "is no time as it is expected (RFC 3339 with a zone, or a number since 1970; timeFormat and timeZone say otherwise)");
    }

    /// <summary>A frame's payload said a time that cannot be.</summary>
    public void TimeIsAbsurd(DateTimeOffset time, DateTimeOffset now)
    {
        if (_time.Comes())
            MqttLog.TimeIsRefused(_logger, _saw, string.Create(CultureInfo.InvariantCulture, $"is {time:yyyy-MM-dd'T'HH:mm:ss'Z'}, {(time < now ? "far behind" : "far ahead of")} the gateway's clock; set the clock of the controller or of the gateway"));
    }

    /// <summary>A frame follows the one before.</summary>
    public void Follows()
    {
        if (_order.StaysAway())
            MqttLog.FramesAreInOrder(_logger, _saw, _order.Count);
        if (_clock.StaysAway())
            MqttLog.ClockIsSteady(_logger, _saw, _clock.Count);
    }

    /// <summary>A frame is left out because it came before.</summary>
    public void IsRepeated()
    {
        if (_order.Comes())
            MqttLog.FrameIsLate(_logger, _saw, "the broker marks it as sent before, and it has no time of its own");
    }

    /// <summary>A frame is left out because of its time.</summary>
    public void IsBehind(DateTimeOffset time, DateTimeOffset last)
    {
        if (_order.Comes())
            MqttLog.FrameIsLate(_logger, _saw, string.Create(CultureInfo.InvariantCulture, $"its time {time:yyyy-MM-dd'T'HH:mm:ss.fff'Z'} is not later than that of the frame before, {last:yyyy-MM-dd'T'HH:mm:ss.fff'Z'}"));
    }

    /// <summary>The clock of the frames was set back.</summary>
    public void WasSetBack(TimeSpan by)
    {
        if (_clock.Comes())
            MqttLog.ClockWasSetBack(_logger, _saw, by.TotalSeconds);
    }

    /// <inheritdoc/>
    public void ValueRead(MappedSignal signal, bool good, ReadOnlySpan<byte> raw)
    {
        _observer?.TextRead(signal.Signal, raw);
        var trouble = _values[(int)signal.Signal];
        if (good)
        {
            if (trouble.StaysAway())
                MqttLog.ValueIsUsed(_logger, _saw, signal.Name, trouble.Count);
        }
        else if (trouble.Comes())
        {
            MqttLog.ValueIsUseless(_logger, _saw, signal.Name, Excerpt.Quote(raw), signal.Expected);
        }
    }
}
