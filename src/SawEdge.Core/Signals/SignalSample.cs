namespace SawEdge.Core.Signals;

/// <summary>
/// What one signal did in an interval, over the frames in which its value was good; single precision, which is finer than any gauge of a
/// saw. A flag is 1 or 0, so its mean is the share of the frames in which it was set.
/// </summary>
/// <param name="Count">Frames with a good value; at least 1.</param>
/// <param name="Mean">Mean over those frames, in the signal's unit; never outside of least and greatest.</param>
/// <param name="Least">The least value.</param>
/// <param name="Greatest">The greatest value.</param>
/// <param name="Last">The last value.</param>
public readonly record struct SignalFigures(int Count, float Mean, float Least, float Greatest, float Last);

/// <summary>What the signals of one saw did in one interval of <see cref="SignalSampler"/>'s grid.</summary>
public readonly struct SignalSample
{
    private readonly SignalFigures[] _figures;

    /// <summary>A sample of which the parts are known.</summary>
    /// <param name="from">Begin of the interval.</param>
    /// <param name="every">Its length.</param>
    /// <param name="frames">Frames in it, at least 1.</param>
    /// <param name="figures">Figures of each of <see cref="Signals"/>, in that order; a count of 0 where there was no good value. The sample keeps the array.</param>
    /// <exception cref="ArgumentException">The figures are not one for each signal, or count more than the frames.</exception>
    public SignalSample(DateTimeOffset from, TimeSpan every, int frames, SignalFigures[] figures)
    {
        if (figures.Length != Signals.Count)
            throw new ArgumentException($"A sample has figures of {Signals.Count} signals; these are {figures.Length}.", nameof(figures));
        foreach (var one in figures)
        {
            if (one.Count < 0 || one.Count > frames)
                throw new ArgumentException($"A value cannot come in {one.Count} of {frames} frames.", nameof(figures));
        }

        (From, Every, Frames, _figures) = (from, every, frames, figures);
    }

    /// <summary>The signals that are sampled: every number and flag, in the order in which recordings list them.</summary>
    public static IReadOnlyList<SignalInfo> Signals { get; } = [.. SignalInfo.All.Where(info => info.Kind is SignalKind.Number or SignalKind.Flag)];

    /// <summary>Begin of the interval, UTC.</summary>
    public DateTimeOffset From { get; }

    /// <summary>Length of the interval.</summary>
    public TimeSpan Every { get; }

    /// <summary>End of the interval; a frame at this moment belongs to the next one.</summary>
    public DateTimeOffset To => From + Every;

    /// <summary>Frames in which any of the signals was good.</summary>
    public int Frames { get; }

    /// <summary>Figures of one signal; null where it had no good value in the interval, or is none of <see cref="Signals"/>.</summary>
    public SignalFigures? this[Signal signal]
    {
        get
        {
            for (var i = 0; i < Signals.Count; i++)
            {
                if (Signals[i].Signal == signal)
                    return _figures[i].Count > 0 ? _figures[i] : null;
            }

            return null;
        }
    }

    /// <summary>Figures of each of <see cref="Signals"/>, in that order; a count of 0 where there was no good value, and then the rest says nothing.</summary>
    public ReadOnlySpan<SignalFigures> Figures => _figures;
}
