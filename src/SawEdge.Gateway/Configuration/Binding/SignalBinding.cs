using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Configuration.Binding;

/// <summary>Declares what is kept of the signals of the past.</summary>
internal static class SignalBinding
{
    /// <summary>The settings.</summary>
    public static ObjectType<SignalOptions> Type { get; } = new("signals", "What is kept of the signals: of each interval the mean, least, greatest and last value of each number and flag. Nothing has to be set.", Bind);

    private static SignalOptions Bind(ConfigObject o)
    {
        var enabled = o.Default("enabled", ValueTypes.Flag, "true", "Whether they are kept at all. What was kept before is deleted when its time has come.");
        var every = o.Default("every", ValueTypes.Time("1 s", "1 h"), "10 s", "Length of the intervals. They begin at multiples of it (UTC).");
        var keep = o.Default("keep", ValueTypes.Time("1 h", "3660 d"), "14 d", "How long they are kept; then they are deleted, and nothing else is. Those that a destination is still to get stay until it has them, or until the history is full.");
        if (keep.IsGood && every.IsGood && keep.Value < every.Value)
            o.Error(keep, "is shorter than one interval; write a longer time, for example \"14 d\"");
        return new SignalOptions
        {
            Every = enabled.IsGood && !enabled.Value ? null : TimeSpan.FromMilliseconds(Math.Round(every.Value.TotalMilliseconds)),
            Keep = keep.Value,
        };
    }
}
