using SawEdge.Core.Signals;
using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Configuration.Binding;

/// <summary>How often the signals of a Modbus saw are read: with each reading of the saw, or less often.</summary>
internal static class PollRates
{
    // The longest interval of a saw that is common, SawBinding.
    private static readonly TimeSpan Usual = TimeSpan.FromSeconds(2);

    private static readonly ConfigType<TimeSpan> Time = ValueTypes.Time("10 ms", "24 h");

    /// <summary>Declares the rate of one signal.</summary>
    public static Setting<TimeSpan?> Bind(ConfigObject o) =>
        o.OptionalValue("every", Time, "How often the signal is read, where the saw's interval is more often than it needs; its value holds in between. Left out: each time.");

    /// <summary>Holds the rates against the saw's interval.</summary>
    /// <returns>The signal's own rate, or null where it is read each time.</returns>
    public static TimeSpan? Resolve(ConfigObject o, SignalInfo info, Setting<TimeSpan?> every, Setting<TimeSpan> interval)
    {
        if (every is not { IsGood: true, Value: { } time } || !interval.IsGood || time == interval.Value)
            return null;
        if (time < interval.Value)
        {
            o.Error(every, FormattableString.Invariant($"{time.TotalMilliseconds:0.###} ms is shorter than the saw's interval, {interval.Value.TotalMilliseconds:0.###} ms; leave every out, or make the interval shorter"));
            return null;
        }

        if (time > Usual && info.Signal is Signal.HeadPosition or Signal.MotorLoad or Signal.Cutting or Signal.CycleActive)
            o.Warning(every, FormattableString.Invariant($"cuts are found and timed by {info.Name}, and no better than every {time.TotalSeconds:0.###} s; leave every out"));
        return time;
    }

    /// <summary>Something has to be read each time.</summary>
    public static void CheckAll<T>(ConfigObject o, Setting<T> signals, IReadOnlyList<RegisterMapping> mappings)
    {
        if (signals.IsGood && mappings.Count > 0 && mappings.All(mapping => mapping.Every is not null))
            o.Error(signals, "every signal has \"every\"; leave it out of one at least, or make the saw's interval as long as the shortest of them");
    }
}
