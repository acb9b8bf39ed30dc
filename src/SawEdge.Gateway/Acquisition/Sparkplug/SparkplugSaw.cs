using System.Text;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition.Mqtt;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Acquisition.Sparkplug;

/// <summary>
/// Makes frames of what one device, or a node itself, reports. Nodes report what changes, so a frame holds the latest value of each
/// signal since the birth; what comes within a few milliseconds becomes one frame, at the moment of the first of it. A message with
/// several values of the same metric becomes as many frames, at the metrics' own times.
/// </summary>
/// <remarks>Does nothing by itself and reads no clock: the time of arrival comes with each call.</remarks>
internal sealed class SparkplugSaw
{
    private const int NotMapped = -1;
    private const int Ambiguous = -2;

    // A clock that is this much behind the last frame counts in whole seconds, or was set a little; what is further behind was set back.
    private static readonly TimeSpan Coarse = TimeSpan.FromSeconds(1);
    private static readonly TimeSpan LeastStep = TimeSpan.FromMilliseconds(1);

    private readonly SawInbox _inbox;
    private readonly SparkplugSawTroubles _troubles;
    private readonly IRawValueObserver? _observer;
    private readonly Entry[] _entries;
    private readonly TimeSpan _burst;
    private readonly Dictionary<ulong, int> _byAlias = [];
    private SignalFrame _held;
    private uint _inBurst;
    private DateTimeOffset _burstStamp;
    private DateTimeOffset _burstTime;
    private DateTimeOffset _burstArrival;
    private DateTimeOffset _lastTime;
    private DateTimeOffset _lastArrival;
    private bool _isBorn;
    private bool _delivers;

    public SparkplugSaw(SawOptions saw, SparkplugSourceOptions source, SawInbox inbox, SparkplugSawTroubles troubles, IRawValueObserver? observer = null)
    {
        Name = saw.Name;
        Device = source.Device ?? "";
        _inbox = inbox;
        _troubles = troubles;
        _observer = observer;
        _entries = [.. source.Signals.GroupBy(mapping => mapping.Metric, StringComparer.Ordinal).Select(metric => new Entry(metric.Key, [.. metric.Select(mapping => new MappedSignal(mapping))]))];
        _burst = saw.Interval / 4 < MqttSaw.LongestBurst ? saw.Interval / 4 : MqttSaw.LongestBurst;
    }

    /// <summary>Name of the saw.</summary>
    public string Name { get; }

    /// <summary>The device's identifier; empty where the metrics are the node's own.</summary>
    public string Device { get; }

    /// <summary>When <see cref="Advance"/> has something to do, or null.</summary>
    public DateTimeOffset? Due => _inBurst == 0 ? null : _burstArrival + _burst;

    /// <summary>The device, or the node, was born: its metrics and their present values.</summary>
    public void Born(SparkplugPayload payload, ReadOnlySpan<byte> bytes, DateTimeOffset now)
    {
        Forget(SignalQuality.NotRead);
        _isBorn = true;
        var sets = 0;
        var mapped = 0u;
        ulong? ambiguous = null;
        var isUseful = true;
        foreach (ref readonly var metric in payload.Metrics)
        {
            if (metric.NameLength < 0)
                continue;
            var index = Find(bytes.Slice(metric.NameStart, metric.NameLength));
            if (metric.HasAlias && !_byAlias.TryAdd(metric.Alias, index))
            {
                _byAlias[metric.Alias] = Ambiguous;
                ambiguous = metric.Alias;
            }

            if (index == NotMapped)
            {
                sets += metric.DataType is SparkplugDataType.DataSet or SparkplugDataType.Template ? 1 : 0;
                continue;
            }

            var entry = _entries[index];
            (entry.IsBorn, entry.Type) = (true, metric.DataType);
            mapped |= entry.Bits;
            isUseful &= SparkplugValue.IsReadable(metric.DataType);
            if (!metric.IsHistorical)
                Set(entry, in metric, bytes);
        }

        _troubles.Present();
        _troubles.Ambiguous(ambiguous);
        _troubles.Sets(sets);
        _troubles.Useless(isUseful ? "" : string.Join(", ", _entries.Where(entry => entry.IsBorn && !SparkplugValue.IsReadable(entry.Type)).Select(entry => $"'{entry.Metric}' ({entry.SignalNames}) is {SparkplugSawTroubles.Words(entry.Type)}")));
        _troubles.Lacks(string.Join(", ", _entries.Where(entry => !entry.IsBorn).Select(entry => $"'{entry.Metric}' ({entry.SignalNames})")), payload, bytes);
        var time = TimeOf(payload, now);
        if (mapped == 0)
            return;
        Begin(time, now);
        _inBurst = mapped;
        EmitBurst();
    }

    /// <summary>Values changed.</summary>
    /// <returns>Whether all was known from the birth; otherwise another birth would help.</returns>
    public bool Changed(SparkplugPayload payload, ReadOnlySpan<byte> bytes, DateTimeOffset now)
    {
        if (!_isBorn)
        {
            _troubles.Unborn();
            return false;
        }

        // What one message says belongs together: it joins the frame that waits only where it says nothing of that anew.
        if (now >= Due || (_inBurst & BitsOf(payload, bytes)) != 0)
            EmitBurst();
        _troubles.Present();
        var time = TimeOf(payload, now);
        var allKnown = true;
        var inMessage = 0u;
        foreach (ref readonly var metric in payload.Metrics)
        {
            if (!TryIdentify(in metric, bytes, out var index))
            {
                _troubles.Unknown(metric.NameLength > 0 ? bytes.Slice(metric.NameStart, metric.NameLength) : default, metric.HasAlias ? metric.Alias : null);
                allKnown = false;
                continue;
            }

            if (index < 0 || metric.IsHistorical)
                continue;
            var entry = _entries[index];
            TakePlace(entry.Bits, TimeOf(in metric, time), now, ref inMessage);
            Set(entry, in metric, bytes);
        }

        if (allKnown)
            _troubles.Known();
        return allKnown;
    }

    /// <summary>
    /// Messages were lost, and any value may have changed in them: none is known any more until it comes again. That is so right from the
    /// last frame, and not only since it is known: what was kept meanwhile follows.
    /// </summary>
    public void Doubt()
    {
        EmitBurst();
        MarkAll(SignalQuality.SourceFault);
        Fault(_lastArrival + LeastStep, null);
    }

    /// <summary>The node or device is gone, or cannot be heard: nothing is known until it is born again.</summary>
    /// <param name="now">The time of arrival.</param>
    /// <param name="at">Milliseconds since 1970 that the message itself says, or null.</param>
    /// <param name="isSaid">Whether the node said so.</param>
    public void Gone(DateTimeOffset now, ulong? at = null, bool isSaid = false)
    {
        Forget(SignalQuality.SourceFault);
        if (isSaid)
            _troubles.Gone();
        Fault(now, at is { } milliseconds && TryTime(milliseconds, out var time) && PayloadTime.IsPlausible(time, now) ? time : null);
    }

    /// <summary>Emits the frame that waits, if its time has come.</summary>
    public void Advance(DateTimeOffset now)
    {
        if (now >= Due)
            EmitBurst();
    }

    /// <summary>Says that no frame will follow.</summary>
    public void Complete()
    {
        EmitBurst();
        _inbox.Complete();
    }

    private void Forget(SignalQuality quality)
    {
        EmitBurst();
        _isBorn = false;
        _byAlias.Clear();
        foreach (var entry in _entries)
            entry.IsBorn = false;
        MarkAll(quality);
    }

    private void MarkAll(SignalQuality quality)
    {
        foreach (var entry in _entries)
        {
            foreach (var signal in entry.Signals)
                _held.Mark(signal.Signal, quality);
        }
    }

    private void Fault(DateTimeOffset now, DateTimeOffset? at)
    {
        if (!_delivers)
            return;
        _delivers = false;

        // By the saw's own clock, where it has one: time must not jump because something is lost.
        var passed = now - _lastArrival;
        var time = at > _lastTime ? at.Value : _lastTime + (passed > LeastStep ? passed : LeastStep);
        var frame = new SignalFrame(time);
        foreach (var entry in _entries)
        {
            foreach (var signal in entry.Signals)
                frame.Mark(signal.Signal, SignalQuality.SourceFault);
        }

        (_lastTime, _lastArrival) = (time, now);
        _inbox.Offer(in frame);
    }

    private int Find(ReadOnlySpan<byte> name)
    {
        for (var i = 0; i < _entries.Length; i++)
        {
            if (name.SequenceEqual(_entries[i].Name))
                return i;
        }

        return NotMapped;
    }

    // By its name where there is one; data should come with the alias alone (tck-id-payloads-alias-data-cmd-requirement). A name that no
    // signal wants is none of our business, whether it was born or not.
    private bool TryIdentify(in SparkplugMetric metric, ReadOnlySpan<byte> bytes, out int index)
    {
        var name = metric.NameLength > 0 ? bytes.Slice(metric.NameStart, metric.NameLength) : default;
        if (name.Length > 0)
        {
            index = Find(name);
            if (index < 0 || _entries[index].IsBorn)
                return true;
        }
        else if (metric.HasAlias && _byAlias.TryGetValue(metric.Alias, out index))
        {
            return true;
        }

        index = NotMapped;
        return false;
    }

    private uint BitsOf(SparkplugPayload payload, ReadOnlySpan<byte> bytes)
    {
        var bits = 0u;
        foreach (ref readonly var metric in payload.Metrics)
        {
            if (!metric.IsHistorical && TryIdentify(in metric, bytes, out var index) && index >= 0)
                bits |= _entries[index].Bits;
        }

        return bits;
    }

    private void Set(Entry entry, in SparkplugMetric metric, ReadOnlySpan<byte> bytes)
    {
        // A type should not come with data (tck-id-payloads-metric-datatype-not-req); where it does, it is what the value was written as.
        var type = metric.DataType == SparkplugDataType.Unknown ? entry.Type : metric.DataType;
        foreach (var signal in entry.Signals)
        {
            var good = SparkplugValue.Set(signal, in metric, type, bytes, ref _held);
            if (SparkplugValue.IsReadable(type))
                _troubles.Value(signal, good, in metric, type, bytes);
            Show(signal, in metric, type, bytes);
        }
    }

    private void Show(MappedSignal signal, in SparkplugMetric metric, SparkplugDataType type, ReadOnlySpan<byte> bytes)
    {
        if (_observer is null)
            return;
        Span<byte> text = stackalloc byte[ControllerText.MaximumLength];
        _observer.TextRead(signal.Signal, text[..SparkplugValue.Write(in metric, type, bytes, text)]);
    }

    // Finds the frame for a value: the one that waits, or, where that has such a value or is of another time, a new one.
    private void TakePlace(uint bits, DateTimeOffset time, DateTimeOffset now, ref uint inMessage)
    {
        if (_inBurst != 0)
        {
            var isRepeated = (_inBurst & bits) != 0;
            var isCorrected = isRepeated && (inMessage & bits) != 0 && time == _burstStamp;
            if ((isRepeated && !isCorrected) || (time - _burstStamp).Duration() > _burst)
                EmitBurst();
        }

        if (_inBurst == 0)
        {
            Begin(time, now);
            inMessage = 0;
        }

        _inBurst |= bits;
        inMessage |= bits;
    }

    private void Begin(DateTimeOffset time, DateTimeOffset now)
    {
        _burstStamp = time;
        if (time <= _lastTime && _lastTime - time <= Coarse)
        {
            var passed = now - _lastArrival;
            time = _lastTime + (passed > LeastStep ? passed : LeastStep);
        }

        (_burstTime, _burstArrival) = (time, now);
    }

    private void EmitBurst()
    {
        if (_inBurst == 0)
            return;
        _inBurst = 0;
        var frame = _held;
        frame.Time = _burstTime;
        (_lastTime, _lastArrival) = (_burstTime, _burstArrival);
        _delivers = true;
        _inbox.Offer(in frame);
    }

    private DateTimeOffset TimeOf(SparkplugPayload payload, DateTimeOffset now)
    {
        DateTimeOffset time = default;
        var isTime = payload.Timestamp is { } milliseconds && TryTime(milliseconds, out time);
        if (isTime && PayloadTime.IsPlausible(time, now))
        {
            _troubles.TimeIsGood();
            return time;
        }

        _troubles.TimeIsUseless(isTime ? time : null, now);
        return now;
    }

    // A metric's own time counts where it lies between the last frame and the message that brings it: another clock may have set it. One
    // that is older than what waits to be emitted belongs to it.
    private DateTimeOffset TimeOf(in SparkplugMetric metric, DateTimeOffset sent)
    {
        if (!metric.HasTimestamp || !TryTime(metric.Timestamp, out var time) || time <= _lastTime || time > sent || !PayloadTime.IsPlausible(time, sent))
            return sent;
        return _inBurst != 0 && time < _burstStamp ? _burstStamp : time;
    }

    private static bool TryTime(ulong milliseconds, out DateTimeOffset time)
    {
        var isTime = milliseconds <= (ulong)DateTimeOffset.MaxValue.ToUnixTimeMilliseconds();
        time = isTime ? DateTimeOffset.FromUnixTimeMilliseconds((long)milliseconds) : default;
        return isTime;
    }

    /// <summary>A metric that signals want.</summary>
    private sealed class Entry(string metric, MappedSignal[] signals)
    {
        public string Metric { get; } = metric;

        public byte[] Name { get; } = Encoding.UTF8.GetBytes(metric);

        public MappedSignal[] Signals { get; } = signals;

        public string SignalNames { get; } = string.Join(", ", signals.Select(signal => signal.Name));

        /// <summary>One bit for each of the signals.</summary>
        public uint Bits { get; } = signals.Aggregate(0u, (bits, signal) => bits | (1u << (int)signal.Signal));

        public bool IsBorn { get; set; }

        public SparkplugDataType Type { get; set; }
    }
}
