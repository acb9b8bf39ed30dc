using System.Threading.Channels;
using SawEdge.Core.Signals;

namespace SawEdge.Gateway.Acquisition;

/// <summary>
/// Where a source puts the frames of one saw. Bounded: a saw whose processing is behind loses the oldest frames,
/// which are counted, and slows nobody else.
/// </summary>
public sealed class SawInbox
{
    private readonly Channel<SignalFrame> _frames;
    private readonly SawPresence? _presence;
    private readonly DerivedFlag[] _derived;
    private long _lost;
    private long _offered;

    /// <summary>Opens the inbox of one saw.</summary>
    /// <param name="saw">Name of the saw.</param>
    /// <param name="capacity">Frames held at most.</param>
    /// <param name="presence">Shown each frame as it arrives, or null.</param>
    /// <param name="derived">Flags that follow from other signals of the saw.</param>
    public SawInbox(string saw, int capacity = 8192, SawPresence? presence = null, IEnumerable<DerivedFlagRule>? derived = null)
    {
        _derived = [.. (derived ?? []).Select(rule => new DerivedFlag(rule))];
        Saw = saw;
        _presence = presence;
        _frames = Channel.CreateBounded<SignalFrame>(
            new BoundedChannelOptions(capacity) { FullMode = BoundedChannelFullMode.DropOldest, SingleReader = true, SingleWriter = false },
            _ => Interlocked.Increment(ref _lost));
    }

    /// <summary>Name of the saw.</summary>
    public string Saw { get; }

    /// <summary>The clock that gives this saw's frames their time; null: they bring their own, or all saws of a source share one.</summary>
    public FrameClock? Clock { get; init; }

    /// <summary>What went wrong with what comes from the saw.</summary>
    public SourceErrors Errors { get; } = new();

    /// <summary>Frames lost because processing was behind.</summary>
    public long Lost => Interlocked.Read(ref _lost);

    /// <summary>Frames that came since the start, lost ones included.</summary>
    public long Offered => Interlocked.Read(ref _offered);

    /// <summary>Frames that wait to be processed.</summary>
    public int Waiting => _frames.Reader.Count;

    /// <summary>The reading end.</summary>
    public ChannelReader<SignalFrame> Frames => _frames.Reader;

    /// <summary>Puts a frame in; never waits. Frames of one saw come one after the other, from its one source.</summary>
    public void Offer(in SignalFrame frame)
    {
        Interlocked.Increment(ref _offered);
        var whole = frame;
        foreach (var flag in _derived)
            flag.Apply(ref whole);
        _presence?.Take(whole);
        _frames.Writer.TryWrite(whole);
    }

    /// <summary>Says that no frame will follow.</summary>
    public void Complete() => _frames.Writer.TryComplete();
}
