using SawEdge.Core.Signals;
using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Configuration.Binding;

/// <summary>How often the signals of a Modbus saw are read: with each reading of the saw, or less often.</summary>
internal static class PollRates
{
    // The longest interval of a saw that is common, SawBinding.
    private static readonly TimeSpan Usual = TimeSpan.FromSeconds(2);

    private static readonly TimeSpan LatestCount = TimeSpan.FromSeconds(3);

    private static readonly TimeSpan LatestText = TimeSpan.FromSeconds(10);

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

        if (Doubt(info, time) is { } doubt)
            o.Warning(every, doubt);
        return time;
    }

    /// <summary>Something has to be read each time.</summary>
    public static void CheckAll<T>(ConfigObject o, Setting<T> signals, IReadOnlyList<RegisterMapping> mappings)
    {
        if (signals.IsGood && mappings.Count > 0 && mappings.All(mapping => mapping.Every is not null))
            o.Error(signals, "every signal has \"every\"; leave it out of one at least, or make the saw's interval as long as the shortest of them");
    }

    private static string? Doubt(SignalInfo info, TimeSpan time) => info.Signal switch
    {
        Signal.HeadPosition or Signal.MotorLoad or Signal.Cutting or Signal.CycleActive when time > Usual =>
            FormattableString.Invariant($"cuts are found and timed by {info.Name}, and no better than every {time.TotalSeconds:0.###} s; leave every out"),

        // A cycle waits 5 s for its part (CycleDetector).
        Signal.PartCount when time > LatestCount =>
            "a cut whose part is not counted within 5 s after its end is taken for a trim cut; write \"3 s\" or less",

        // What a cut belongs to is settled when its head goes down (CycleDetector).
        Signal.Job or Signal.BarId or Signal.BladeId or Signal.Mode when time > LatestText =>
            FormattableString.Invariant($"a cut gets the {info.Name} that was read before its head went down, which may be that of the cut before; write \"10 s\" or less"),
        _ => null,
    };
}
