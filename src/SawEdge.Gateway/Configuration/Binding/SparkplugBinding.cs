using SawEdge.Core.Signals;
using SawEdge.Gateway.Configuration.Reading;
using DerivedFlags = System.Collections.Generic.IReadOnlyList<(SawEdge.Core.Signals.SignalInfo Info, SawEdge.Gateway.Configuration.Reading.Setting<SawEdge.Gateway.Configuration.Binding.DerivedDraft?> Draft)>;

namespace SawEdge.Gateway.Configuration.Binding;

/// <summary>One signal's metric.</summary>
/// <param name="Mapping">The mapping; for a measured number without scale, offset and limits.</param>
/// <param name="Conversion">Scale, unit and limits of a measured number; null for other signals.</param>
internal sealed record SparkplugSignal(SparkplugMapping Mapping, SignalConversion? Conversion);

/// <summary>Declares what belongs to Sparkplug: saws whose signals are metrics, and what the gateway does at a broker as their host.</summary>
internal static class SparkplugBinding
{
    /// <summary>What the gateway does at a broker.</summary>
    public static ObjectType<SparkplugHostOptions> Host { get; } = new("sparkplugHost", "What the gateway does at this broker as a Sparkplug host application. It only listens where nothing is written here.", o => new SparkplugHostOptions
    {
        HostId = o.Optional("hostId", Identifier("sawedge-hall-2"), "The host's identifier, unique: under it is published, retained, whether the gateway is there, for nodes that wait for it (STATE). Left out: nothing is published."),
        Rebirth = o.Default("rebirth", ValueTypes.Flag, "false", "Whether a node may be asked to say anew what it has (Node Control/Rebirth), when data come whose meaning is not known or messages were lost. It is the one thing that is ever published to a node."),
        ReorderTimeout = o.Default("reorderTimeout", ValueTypes.Time("0 s", "60 s"), "2 s", "How long a message that is missing in the order of a node's messages is waited for, before values count as unknown. 0 s where the broker never turns messages round."),
    });

    private static readonly TextType Metric = new("name of a metric", "Drive/Power") { MaximumLength = 1024 };

    private static readonly ObjectType<IReadOnlyList<MappedSignal<SparkplugSignal>>> Signals = SignalTable.Of(
        "sparkplugSignals",
        "Which metrics the signals are. Head position, cutting or cycle_active is needed, and motor_load for everything about load.",
        SignalTable.Shared(MappingOf));

    /// <summary>Declares a saw's source.</summary>
    public static SparkplugSourceOptions Bind(ConfigObject o, DriveRating drive, DerivedFlags? derived)
    {
        var broker = o.Required("broker", ValueTypes.Name("hall"), "Name of the broker, one of \"brokers\".");
        var group = o.Required("nodeGroup", Identifier("Riverbend"), "Group of the edge node, as it stands in its topics: spBv1.0/GROUP/NBIRTH/NODE.");
        var node = o.Required("node", Identifier("hall-2"), "The edge node, as it stands in its topics.");
        var device = o.Optional("device", Identifier("saw-4"), "The device at the node, as it stands in the topics of its births: spBv1.0/GROUP/DBIRTH/NODE/DEVICE. Left out: the metrics are the node's own.");
        var signals = o.Required("signals", Signals, "Which metrics the signals are.");
        SignalTable.Check(o, signals, derived);
        var mappings = new List<SparkplugMapping>();
        foreach (var (info, setting) in signals.Value ?? [])
        {
            if (setting.Value is not { } signal)
                continue;
            var mapping = ValueMembers.Resolve(o, signal.Mapping with { Signal = info.Signal }, signal.Conversion, drive);
            if (setting.IsGood)
                mappings.Add(mapping);
        }

        return new SparkplugSourceOptions { Broker = broker, Group = group, Node = node, Device = device, Signals = mappings };
    }

    private static ConfigType<SparkplugSignal> MappingOf(SignalInfo info) => new ObjectType<SparkplugSignal>($"sparkplug{SignalTable.ShapeOf(info)}", "One signal's metric.", o =>
    {
        var metric = o.Required("metric", Metric, "Name of the metric, as it stands in the birth, folders included.");
        var (mapping, conversion) = ValueMembers.Bind(o, info, new SparkplugMapping { Signal = default, Metric = metric });
        return new SparkplugSignal(mapping, conversion);
    });

    // Sparkplug 3.0, tck-id-topic-structure-namespace-valid-*: any UTF-8 but these three, which mean something in MQTT.
    private static TextType Identifier(string example) => new("identifier", example, text => text.IndexOfAny(['+', '/', '#']) >= 0
        ? $"{Words.Quoted(text)} holds + / or #, which no identifier of Sparkplug can hold; write it as it stands between two / of the topics"
        : null)
    {
        Pattern = "^[^+/#]+$",
    };
}
