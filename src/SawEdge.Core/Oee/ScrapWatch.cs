using System.Diagnostics.CodeAnalysis;
using SawEdge.Core.Signals;

namespace SawEdge.Core.Oee;

/// <summary>Makes entries of what a controller's scrap counter counts. Its first reading counts nothing. Not thread safe.</summary>
public sealed class ScrapWatch
{
    private readonly Queue<ScrapEntry> _entries = new();
    private string _job = "";

    /// <summary>The counter as last read: what a restart must restore; null before the first reading.</summary>
    public long? Value { get; set; }

    /// <summary>Takes a frame.</summary>
    public void Push(in SignalFrame frame)
    {
        _job = frame.Text(Signal.Job) ?? _job;
        if (!frame.Has(Signal.ScrapCount))
            return;
        var value = (long)frame.Number(Signal.ScrapCount);

        // A counter that was set back stands at what it counted since.
        var rise = Value is not { } last ? 0 : value >= last ? value - last : Math.Max(0, value);
        Value = value;
        if (rise > 0)
            _entries.Enqueue(new ScrapEntry(frame.Time, null, (int)Math.Min(rise, int.MaxValue), _job, "", "controller"));
    }

    /// <summary>Takes the next entry, oldest first.</summary>
    public bool TryTake([NotNullWhen(true)] out ScrapEntry? entry) => _entries.TryDequeue(out entry);
}
