using System.Text;
using Microsoft.Extensions.Time.Testing;
using SawEdge.Core.Cutting;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition;
using SawEdge.Gateway.Acquisition.Mqtt;
using SawEdge.Gateway.Acquisition.Sparkplug;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Tests.Acquisition.Mqtt;
using SawEdge.Gateway.Tests.History;

namespace SawEdge.Gateway.Tests.Acquisition.Sparkplug;

/// <summary>A host application without a broker: a test hands it the messages and the time.</summary>
internal sealed class HostBench : IOwnPublisher
{
    public const string Prefix = "spBv1.0/Riverbend/";

    private readonly SawInbox[] _inboxes;
    private int _sequence;

    public HostBench(SparkplugHostOptions? host = null, params SawOptions[] saws)
    {
        Saws = saws.Length > 0 ? saws : [Saw()];
        _inboxes = [.. Saws.Select(saw => new SawInbox(saw.Name))];
        var broker = new MqttBrokerOptions { Name = "hall", Host = "127.0.0.1", ClientId = "gateway-test", Sparkplug = host };
        Listener = new SparkplugListener(broker, [.. Saws.Select((saw, i) => (saw, _inboxes[i]))], new FrameClock(Time), Time, Log.For<MqttBrokerSource>());
        Will = Listener.LastWill();
        Listener.Listening(this);
    }

    public static DateTimeOffset Start { get; } = new(2026, 3, 2, 6, 0, 0, TimeSpan.Zero);

    public FakeTimeProvider Time { get; } = new(Start);

    public CollectedLog Log { get; } = new();

    public SawOptions[] Saws { get; }

    public SparkplugListener Listener { get; }

    public OwnMessage? Will { get; }

    /// <summary>What it published.</summary>
    public List<OwnMessage> Published { get; } = [];

    /// <summary>The time of messages less that of their arrival.</summary>
    public TimeSpan Skew { get; set; }

    public static SawOptions Saw(string name = "saw-1", string? device = "saw-1", string node = "hall-2") => new()
    {
        Machine = new SawMachine { Name = name },
        Interval = TimeSpan.FromMilliseconds(200),
        Source = new SparkplugSourceOptions
        {
            Broker = "hall",
            Group = "Riverbend",
            Node = node,
            Device = device,
            Signals =
            [
                new SparkplugMapping { Signal = Signal.HeadPosition, Metric = "Head/Position" },
                new SparkplugMapping { Signal = Signal.MotorLoad, Metric = "Drive/Power", Conversion = ValueConversion.Linear(0.001, 0), Maximum = 20 },
                new SparkplugMapping { Signal = Signal.Cutting, Metric = "Cutting" },
                new SparkplugMapping { Signal = Signal.Job, Metric = "Job" },
            ],
        },
    };

    /// <summary>All metrics of a saw, as a birth holds them.</summary>
    public static Metric[] Metrics(double head = 300, double watts = 500, bool cutting = false, string job = "J-1") =>
    [
        new("Head/Position", head) { Alias = 11 },
        new("Drive/Power", watts) { Alias = 12 },
        new("Cutting", cutting, SparkplugDataType.Boolean) { Alias = 13 },
        new("Job", job, SparkplugDataType.String) { Alias = 14 },
        new("Something/Else", 1U, SparkplugDataType.UInt8) { Alias = 15 },
    ];

    public bool TryPublish(OwnMessage message)
    {
        Published.Add(message);
        return true;
    }

    public void Advance(double milliseconds) => Time.Advance(TimeSpan.FromMilliseconds(milliseconds));

    /// <summary>The node and a device are born, in that order.</summary>
    public void Births(ulong number = 0, string device = "saw-1")
    {
        NodeBirth(number);
        Send("DBIRTH", device, Metrics());
    }

    public void NodeBirth(ulong number = 0, params Metric[] metrics)
    {
        _sequence = 0;
        Send("NBIRTH", null, [.. metrics, new Metric("bdSeq", number, SparkplugDataType.Int64), new Metric("Node Control/Rebirth", false, SparkplugDataType.Boolean)]);
    }

    /// <summary>What the broker publishes for a node whose connection is lost.</summary>
    public void Death(ulong? number) => Receive($"{Prefix}NDEATH/hall-2", number is { } said ? Encoded.Payload(null, null, new Metric("bdSeq", said, SparkplugDataType.Int64)) : Encoded.Payload(null, null));

    /// <summary>Sends what is next in the order of the node's messages.</summary>
    public void Send(string message, string? device, params Metric[] metrics) => Receive(Topic(message, device), Next(metrics));

    /// <summary>The next message is the first of a birth.</summary>
    public void Restart() => _sequence = 0;

    /// <summary>The next message, which is lost or comes later.</summary>
    public byte[] Next(params Metric[] metrics)
    {
        var payload = Encoded.Payload((ulong)(Time.GetUtcNow() + Skew).ToUnixTimeMilliseconds(), (ulong)_sequence, metrics);
        _sequence = (_sequence + 1) % 256;
        return payload;
    }

    public static string Topic(string message, string? device, string node = "hall-2") => $"{Prefix}{message}/{node}{(device is null ? "" : "/" + device)}";

    public void Receive(string topic, byte[] payload, MessageMarks marks = MessageMarks.None) => Listener.Receive(topic, payload, marks);

    /// <summary>The frames that came, those that wait for more of a burst included.</summary>
    public List<SignalFrame> Frames(int saw = 0)
    {
        Advance(20);
        return Drain(saw);
    }

    public List<SignalFrame> Drain(int saw = 0) => _inboxes[saw].Drain();

    public IEnumerable<string> Texts(int id) => Log.Entries.Where(entry => entry.Id == id).Select(entry => entry.Text);

    public static string Payload(OwnMessage message) => Encoding.UTF8.GetString(message.Payload);
}
