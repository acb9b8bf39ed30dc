using SawEdge.Core.Sections;

namespace SawEdge.Core.Load;

/// <summary>How the cut ran a moment ago.</summary>
/// <param name="LoadKw">Mean load, kW.</param>
/// <param name="PaceMmS">Descent of the head, mm/s.</param>
/// <param name="WidthMm">Mean width in contact, mm; NaN where the section is not known.</param>
internal readonly record struct LiveReference(double LoadKw, double PaceMmS, double WidthMm);

/// <summary>The last few seconds of head and load, in memory of a fixed size.</summary>
internal sealed class LiveWindow
{
    // Two times the longest look back at 25 frames a second; frames that come faster are passed over.
    private const int Capacity = 128;
    private const long LeastDistanceTicks = TimeSpan.TicksPerSecond / 25;

    /// <summary>What is younger than this may already show the fault: a load transducer needs some tenths of a second to fall or rise.</summary>
    private const long RecentTicks = 7 * TimeSpan.TicksPerSecond / 10;

    private const long ReferenceTicks = 61 * TimeSpan.TicksPerSecond / 20;

    private readonly Entry[] _entries = new Entry[Capacity];
    private long _written;

    /// <summary>Entries held.</summary>
    public int Count => (int)Math.Min(_written, Capacity);

    /// <summary>An entry; 0 is the latest.</summary>
    public ref readonly Entry this[int back] => ref _entries[(_written - 1 - back) % Capacity];

    public void Clear() => _written = 0;

    /// <summary>Takes a frame.</summary>
    /// <param name="ticks">Its time.</param>
    /// <param name="head">Head height freed of glitches, mm.</param>
    /// <param name="raw">The same as it was read.</param>
    /// <param name="load">Load, kW.</param>
    public void Add(long ticks, double head, double raw, double load)
    {
        if (Count > 0 && ticks - this[0].Ticks < LeastDistanceTicks)
            return;
        _entries[_written++ % Capacity] = new Entry(ticks, head, raw, load);
    }

    /// <summary>How the cut ran 0.7 to 3 s ago, or in the last three entries where frames come seldom.</summary>
    /// <param name="ticks">Now.</param>
    /// <param name="section">The section, or null.</param>
    /// <param name="top">Head height at its top, mm.</param>
    /// <param name="reference">How it ran.</param>
    /// <returns>False where too little was seen.</returns>
    public bool TryReference(long ticks, Section? section, double top, out LiveReference reference)
    {
        reference = default;
        var first = 0;
        while (first < Count && ticks - this[first].Ticks < RecentTicks)
            first++;
        if (first >= Count)
            return false;
        var longest = Math.Max(ReferenceTicks, first > 0 ? 0 : (ticks - this[0].Ticks) * 61 / 20);
        var last = first;
        double load = 0;
        double width = 0;
        for (var i = first; i < Count && ticks - this[i].Ticks <= longest; i++)
        {
            ref readonly var entry = ref this[i];
            load += entry.Load;
            width += section is null ? double.NaN : section.WidthAt(Math.Clamp(top - entry.Head, 0, section.HeightMm));
            last = i;
        }

        if (last == first)
            return false;
        var seconds = (double)(this[first].Ticks - this[last].Ticks) / TimeSpan.TicksPerSecond;
        var count = last - first + 1;
        reference = new LiveReference(load / count, (this[last].Head - this[first].Head) / seconds, width / count);
        return double.IsFinite(reference.PaceMmS);
    }

    /// <summary>One frame.</summary>
    internal readonly record struct Entry(long Ticks, double Head, double RawHead, double Load);
}
