using SawEdge.Core.Cutting;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Tests.Acquisition.Mqtt;

/// <summary>Saws that publish, for tests.</summary>
internal static class Published
{
    public static MqttBrokerOptions Broker(int port = 1883) => new() { Name = "hall", Host = "127.0.0.1", Port = port, ClientId = "gateway-test" };

    public static SawOptions Saw(MqttSourceOptions source, string name = "saw-1") =>
        new() { Machine = new SawMachine { Name = name }, Source = source, Interval = TimeSpan.FromMilliseconds(200) };

    /// <summary>A saw whose frames are JSON: head, load, cutting and job.</summary>
    public static MqttSourceOptions Json(string topic = "hall/saw-1", string? time = "time") => new()
    {
        Broker = "hall",
        FrameTopic = topic,
        TimeMember = time,
        Signals =
        [
            Member(Signal.HeadPosition, "head.position"),
            Member(Signal.MotorLoad, "load"),
            Member(Signal.Cutting, "cutting"),
            Member(Signal.Job, "job"),
        ],
    };

    /// <summary>A saw with a topic for each signal.</summary>
    public static MqttSourceOptions Topics(string root = "hall/saw-1") => new()
    {
        Broker = "hall",
        Signals = [.. new[] { Signal.HeadPosition, Signal.MotorLoad, Signal.Cutting, Signal.Job, Signal.PartCount }.Select(signal => new MqttMapping { Signal = signal, Topic = $"{root}/{SignalInfo.Of(signal).Name}" })],
    };

    public static MqttMapping Member(Signal signal, string member) => new() { Signal = signal, Member = member };

    public static List<SignalFrame> Drain(this SawInbox inbox)
    {
        var frames = new List<SignalFrame>();
        while (inbox.Frames.TryRead(out var frame))
            frames.Add(frame);
        return frames;
    }
}
