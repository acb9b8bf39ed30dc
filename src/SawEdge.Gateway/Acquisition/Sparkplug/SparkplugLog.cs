using Microsoft.Extensions.Logging;

namespace SawEdge.Gateway.Acquisition.Sparkplug;

/// <summary>What listening to Sparkplug nodes has to say: each trouble once when it begins and once when it ends.</summary>
internal static partial class SparkplugLog
{
    [LoggerMessage(2400, LogLevel.Warning, "Node {Node}: a message on {Topic} is left out; {Reason}. Further ones are counted.")]
    public static partial void PayloadIsUseless(ILogger logger, string node, string topic, string reason);

    [LoggerMessage(2401, LogLevel.Information, "Node {Node}: its messages can be used again; {Count} were left out.")]
    public static partial void PayloadIsUsed(ILogger logger, string node, long count);

    [LoggerMessage(2402, LogLevel.Warning, "Saw {Saw}: data of {Source} come, but its birth was not seen, so nothing is known about them; they are left out until it is born again. {Advice}")]
    public static partial void IsUnborn(ILogger logger, string saw, string source, string advice);

    [LoggerMessage(2403, LogLevel.Information, "Saw {Saw}: {Source} was born; {Count} messages before that were left out.")]
    public static partial void IsBorn(ILogger logger, string saw, string source, long count);

    [LoggerMessage(2404, LogLevel.Warning, "Node {Node}: messages were lost ({Sequence} came where {Expected} was due): what its saws said before is not known any more, and each signal is used again once it comes. {Advice} Further losses are counted.")]
    public static partial void MessagesAreLost(ILogger logger, string node, int sequence, int expected, string advice);

    [LoggerMessage(2405, LogLevel.Warning, "Node {Node}: messages were lost ({Sequence} came where {Expected} was due), and a birth may be among them: its data are left out until it is born again. {Advice} Further losses are counted.")]
    public static partial void BirthMayBeLost(ILogger logger, string node, int sequence, int expected, string advice);

    [LoggerMessage(2406, LogLevel.Information, "Node {Node}: no message was lost for a while; that had happened {Count} times.")]
    public static partial void NoMessagesAreLost(ILogger logger, string node, long count);

    [LoggerMessage(2407, LogLevel.Warning, "Saw {Saw}: {Source} sends {Metric}, which was not in its birth and is left out. {Advice} Further ones are counted.")]
    public static partial void MetricIsUnknown(ILogger logger, string saw, string source, string metric, string advice);

    [LoggerMessage(2408, LogLevel.Information, "Saw {Saw}: {Source} sends only what was in its birth again; {Count} values were left out.")]
    public static partial void MetricsAreKnown(ILogger logger, string saw, string source, long count);

    [LoggerMessage(2409, LogLevel.Warning, "Saw {Saw}: the birth of {Source} does not hold {Missing}: no such signals. It holds {Names}.")]
    public static partial void MetricIsMissing(ILogger logger, string saw, string source, string missing, string names);

    [LoggerMessage(2410, LogLevel.Information, "Saw {Saw}: the birth of {Source} holds all metrics of its signals now.")]
    public static partial void NoMetricIsMissing(ILogger logger, string saw, string source);

    [LoggerMessage(2411, LogLevel.Warning, "Saw {Saw}: {Metrics}, and so no signal: it is marked invalid. A single number, flag or text is needed.")]
    public static partial void TypeIsUseless(ILogger logger, string saw, string metrics);

    [LoggerMessage(2412, LogLevel.Information, "Saw {Saw}: {Count} metrics of {Source} are data sets or templates, which are not looked into.")]
    public static partial void SetsAreSkipped(ILogger logger, string saw, int count, string source);

    [LoggerMessage(2413, LogLevel.Warning, "Saw {Saw}: {Signal} is {Value}, which is marked invalid; right is {Expected}. Further ones are counted.")]
    public static partial void ValueIsUseless(ILogger logger, string saw, string signal, string value, string expected);

    [LoggerMessage(2414, LogLevel.Information, "Saw {Saw}: {Signal} can be used again; {Count} values were marked invalid.")]
    public static partial void ValueIsUsed(ILogger logger, string saw, string signal, long count);

    [LoggerMessage(2415, LogLevel.Warning, "Saw {Saw}: {Source} says that it is gone: no signals until it is born again.")]
    public static partial void IsGone(ILogger logger, string saw, string source);

    [LoggerMessage(2416, LogLevel.Information, "Saw {Saw}: {Source} is back; it had said {Count} times that it was gone.")]
    public static partial void IsBack(ILogger logger, string saw, string source, long count);

    [LoggerMessage(2417, LogLevel.Warning, "Saw {Saw}: the payload's time {Reason}; the time of arrival is taken instead. Further ones are counted.")]
    public static partial void TimeIsRefused(ILogger logger, string saw, string reason);

    [LoggerMessage(2418, LogLevel.Information, "Saw {Saw}: the payload's time can be used again; {Count} times were replaced by the time of arrival.")]
    public static partial void TimeIsUsed(ILogger logger, string saw, long count);

    [LoggerMessage(2419, LogLevel.Warning, "Saw {Saw}: the birth of {Source} gives the alias {Alias} to more than one metric; what comes under it is left out.")]
    public static partial void AliasIsAmbiguous(ILogger logger, string saw, string source, ulong alias);

    [LoggerMessage(2423, LogLevel.Information, "Saw {Saw}: types and aliases in the birth of {Source} can be used now.")]
    public static partial void MetricsAreGood(ILogger logger, string saw, string source);

    [LoggerMessage(2420, LogLevel.Information, "Node {Node} is asked for its births. While that is needed again and again, it is asked at growing intervals, and not said again.")]
    public static partial void BirthIsAskedFor(ILogger logger, string node);

    [LoggerMessage(2421, LogLevel.Warning, "Broker {Broker}: somebody else says that the host {HostId} is offline; that is put right. Does another gateway have the same hostId? Further ones are counted.")]
    public static partial void HostIsDenied(ILogger logger, string broker, string hostId);

    [LoggerMessage(2422, LogLevel.Information, "Broker {Broker}: nobody says any more that the host {HostId} is offline; that was put right {Count} times.")]
    public static partial void HostIsAccepted(ILogger logger, string broker, string hostId, long count);
}
