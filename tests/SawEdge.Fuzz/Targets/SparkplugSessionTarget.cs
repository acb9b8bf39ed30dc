using Microsoft.Extensions.Logging.Abstractions;
using SawEdge.Core.Cutting;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition;
using SawEdge.Gateway.Acquisition.Mqtt;
using SawEdge.Gateway.Acquisition.Sparkplug;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Fuzz.Targets;

/// <summary>Messages of a node and its device, one after the other: each a byte for its kind, a byte for its length, and its payload.</summary>
internal sealed class SparkplugSessionTarget : IFuzzTarget
{
    private static readonly string[] Topics =
    [
        "spBv1.0/Riverbend/NBIRTH/hall-2", "spBv1.0/Riverbend/DBIRTH/hall-2/saw-1", "spBv1.0/Riverbend/DDATA/hall-2/saw-1", "spBv1.0/Riverbend/NDATA/hall-2",
        "spBv1.0/Riverbend/DDEATH/hall-2/saw-1", "spBv1.0/Riverbend/NDEATH/hall-2", "spBv1.0/Riverbend/DDATA/hall-2/saw-2", "spBv1.0/STATE/host-1",
    ];

    private static readonly SparkplugHostOptions Host = new() { HostId = "host-1", Rebirth = true };

    public string Name => "session";

    public int MaximumLength => 2048;

    public IEnumerable<byte[]> Seeds
    {
        get
        {
            var payloads = SparkplugBytes.Seeds;
            yield return [.. Message(0, payloads[0]), .. Message(1, payloads[1]), .. Message(2, payloads[2]), .. Message(2, payloads[3]), .. Message(4, payloads[4])];
            yield return [.. Message(2, payloads[2]), .. Message(0, payloads[0]), .. Message(2, payloads[2]), .. Message(1, payloads[1]), .. Message(5, payloads[0])];
            yield return [.. Message(0, payloads[0]), .. Message(1, payloads[1]), .. Message(7, [.. "{\"online\":false,\"timestamp\":1}"u8]), .. Message(2, payloads[4])];
        }
    }

    public IReadOnlyList<byte[]> Tokens => [.. SparkplugBytes.Tokens, .. SparkplugBytes.Seeds.Take(4).Select((payload, i) => Message((byte)Math.Min(i, 2), payload))];

    // Everything is made anew for each input; messages that come before their turn are copied.
    public long MostAllocated(int length) => (512 * 1024) + (4096L * length);

    public void FixUp(Span<byte> input)
    {
        for (var at = 0; at + 2 < input.Length;)
        {
            input[at] &= 0x0F;
            var length = Math.Min(input[at + 1], input.Length - at - 2);
            SparkplugBytes.FixUp(input.Slice(at + 2, length));
            at += 2 + length;
        }
    }

    public void Run(ReadOnlySpan<byte> input)
    {
        var time = new SteppedTime();
        var saw = Saw();
        var inbox = new SawInbox(saw.Name);
        var broker = new MqttBrokerOptions { Name = "hall", Host = "127.0.0.1", ClientId = "fuzz", Sparkplug = Host };
        var published = new Published();
        var listener = new SparkplugListener(broker, [(saw, inbox)], new FrameClock(time), time, NullLogger.Instance);
        listener.LastWill();
        listener.Listening(published);
        var messages = 0;
        while (input.Length > 2)
        {
            var length = Math.Min(input[1], input.Length - 2);
            listener.Receive(Topics[input[0] % Topics.Length], input.Slice(2, length), (MessageMarks)((input[0] >> 4) % 3));
            time.Step(TimeSpan.FromMilliseconds(input[0]));
            if (input[0] == 0xFF)
                listener.BrokerLost();
            input = input[(2 + length)..];
            messages++;
        }

        listener.Complete();
        var frames = 0;
        while (inbox.Frames.TryRead(out var frame))
        {
            frames++;
            FuzzFinding.Unless(frame.QualityOf(Signal.MotorLoad) != SignalQuality.Good || double.IsFinite(frame.Number(Signal.MotorLoad)), "a good number is not finite");
            FuzzFinding.Unless(frame.QualityOf(Signal.MotorLoad) != SignalQuality.Good || frame.Number(Signal.MotorLoad) <= 20, "a number above the stated range is good");
        }

        // A message holds a value and its history; a burst of metrics each with its own time makes as many frames.
        FuzzFinding.Unless(frames <= (messages * 130) + 10, $"{frames} frames of {messages} messages");
        FuzzFinding.Unless(published.Count <= messages + 4, $"{published.Count} messages published for {messages} that came");
    }

    private static SawOptions Saw() => new()
    {
        Machine = new SawMachine { Name = "saw-1" },
        Interval = TimeSpan.FromMilliseconds(200),
        Source = new SparkplugSourceOptions
        {
            Broker = "hall",
            Group = "Riverbend",
            Node = "hall-2",
            Device = "saw-1",
            Signals =
            [
                new SparkplugMapping { Signal = Signal.HeadPosition, Metric = "Head/Position" },
                new SparkplugMapping { Signal = Signal.MotorLoad, Metric = "Drive/Power", Conversion = ValueConversion.Linear(0.001, 0), Maximum = 20 },
                new SparkplugMapping { Signal = Signal.Cutting, Metric = "Cutting" },
                new SparkplugMapping { Signal = Signal.Job, Metric = "Job" },
            ],
        },
    };

    private static byte[] Message(byte kind, byte[] payload) => [kind, (byte)payload.Length, .. payload];

    private sealed class Published : IOwnPublisher
    {
        public int Count { get; private set; }

        public bool TryPublish(OwnMessage message)
        {
            Count++;
            return true;
        }
    }

    /// <summary>Time that goes on only when it is told to; its timers never fire, so that an input always does the same.</summary>
    private sealed class SteppedTime : TimeProvider
    {
        private TimeSpan _passed;

        public override long TimestampFrequency => TimeSpan.TicksPerSecond;

        public void Step(TimeSpan step) => _passed += step;

        public override DateTimeOffset GetUtcNow() => new DateTimeOffset(2026, 3, 2, 6, 0, 0, TimeSpan.Zero) + _passed;

        public override long GetTimestamp() => _passed.Ticks;

        public override ITimer CreateTimer(TimerCallback callback, object? state, TimeSpan dueTime, TimeSpan period) => new Never();

        private sealed class Never : ITimer
        {
            public bool Change(TimeSpan dueTime, TimeSpan period) => true;

            public void Dispose()
            {
            }

            public ValueTask DisposeAsync() => default;
        }
    }
}
