namespace SawEdge.Gateway.Acquisition.Sparkplug;

/// <summary>One metric as it stands in a payload. Texts are places in the payload's bytes.</summary>
internal struct SparkplugMetric
{
    /// <summary>Where the name begins.</summary>
    public int NameStart;

    /// <summary>Bytes of the name, or -1: there is none.</summary>
    public int NameLength;

    /// <summary>The number that stands for the name, if <see cref="HasAlias"/>.</summary>
    public ulong Alias;

    /// <summary>Milliseconds since 1970 UTC, if <see cref="HasTimestamp"/>.</summary>
    public ulong Timestamp;

    /// <summary>The type; <see cref="SparkplugDataType.Unknown"/> also where none is stated.</summary>
    public SparkplugDataType DataType;

    /// <summary>Which kind of value there is.</summary>
    public SparkplugValueKind Kind;

    /// <summary>The value's bits, of a number or flag.</summary>
    public ulong Raw;

    /// <summary>Where a text begins.</summary>
    public int ValueStart;

    /// <summary>Bytes of a text.</summary>
    public int ValueLength;

    /// <summary>The property Quality: 192 good, 0 bad, 500 stale (chapter 6, quality codes); -1 where it is not stated.</summary>
    public int Quality;

    /// <summary>Whether there is an alias.</summary>
    public bool HasAlias;

    /// <summary>Whether there is a time.</summary>
    public bool HasTimestamp;

    /// <summary>Whether it is of the past and must not be taken for what is now.</summary>
    public bool IsHistorical;

    /// <summary>Whether it says that there is no value.</summary>
    public bool IsNull;
}

/// <summary>What a payload says, in place: made once and filled again with each payload. Holds a bounded number of metrics.</summary>
internal sealed class SparkplugPayload
{
    /// <summary>Metrics in one payload at most; one with more is refused as a whole.</summary>
    public const int MaximumMetrics = 10_000;

    private SparkplugMetric[] _metrics = new SparkplugMetric[64];
    private int _count;

    /// <summary>Milliseconds since 1970 UTC at which it was sent, or null.</summary>
    public ulong? Timestamp { get; internal set; }

    /// <summary>Its number in the order of the node's messages, or null.</summary>
    public ulong? Sequence { get; internal set; }

    /// <summary>Its metrics, in their order.</summary>
    public ReadOnlySpan<SparkplugMetric> Metrics => _metrics.AsSpan(0, _count);

    /// <summary>Forgets what it holds.</summary>
    internal void Clear()
    {
        _count = 0;
        Timestamp = null;
        Sequence = null;
    }

    /// <summary>Adds a metric.</summary>
    /// <returns>Whether there was room.</returns>
    internal bool TryAdd(in SparkplugMetric metric)
    {
        if (_count == MaximumMetrics)
            return false;
        if (_count == _metrics.Length)
            Array.Resize(ref _metrics, Math.Min(2 * _count, MaximumMetrics));
        _metrics[_count++] = metric;
        return true;
    }
}
