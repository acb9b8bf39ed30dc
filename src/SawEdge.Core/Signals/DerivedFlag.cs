namespace SawEdge.Core.Signals;

/// <summary>How a flag that no controller tells follows from other signals.</summary>
/// <param name="Signal">The flag.</param>
/// <param name="When">All of these must hold; at least one.</param>
/// <param name="OnDelay">How long they must hold before the flag is set: the on-delay of a timer.</param>
/// <param name="OffDelay">How long they must not hold before it is taken back: the off-delay of a timer.</param>
public sealed record DerivedFlagRule(Signal Signal, IReadOnlyList<SignalCondition> When, TimeSpan OnDelay = default, TimeSpan OffDelay = default);

/// <summary>
/// Sets a flag in each frame of one saw by its rule, in the time of the frames. Where the conditions cannot be told, because a signal that decides
/// has no usable value, the flag has none either, and the delays begin anew. A frame that has the flag already is left as it is. Allocates
/// nothing a frame.
/// </summary>
public sealed class DerivedFlag
{
    private readonly DerivedFlagRule _rule;
    private bool? _flag;
    private DateTimeOffset? _differsSince;

    /// <summary>Begins without a past.</summary>
    /// <param name="rule">The rule.</param>
    /// <exception cref="ArgumentException">The signal is no flag, or there is no condition, or one looks at the flag itself.</exception>
    public DerivedFlag(DerivedFlagRule rule)
    {
        if (SignalInfo.Of(rule.Signal).Kind != SignalKind.Flag)
            throw new ArgumentException($"{SignalInfo.Of(rule.Signal).Name} is no flag.", nameof(rule));
        if (rule.When.Count == 0 || rule.When.Any(condition => condition.Signal == rule.Signal))
            throw new ArgumentException("A flag follows from at least one other signal.", nameof(rule));
        _rule = rule;
    }

    /// <summary>Sets the flag.</summary>
    /// <param name="frame">The frame.</param>
    public void Apply(ref SignalFrame frame)
    {
        if (frame.QualityOf(_rule.Signal) != SignalQuality.NotRead)
            return;
        if (All(in frame, out var worst) is not { } holds)
        {
            (_flag, _differsSince) = (null, null);
            if (worst != SignalQuality.NotRead)
                frame.Mark(_rule.Signal, worst);
            return;
        }

        if (_flag is not { } flag)
        {
            // What went before is not known: an on-delay that may have run off long ago is not waited for again where there is none to wait for.
            flag = holds && _rule.OnDelay <= TimeSpan.Zero;
            _flag = flag;
        }

        if (holds == flag)
        {
            _differsSince = null;
        }
        else
        {
            _differsSince ??= frame.Time;
            var lasted = frame.Time - _differsSince.Value;
            if (lasted >= (holds ? _rule.OnDelay : _rule.OffDelay) || lasted < TimeSpan.Zero)
                (_flag, _differsSince) = (holds, null);
        }

        frame.Set(_rule.Signal, _flag.Value);
    }

    // One condition that does not hold decides, whatever is not known of the others.
    private bool? All(in SignalFrame frame, out SignalQuality worst)
    {
        worst = SignalQuality.NotRead;
        var isKnown = true;
        foreach (var condition in _rule.When)
        {
            switch (condition.Holds(in frame))
            {
                case false:
                    return false;
                case null:
                    isKnown = false;
                    var quality = frame.QualityOf(condition.Signal);
                    if (quality > worst)
                        worst = quality;
                    break;
            }
        }

        return isKnown ? true : null;
    }
}
