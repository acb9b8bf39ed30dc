using System.Globalization;
using Microsoft.Extensions.Logging;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Formats;

namespace SawEdge.Gateway.Acquisition.Mqtt;

/// <summary>
/// Makes frames of what one saw publishes. A payload that holds a frame is a frame at once. Signals of topics of their own are
/// held: what comes within a few milliseconds becomes one frame, at the moment of the first of them, with the latest value of
/// each of the others; where the saw has a frame's topic as well, they wait for the next frame.
/// </summary>
/// <remarks>
/// A retained message is old news. It is never a frame of its own unless its payload says its time; who and what (texts and whole
/// numbers: job, bar, blade, counters) is taken over from it, and what moves (numbers and flags) is not.
/// </remarks>
internal sealed class MqttSaw : IDisposable
{
    /// <summary>How long a burst of signals is waited for at most.</summary>
    public static readonly TimeSpan LongestBurst = TimeSpan.FromMilliseconds(20);

    private readonly Lock _lock = new();
    private readonly MqttSourceOptions _source;
    private readonly int _largestPayload;
    private readonly bool _isKept;
    private readonly SawInbox _inbox;
    private readonly FrameClock _clock;
    private readonly TimeProvider _time;
    private readonly SawTroubles _troubles;
    private readonly FrameTimes _times;
    private readonly JsonFrame? _json;
    private readonly PublishedSignal[] _signals;
    private readonly TimeSpan _burst;
    private readonly ITimer _burstEnd;
    private readonly long[] _heldSince = new long[SignalInfo.Count];
    private SignalFrame _held;
    private uint _inBurst;
    private long _burstBegan;
    private long _lastArrival;
    private bool _delivers;

    public MqttSaw(MqttBrokerOptions broker, SawOptions saw, SawInbox inbox, FrameClock clock, TimeProvider time, ILogger logger, IRawValueObserver? observer = null)
    {
        if (saw.Source is not MqttSourceOptions source || source.Broker != broker.Name)
            throw new ArgumentException($"Saw {saw.Name} does not publish to the broker {broker.Name}.", nameof(saw));
        if (broker.KeepSession && (source.FrameTopic is null || source.TimeMember is null))
            throw new ArgumentException($"Saw {saw.Name}: its payloads have no time of their own, so the broker {broker.Name} must not keep messages while the gateway is away.", nameof(saw));

        Name = saw.Name;
        _source = source;
        _largestPayload = broker.MaximumPayloadBytes;
        _isKept = broker.KeepSession;
        _times = new FrameTimes(time);
        _inbox = inbox;
        _clock = inbox.Clock ?? clock;
        _time = time;
        _troubles = new SawTroubles(saw.Name, time, logger, inbox.Errors, observer);
        _signals = [.. source.Signals.Select(mapping => new PublishedSignal(mapping))];
        var members = _signals.Where(signal => signal.Mapping.Topic is null).ToList();
        if (source.FrameTopic is not null)
            _json = new JsonFrame(members, source.TimeMember, _troubles, new WrittenTime(source.TimeZone, source.TimeFormat));
        else if (members.Count > 0)
            throw new ArgumentException($"Saw {saw.Name}: {members[0].Name} has neither a topic of its own nor a frame to be a member of.", nameof(saw));
        _burst = saw.Interval / 4 < LongestBurst ? saw.Interval / 4 : LongestBurst;
        _burstEnd = time.CreateTimer(_ => EndBurst(), null, Timeout.InfiniteTimeSpan, Timeout.InfiniteTimeSpan);
    }

    public string Name { get; }

    /// <summary>The topics, each with the signal whose own it is, or null for the topic of whole frames.</summary>
    public IEnumerable<(string Topic, string? Template, PublishedSignal? Signal)> Topics => _signals
        .Where(signal => signal.Mapping.Topic is not null)
        .Select(signal => (signal.Mapping.Topic!, signal.Mapping.Template, (PublishedSignal?)signal))
        .Concat(_source.FrameTopic is null ? [] : [(_source.FrameTopic, _source.FrameTemplate, null)]);

    /// <summary>Takes a message.</summary>
    /// <param name="topic">Its topic.</param>
    /// <param name="signal">The signal whose own topic it is, or null.</param>
    /// <param name="payload">Its payload.</param>
    /// <param name="marks">What the broker says about it.</param>
    public void Receive(string topic, PublishedSignal? signal, ReadOnlySpan<byte> payload, MessageMarks marks)
    {
        var arrival = _time.GetTimestamp();
        lock (_lock)
        {
            if (signal is null)
                ReceiveFrame(topic, payload, marks, arrival);
            else if ((marks & MessageMarks.Duplicate) != 0)
                _troubles.IsRepeated();
            else
                ReceiveSignal(signal, payload, (marks & MessageMarks.Retained) != 0, arrival);
        }
    }

    /// <summary>Marks all signals bad, once, because nothing can come; what was held is forgotten.</summary>
    public void MarkOutage()
    {
        lock (_lock)
        {
            if (_inBurst != 0)
                EmitBurst();
            _held = default;
            if (!_delivers)
                return;

            // By the saw's own clock, where it has one: time must not jump because the broker was lost. What the broker keeps
            // meanwhile comes later and follows the last frame, so there this one must not stand in its way.
            var frame = new SignalFrame(_times.Last + (_isKept ? TimeSpan.FromMilliseconds(1) : _time.GetElapsedTime(_lastArrival)));
            foreach (var signal in _signals)
                frame.Mark(signal.Signal, SignalQuality.SourceFault);
            _inbox.Offer(in frame);
            _delivers = false;
        }
    }

    /// <summary>Says that no frame will follow.</summary>
    public void Complete()
    {
        lock (_lock)
        {
            if (_inBurst != 0)
                EmitBurst();
            _inbox.Complete();
        }
    }

    public void Dispose() => _burstEnd.Dispose();

    private void ReceiveFrame(string topic, ReadOnlySpan<byte> payload, MessageMarks marks, long arrival)
    {
        var isRetained = (marks & MessageMarks.Retained) != 0;
        if (payload.Length > _largestPayload)
        {
            _troubles.Payload(topic, string.Create(CultureInfo.InvariantCulture, $"it has more than {_largestPayload} bytes, which is maximumPayload of the broker"));
            return;
        }

        // An empty retained message only takes an earlier one away from the broker.
        if (isRetained && payload.IsEmpty)
            return;

        var frame = Held(arrival);
        if (!_json!.TryRead(payload, ref frame, out var time, out var timeState, out var trouble))
        {
            _troubles.Payload(topic, trouble);
            return;
        }

        _troubles.Payload(topic, null);
        // A clock of all saws only tells here whether a payload's own time is likely.
        if (_inbox.Clock is null)
            _clock.Follow();
        var now = _clock.At(arrival);
        if (_json.LaterTime is { } later)
            time = PayloadTime.Choose(time, later, _times.Last, now);
        var isTimed = timeState == PayloadTimeState.Read && PayloadTime.IsPlausible(time, now);
        if (isRetained && (!isTimed || time <= _times.Last))
            return;
        if (isTimed)
            _troubles.TimeIsGood();
        else if (timeState == PayloadTimeState.Read)
            _troubles.TimeIsAbsurd(time, now);
        else if (_source.TimeMember is not null)
            _troubles.TimeIsUnreadable(timeState == PayloadTimeState.Missing);
        if (!isTimed && (marks & MessageMarks.Duplicate) != 0)
            _troubles.IsRepeated();
        else
            Emit(ref frame, isTimed ? time : now, isTimed, arrival);
    }

    private void ReceiveSignal(PublishedSignal signal, ReadOnlySpan<byte> payload, bool isRetained, long arrival)
    {
        if (isRetained && signal.Kind is SignalKind.Number or SignalKind.Flag)
            return;

        // The same signal again is the beginning of the next frame.
        var bit = 1u << (int)signal.Signal;
        if ((_inBurst & bit) != 0)
            EmitBurst();

        var isTooLong = payload.Length > _largestPayload;
        var good = isTooLong ? signal.SetInvalid(ref _held) : signal.SetBare(payload, ref _held);
        _troubles.ValueRead(signal, good, payload);
        _heldSince[(int)signal.Signal] = arrival;
        if (isRetained || _json is not null)
            return;

        if (_inBurst == 0)
        {
            _burstBegan = arrival;
            _burstEnd.Change(_burst, Timeout.InfiniteTimeSpan);
        }

        _inBurst |= bit;
    }

    private void EndBurst()
    {
        lock (_lock)
        {
            if (_inBurst != 0)
                EmitBurst();
        }
    }

    private void EmitBurst()
    {
        _inBurst = 0;
        _burstEnd.Change(Timeout.InfiniteTimeSpan, Timeout.InfiniteTimeSpan);
        var frame = Held(_burstBegan);
        Emit(ref frame, _clock.At(_burstBegan), isOwnTime: false, _burstBegan);
    }

    private SignalFrame Held(long now)
    {
        var frame = _held;
        if (_source.HoldFor is not { } holdFor)
            return frame;
        foreach (var signal in _signals)
        {
            if (signal.Mapping.Topic is not null && _time.GetElapsedTime(_heldSince[(int)signal.Signal], now) > holdFor)
                frame.Mark(signal.Signal, SignalQuality.NotRead);
        }

        return frame;
    }

    private void Emit(ref SignalFrame frame, DateTimeOffset time, bool isOwnTime, long arrival)
    {
        if (isOwnTime && !IsItsTurn(time, arrival))
            return;
        _times.Last = time;
        frame.Time = time;
        _lastArrival = arrival;
        _delivers = true;
        _inbox.Offer(in frame);
    }

    private bool IsItsTurn(DateTimeOffset time, long arrival)
    {
        switch (_times.Judge(time, arrival))
        {
            case FrameTurn.Behind:
                _troubles.IsBehind(time, _times.Last);
                return false;
            case FrameTurn.SetBack:
                _troubles.WasSetBack(_times.Last - time);
                return true;
            default:
                _troubles.Follows();
                return true;
        }
    }
}
