namespace SawEdge.Gateway.Acquisition.Sparkplug;

/// <summary>A message that came before its turn, kept until then.</summary>
/// <param name="Sequence">Its number.</param>
/// <param name="Message">What it is.</param>
/// <param name="Device">The device's identifier; empty of a node's own message.</param>
/// <param name="Payload">A copy of its payload, or null: it is of a device that nobody asked for, and only its number counts.</param>
internal sealed record HeldMessage(int Sequence, SparkplugMessage Message, string Device, byte[]? Payload);

/// <summary>
/// The order of one node's messages: numbered 0 to 255 and round again, by node and devices together
/// (tck-id-payloads-sequence-num-incrementing). A message that comes before its turn is kept for a while, because brokers in a cluster
/// may turn messages of different topics round (tck-id-operational-behavior-host-reordering-start). Holds a bounded number of bytes.
/// </summary>
/// <param name="patience">How long a missing message is waited for.</param>
internal sealed class MessageOrder(TimeSpan patience)
{
    private const int Numbers = 256;
    private const int MostHeld = 64;
    private const int MostBytes = 1024 * 1024;

    private readonly List<HeldMessage> _held = [];
    private int _heldBytes;
    private DateTimeOffset _waitsSince;

    /// <summary>The number that is due, or -1: nothing is followed yet.</summary>
    public int Expected { get; private set; } = -1;

    /// <summary>When waiting is over, or null: nothing is waited for.</summary>
    public DateTimeOffset? Due => _held.Count == 0 ? null : _waitsSince + patience;

    /// <summary>Whether anything is kept.</summary>
    public bool HasHeld => _held.Count > 0;

    /// <summary>Takes a number as the one before the next. What is kept and lies behind it came too late.</summary>
    public void Follow(int sequence)
    {
        Expected = (sequence + 1) % Numbers;
        for (var i = _held.Count - 1; i >= 0; i--)
        {
            if (IsBehind(_held[i].Sequence))
                Remove(i);
        }
    }

    /// <summary>Whether a number was due before, rather than later: it is nearer to what was than to what comes.</summary>
    public bool IsBehind(int sequence) => Expected >= 0 && (sequence - Expected + Numbers) % Numbers >= Numbers / 2;

    /// <summary>Forgets everything.</summary>
    public void Forget()
    {
        Expected = -1;
        _held.Clear();
        _heldBytes = 0;
    }

    /// <summary>Keeps a message until its turn.</summary>
    /// <returns>Whether there is room for more.</returns>
    public bool Hold(HeldMessage message, DateTimeOffset now)
    {
        if (_held.Count == 0)
            _waitsSince = now;
        if (!_held.Exists(other => other.Sequence == message.Sequence))
        {
            _held.Add(message);
            _heldBytes += message.Payload?.Length ?? 0;
        }

        return _held.Count < MostHeld && _heldBytes < MostBytes;
    }

    /// <summary>Takes the message whose turn it is.</summary>
    public HeldMessage? TakeNext()
    {
        // Nearly always nothing is kept; then nothing is allocated.
        var index = _held.Count == 0 ? -1 : _held.FindIndex(message => message.Sequence == Expected);
        if (index < 0)
            return null;
        var next = Remove(index);
        Follow(next.Sequence);
        return next;
    }

    /// <summary>Gives up what is missing before the first message that is kept; that is next then.</summary>
    /// <returns>
    /// Whether a birth of the node may be among what is missing: it has the number 0 (tck-id-payloads-sequence-num-zero-nbirth), and what
    /// comes after it may mean something else.
    /// </returns>
    public bool SkipMissing()
    {
        var missing = _held.Min(message => (message.Sequence - Expected + Numbers) % Numbers);
        var hidesZero = Expected == 0 || Expected + missing > Numbers;
        Expected = (Expected + missing) % Numbers;
        return hidesZero;
    }

    private HeldMessage Remove(int index)
    {
        var message = _held[index];
        _held.RemoveAt(index);
        _heldBytes -= message.Payload?.Length ?? 0;
        return message;
    }
}
