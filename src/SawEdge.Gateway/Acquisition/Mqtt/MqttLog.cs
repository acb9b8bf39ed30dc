using Microsoft.Extensions.Logging;

namespace SawEdge.Gateway.Acquisition.Mqtt;

/// <summary>What listening to brokers has to say: each trouble once when it begins and once when it ends.</summary>
internal static partial class MqttLog
{
    [LoggerMessage(2200, LogLevel.Information, "Broker {Broker}: {Host}:{Port} is listened to for {Saws}.")]
    public static partial void Starts(ILogger logger, string broker, string host, int port, string saws);

    [LoggerMessage(2201, LogLevel.Warning, "Broker {Broker} cannot be listened to: no signals from {Saws}. {Reason} It is tried again until it is back, at least every {Seconds} s.")]
    public static partial void BrokerIsAway(ILogger logger, string broker, string saws, string reason, double seconds);

    [LoggerMessage(2202, LogLevel.Information, "Broker {Broker} is listened to again after {Seconds:0.0} s.")]
    public static partial void BrokerIsBack(ILogger logger, string broker, double seconds);

    [LoggerMessage(2203, LogLevel.Warning, "Broker {Broker} refuses the topic {Topic} ({Reason}): no signals from it for {Saws}. Give the gateway's user the right to read it. It is asked for again every {Seconds} s.")]
    public static partial void TopicIsRefused(ILogger logger, string broker, string topic, string reason, string saws, double seconds);

    [LoggerMessage(2204, LogLevel.Information, "Broker {Broker} allows the topic {Topic} now.")]
    public static partial void TopicIsAllowed(ILogger logger, string broker, string topic);

    [LoggerMessage(2205, LogLevel.Warning, "Saw {Saw}: a payload of the topic {Topic} is left out; {Reason}. Further ones are counted.")]
    public static partial void PayloadIsUseless(ILogger logger, string saw, string topic, string reason);

    [LoggerMessage(2206, LogLevel.Information, "Saw {Saw}: the payloads of the topic {Topic} can be used again; {Count} were left out.")]
    public static partial void PayloadIsUsed(ILogger logger, string saw, string topic, long count);

    [LoggerMessage(2207, LogLevel.Warning, "Saw {Saw}: {Signal} is {Value}, which is marked invalid; right is {Expected}. Further ones are counted.")]
    public static partial void ValueIsUseless(ILogger logger, string saw, string signal, string value, string expected);

    [LoggerMessage(2208, LogLevel.Information, "Saw {Saw}: {Signal} can be used again; {Count} values were marked invalid.")]
    public static partial void ValueIsUsed(ILogger logger, string saw, string signal, long count);

    [LoggerMessage(2209, LogLevel.Warning, "Saw {Saw}: the payload's time {Reason}; the time of arrival is taken instead. Further ones are counted.")]
    public static partial void TimeIsRefused(ILogger logger, string saw, string reason);

    [LoggerMessage(2210, LogLevel.Information, "Saw {Saw}: the payload's time can be used again; {Count} times were replaced by the time of arrival.")]
    public static partial void TimeIsUsed(ILogger logger, string saw, long count);

    [LoggerMessage(2211, LogLevel.Warning, "Broker {Broker}: a message came with the topic {Topic}, which is that of no saw although it has the form {Filter}. Is a saw missing in the configuration, or its name spelled otherwise?")]
    public static partial void TopicOfNoSaw(ILogger logger, string broker, string topic, string filter);

    [LoggerMessage(2212, LogLevel.Warning, "Broker {Broker}: {Count} topics of no saw were named; further ones are not.")]
    public static partial void FurtherTopicsOfNoSaw(ILogger logger, string broker, int count);

    [LoggerMessage(2213, LogLevel.Warning, "Saw {Saw}: a payload is left out because {Reason}: it was delivered twice or comes far too late. Further ones are counted.")]
    public static partial void FrameIsLate(ILogger logger, string saw, string reason);

    [LoggerMessage(2214, LogLevel.Information, "Saw {Saw}: its payloads come in order again; {Count} were left out.")]
    public static partial void FramesAreInOrder(ILogger logger, string saw, long count);

    [LoggerMessage(2215, LogLevel.Warning, "Saw {Saw}: the clock that its payloads' times come from was set back by {Seconds:0.###} s; the frames until that was certain are missing. Further times are counted.")]
    public static partial void ClockWasSetBack(ILogger logger, string saw, double seconds);

    [LoggerMessage(2216, LogLevel.Information, "Saw {Saw}: the clock that its payloads' times come from goes steadily again; it was set back {Count} times.")]
    public static partial void ClockIsSteady(ILogger logger, string saw, long count);

    [LoggerMessage(2217, LogLevel.Warning, "Broker {Broker} does not take what the gateway publishes to {Topic} ({Reason}). Give the gateway's user the right to write it.")]
    public static partial void OwnIsRefused(ILogger logger, string broker, string topic, string reason);

    [LoggerMessage(2218, LogLevel.Information, "Broker {Broker} takes what the gateway publishes to {Topic} now.")]
    public static partial void OwnIsTaken(ILogger logger, string broker, string topic);

    [LoggerMessage(2219, LogLevel.Debug, "Broker {Broker} cannot be listened to: {Reason}")]
    public static partial void ListeningFailed(ILogger logger, string broker, string reason);

    [LoggerMessage(2220, LogLevel.Warning, "Broker {Broker} is not there for what this gateway and the other one of its saws tell each other. {Reason} It is tried again until it is back.")]
    public static partial void LinkIsAway(ILogger logger, string broker, string reason);

    [LoggerMessage(2221, LogLevel.Information, "Broker {Broker} is there again for what the two gateways tell each other, after {Seconds:0.0} s.")]
    public static partial void LinkIsBack(ILogger logger, string broker, double seconds);
}
