using SawEdge.Core.Signals;

namespace SawEdge.Core.Cycles;

/// <summary>What the detector keeps of one frame. Values that were not usable are NaN.</summary>
internal struct Sample
{
    /// <summary>Time on the detector's own axis (see <see cref="FrameOrder"/>), 100 ns ticks.</summary>
    public long Ticks;

    /// <summary>Head position, mm.</summary>
    public float Head;

    /// <summary>Motor load, kW.</summary>
    public float Load;

    /// <summary>Blade speed, m/min.</summary>
    public float Speed;

    /// <summary>The controller's bits.</summary>
    public SampleFlags Flags;

    public readonly bool Is(SampleFlags flag) => (Flags & flag) != 0;
}

/// <summary>The controller's bits in a sample; a bit counts only where its known bit is set.</summary>
[Flags]
internal enum SampleFlags : byte
{
    None = 0,
    CycleKnown = 1,
    Cycle = 2,
    CuttingKnown = 4,
    Cutting = 8,
    BladeKnown = 16,
    BladeStopped = 32,
    Fault = 64,
}

/// <summary>
/// The samples since the open cycle began. Grows to <see cref="Capacity"/> and then halves its density, so that a
/// cut of any length is held in bounded memory; nothing is allocated once it has grown.
/// </summary>
internal sealed class CycleTrace
{
    /// <summary>Most samples held: nearly two hours at ten frames a second.</summary>
    public const int Capacity = 1 << 16;

    private Sample[] _samples = new Sample[512];
    private int _skipped;

    /// <summary>Samples held.</summary>
    public int Count { get; private set; }

    /// <summary>Frames each sample stands for.</summary>
    public int Stride { get; private set; } = 1;

    public ReadOnlySpan<Sample> Samples => _samples.AsSpan(0, Count);

    public ref readonly Sample Last => ref _samples[Count - 1];

    public void Add(in Sample sample)
    {
        if (Stride > 1 && ++_skipped % Stride != 0)
            return;
        if (Count == _samples.Length)
        {
            if (Count < Capacity)
                Array.Resize(ref _samples, Count * 2);
            else
                Thin();
        }

        _samples[Count++] = sample;
    }

    /// <summary>Forgets all samples before one.</summary>
    public void DropBefore(int index)
    {
        if (index <= 0)
            return;
        Array.Copy(_samples, index, _samples, 0, Count - index);
        Count -= index;
        if (Count < Capacity / 4)
            Stride = 1;
    }

    public void Clear()
    {
        Count = 0;
        Stride = 1;
        _skipped = 0;
    }

    /// <summary>The last sample whose head stood at or above a height; -1 where there is none.</summary>
    public int LastAtOrAbove(float head)
    {
        for (var i = Count - 1; i >= 0; i--)
        {
            if (_samples[i].Head >= head)
                return i;
        }

        return -1;
    }

    /// <summary>
    /// Fills heads and loads that were not read by a straight line between the readings around them, where these are
    /// near: signals of one saw may be read at different rates.
    /// </summary>
    /// <param name="nearTicks">Greatest distance of two readings that a line may join.</param>
    public void FillBetweenReadings(long nearTicks)
    {
        var head = -1;
        var load = -1;
        for (var i = 0; i < Count; i++)
        {
            ref readonly var sample = ref _samples[i];
            if (!float.IsNaN(sample.Head))
            {
                if (head >= 0 && i > head + 1 && sample.Ticks - _samples[head].Ticks <= nearTicks)
                    FillHeads(head, i);
                head = i;
            }

            if (!float.IsNaN(sample.Load))
            {
                if (load >= 0 && i > load + 1 && sample.Ticks - _samples[load].Ticks <= nearTicks)
                    FillLoads(load, i);
                load = i;
            }
        }
    }

    private void FillHeads(int from, int to)
    {
        for (var i = from + 1; i < to; i++)
            _samples[i].Head = Between(_samples[from].Head, _samples[to].Head, from, to, i);
    }

    private void FillLoads(int from, int to)
    {
        for (var i = from + 1; i < to; i++)
            _samples[i].Load = Between(_samples[from].Load, _samples[to].Load, from, to, i);
    }

    private float Between(float a, float b, int from, int to, int i) =>
        a + ((b - a) * (float)((double)(_samples[i].Ticks - _samples[from].Ticks) / (_samples[to].Ticks - _samples[from].Ticks)));

    private void Thin()
    {
        for (var i = 0; i < Count / 2; i++)
            _samples[i] = _samples[i * 2];
        Count /= 2;
        Stride *= 2;
    }
}
