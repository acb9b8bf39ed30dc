using System.Globalization;
using Microsoft.Extensions.Logging;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition.Mqtt;

namespace SawEdge.Gateway.Acquisition.Sparkplug;

/// <summary>
/// What is known about one edge node: whether it was born, which birth that was, and the order of its messages. Its saws use a value
/// only if every message since it came is known to have come: where one is missing, any value may have changed in it.
/// </summary>
/// <remarks>Does nothing by itself and reads no clock: the time of arrival comes with each call.</remarks>
internal sealed class SparkplugNode
{
    // A message may come so long after its time. Longer than that a time before the birth is that of a clock that was set back.
    private static readonly TimeSpan Latest = TimeSpan.FromSeconds(60);

    private SparkplugSaw[] _saws;
    private readonly Action<SparkplugNode, DateTimeOffset>? _askForBirth;
    private readonly ILogger _logger;
    private readonly string _advice;
    private readonly MessageOrder _order;
    private readonly Trouble _useless;
    private readonly Trouble _lost;
    private readonly SparkplugPayload _payload = new();
    private ulong? _birthNumber;
    private ulong? _latest;
    private (DateTimeOffset At, ulong? Stamp) _birth;

    /// <summary>Begins to follow a node.</summary>
    /// <param name="group">The group's identifier.</param>
    /// <param name="node">The node's identifier.</param>
    /// <param name="saws">The saws whose signals come from it.</param>
    /// <param name="patience">How long a missing message is waited for.</param>
    /// <param name="advice">What helps where a birth is missing, for messages.</param>
    /// <param name="askForBirth">Called where a birth would help, or null: it must not be asked for.</param>
    /// <param name="time">Says when a trouble is over.</param>
    /// <param name="logger">Takes the messages.</param>
    public SparkplugNode(string group, string node, IEnumerable<SparkplugSaw> saws, TimeSpan patience, string advice, Action<SparkplugNode, DateTimeOffset>? askForBirth, TimeProvider time, ILogger logger)
    {
        Group = group;
        Node = node;
        _saws = [.. saws];
        _advice = advice;
        _askForBirth = askForBirth;
        _logger = logger;
        _order = new MessageOrder(patience);
        _useless = new Trouble(time);
        _lost = new Trouble(time);
    }

    /// <summary>The group's identifier.</summary>
    public string Group { get; }

    /// <summary>The node's identifier.</summary>
    public string Node { get; }

    /// <summary>Both, for messages.</summary>
    public string Name => $"{Group}/{Node}";

    /// <summary>The saws whose signals come from it.</summary>
    public IReadOnlyList<SparkplugSaw> Saws => _saws;

    /// <summary>Follows another saw: nothing is known of it until it is born.</summary>
    public void Add(SparkplugSaw saw) => _saws = [.. _saws, saw];

    /// <summary>Follows a saw no more.</summary>
    public void Remove(string saw) => _saws = [.. _saws.Where(known => known.Name != saw)];

    /// <summary>When <see cref="Advance"/> has something to do, or null.</summary>
    public DateTimeOffset? Due
    {
        get
        {
            var due = _order.Due;
            foreach (var saw in _saws)
                due = due is null || saw.Due < due ? saw.Due ?? due : due;
            return due;
        }
    }

    /// <summary>Takes a message that cannot be looked at.</summary>
    public void Refuse(ReadOnlySpan<char> topic, string reason)
    {
        if (_useless.Comes())
            SparkplugLog.PayloadIsUseless(_logger, Name, ControllerText.Clean(topic.ToString()), reason);
    }

    /// <summary>Takes a message.</summary>
    /// <param name="topic">Its topic, for messages.</param>
    /// <param name="message">What it is.</param>
    /// <param name="device">The device's identifier; empty of a message of the node itself.</param>
    /// <param name="bytes">Its payload.</param>
    /// <param name="now">The time of arrival.</param>
    public void Receive(ReadOnlySpan<char> topic, SparkplugMessage message, ReadOnlySpan<char> device, ReadOnlySpan<byte> bytes, DateTimeOffset now)
    {
        Advance(now);
        if (!SparkplugDecoder.TryDecode(bytes, _payload, out var trouble))
        {
            Refuse(topic, trouble);
            return;
        }

        if (message == SparkplugMessage.NDeath)
        {
            Died(bytes, now);
            return;
        }

        if (_payload.Sequence is not <= 255)
        {
            Refuse(topic, _payload.Sequence is { } wrong ? string.Create(CultureInfo.InvariantCulture, $"its sequence number is {wrong}, and right is 0 to 255") : "it has no sequence number");
            return;
        }

        if (_useless.StaysAway())
            SparkplugLog.PayloadIsUsed(_logger, Name, _useless.Count);
        var sequence = (int)_payload.Sequence;
        if (IsFromBeforeTheBirth(message, bytes, now))
            return;
        if (message == SparkplugMessage.NBirth)
            Born(bytes, sequence, now);
        else if (_order.Expected < 0 || sequence == _order.Expected)
            InOrder(message, device, bytes, sequence, now);
        else if (!IsLate(sequence))
            OutOfOrder(message, device, bytes, sequence, now);
    }

    /// <summary>Does what time has come for.</summary>
    public void Advance(DateTimeOffset now)
    {
        if (now >= _order.Due)
            GiveUpWaiting(now);
        foreach (var saw in _saws)
            saw.Advance(now);
    }

    /// <summary>The broker is lost, and with it what the node says meanwhile.</summary>
    public void Lost(DateTimeOffset now)
    {
        _order.Forget();
        _birthNumber = null;
        foreach (var saw in _saws)
            saw.Gone(now);
    }

    // Out of order, and from before what came last, or that again: no message is missing because of it.
    private bool IsLate(int sequence)
    {
        if (_payload.Timestamp is not { } stamp || _latest is not { } latest || stamp > latest)
            return false;
        return stamp == latest ? _order.IsBehind(sequence) : latest - stamp <= (ulong)Latest.TotalMilliseconds;
    }

    // What was sent before the node was born anew and comes after it: its number belongs to another order, and its aliases may have meant
    // something else. A birth over the next connection is none of that, whatever its clock says.
    private bool IsFromBeforeTheBirth(SparkplugMessage message, ReadOnlySpan<byte> bytes, DateTimeOffset now)
    {
        if (!(_payload.Timestamp < _birth.Stamp) || now - _birth.At > Latest)
            return false;
        return message != SparkplugMessage.NBirth || _birthNumber is not { } number || BirthNumber(bytes) != (number + 1) % 256;
    }

    // Its devices are not there before births of their own (chapter 4, payload of NBIRTH). Born again in one session it says the same number.
    private void Born(ReadOnlySpan<byte> bytes, int sequence, DateTimeOffset now)
    {
        _order.Forget();
        _order.Follow(sequence);
        _birthNumber = BirthNumber(bytes);
        _latest = _payload.Timestamp;
        _birth = (now, _payload.Timestamp);
        foreach (var saw in _saws)
        {
            if (saw.Device.Length == 0)
                saw.Born(_payload, bytes, now);
            else
                saw.Gone(now);
        }
    }

    // The broker may publish the last will of a connection when the node has long been born anew over another: its number tells
    // (chapter 5, Edge Node Session Establishment). Where it cannot be told, gone is the safer reading.
    private void Died(ReadOnlySpan<byte> bytes, DateTimeOffset now)
    {
        if (_birthNumber is { } born && BirthNumber(bytes) is { } died && born != died)
            return;
        _order.Forget();
        _birthNumber = null;
        foreach (var saw in _saws)
            saw.Gone(now, isSaid: true);
    }

    private ulong? BirthNumber(ReadOnlySpan<byte> bytes)
    {
        foreach (ref readonly var metric in _payload.Metrics)
        {
            if (metric.NameLength >= 0 && metric.Kind is SparkplugValueKind.Int or SparkplugValueKind.Long && bytes.Slice(metric.NameStart, metric.NameLength).SequenceEqual("bdSeq"u8))
                return metric.Raw;
        }

        return null;
    }

    private void InOrder(SparkplugMessage message, ReadOnlySpan<char> device, ReadOnlySpan<byte> bytes, int sequence, DateTimeOffset now)
    {
        // In the middle of a session a device's birth is the first from which anything can be followed.
        if (_order.Expected >= 0 || message == SparkplugMessage.DBirth)
            _order.Follow(sequence);
        if (_lost.StaysAway())
            SparkplugLog.NoMessagesAreLost(_logger, Name, _lost.Count);
        Use(message, device, bytes, now);
        TakeHeld(now);
    }

    private void OutOfOrder(SparkplugMessage message, ReadOnlySpan<char> device, ReadOnlySpan<byte> bytes, int sequence, DateTimeOffset now)
    {
        // A number from before with a time of later is of another order: the birth that began it is lost, and waiting for it is of no use.
        if (_order.IsBehind(sequence))
        {
            Lose(_order.Expected, sequence, mayHideBirth: true, now);
            _order.Forget();
            _order.Follow(sequence);
            Use(message, device, bytes, now);
            return;
        }

        var saw = Find(device);
        var hasRoom = _order.Hold(new HeldMessage(sequence, message, saw?.Device ?? "", saw is null ? null : bytes.ToArray()), now);
        if (!hasRoom || now >= _order.Due)
            GiveUpWaiting(now);
    }

    private void TakeHeld(DateTimeOffset now)
    {
        while (_order.TakeNext() is { } held)
        {
            if (held.Payload is { } bytes && SparkplugDecoder.TryDecode(bytes, _payload, out _) && !IsFromBeforeTheBirth(held.Message, bytes, now))
                Use(held.Message, held.Device, bytes, now);
        }
    }

    private void GiveUpWaiting(DateTimeOffset now)
    {
        while (_order.HasHeld)
        {
            var expected = _order.Expected;
            var mayHideBirth = _order.SkipMissing();
            Lose(expected, _order.Expected, mayHideBirth, now);
            TakeHeld(now);
        }
    }

    private void Lose(int expected, int sequence, bool mayHideBirth, DateTimeOffset now)
    {
        if (_lost.Comes())
        {
            if (mayHideBirth)
                SparkplugLog.BirthMayBeLost(_logger, Name, sequence, expected, _advice);
            else
                SparkplugLog.MessagesAreLost(_logger, Name, sequence, expected, _advice);
        }

        foreach (var saw in _saws)
        {
            saw.Doubt();
            if (mayHideBirth)
                saw.Gone(now);
        }

        _askForBirth?.Invoke(this, now);
    }

    private SparkplugSaw? Find(ReadOnlySpan<char> device)
    {
        foreach (var saw in _saws)
        {
            if (device.SequenceEqual(saw.Device))
                return saw;
        }

        return null;
    }

    private void Use(SparkplugMessage message, ReadOnlySpan<char> device, ReadOnlySpan<byte> bytes, DateTimeOffset now)
    {
        _latest = _payload.Timestamp;
        var isKnown = true;
        foreach (var saw in _saws)
        {
            if (!device.SequenceEqual(saw.Device))
                continue;
            if (message == SparkplugMessage.DBirth)
            {
                _birth = (now, _payload.Timestamp);
                saw.Born(_payload, bytes, now);
            }
            else if (message == SparkplugMessage.DDeath)
            {
                saw.Gone(now, _payload.Timestamp, isSaid: true);
            }
            else
            {
                isKnown &= saw.Changed(_payload, bytes, now);
            }
        }

        if (!isKnown)
            _askForBirth?.Invoke(this, now);
    }
}
