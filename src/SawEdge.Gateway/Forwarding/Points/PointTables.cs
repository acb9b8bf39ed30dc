using SawEdge.Core;
using SawEdge.Core.Cycles;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Forwarding.Points;

/// <summary>All measurements that are written to InfluxDB.</summary>
public static partial class PointTables
{
    // Properties: of the parts of a class, whose fields are made first is not said.
    private static PointTag Site => new("site", "name of the plant", "one: the configuration");
    private static PointTag Gateway => new("gateway", "name of the gateway", "one: the configuration");
    private static PointTag Saw => new("saw", "name of the saw", "the configuration");

    /// <summary>Finished cycles.</summary>
    public static PointTable Cycle { get; } = new(
        PointMapper.Measurement,
        PointChoice.Cycles,
        "A finished cycle of a saw, as it is known now: a correction is the same point again.",
        "the start of the cycle, which no correction moves",
        [Site, Gateway, Saw],
        [
            .. CycleColumns.All.Where(column => column.Name is not ("saw" or "started_at")).Select(Of),
            Integer("completed", "", "1 where the outcome is completed, otherwise 0; for sums"),
        ]);

    /// <summary>The load along the depth of each cut.</summary>
    public static PointTable LoadProfile { get; } = new(
        LoadProfilePointMapper.Measurement,
        PointChoice.Profiles,
        $"A bin of a cut's profile along its depth, or along its time where the head position is not known; {DepthProfile.DefaultBins} points a cut. Cuts of which an end was not seen have none.",
        "the start of the cycle and a millisecond for each bin before it, which no correction moves; that of the first bin is that of the point in `cycle`",
        [Site, Gateway, Saw, new("bin", "number of the bin, of two digits; the first, at the contact, is 01", $"{DepthProfile.DefaultBins}: the bins of a profile")],
        [
            Text("cycle_id", "the cycle"),
            Text("outcome", "how the cycle ended, as in `cycle`"),
            Text("job", "the job's identifier at the controller", "where the controller tells none"),
            Text("material", "material of the job", "where the job is not in the job list"),
            Text("section", "section of the job in short notation", "where the job is not in the job list"),
            Text("blade", "identity of the blade", "where neither the controller nor a person nor the configuration names it"),
            Text("basis", "what the bins are equal shares of: depth or time"),
            Float("from_share", "", "share of the depth or time where the bin begins, 0 to 1"),
            Float("to_share", "", "share of the depth or time where the bin ends, 0 to 1"),
            Float("depth_from_mm", "mm", "depth below the contact where the bin begins", "where the basis is time"),
            Float("depth_to_mm", "mm", "depth below the contact where the bin ends", "where the basis is time"),
            Float("time_s", "s", "time spent in the bin, feed holds included; 0 where no frame fell into it"),
            Float("elapsed_s", "s", "time from the contact to the middle of the bin"),
            Float("mean_load_kw", "kW", "mean motor load in the bin", "where no load was read in it"),
            Float("mean_blade_speed_m_min", "m/min", "mean blade speed in the bin", "where no blade speed was read in it that can be believed"),
        ]);

    /// <summary>Downsampled signals.</summary>
    public static PointTable Signal { get; } = new(
        SignalPointMapper.Measurement,
        PointChoice.Signals,
        "What one signal of a saw did in one interval, over the frames in which its value was good. A signal that had none in the interval has no point. Flags are 1 and 0; texts are not sampled.",
        "the begin of the interval",
        [
            Site,
            Gateway,
            Saw,
            new("signal", $"the signal: {string.Join(", ", SignalSample.Signals.Select(info => info.Unit.Length > 0 ? $"{info.Name} ({info.Unit})" : info.Name))}", $"{SignalSample.Signals.Count}: the vocabulary"),
            new("interval_s", "length of the interval, seconds; a tag, because intervals of two lengths may begin at one moment where the setting was changed", "one: the configuration"),
        ],
        [
            Integer("frames", "", "frames of the interval in which the value was good"),
            Float("mean", "of the signal", "mean of the values; of a flag the share of the frames in which it was set", "where a controller sent no finite number"),
            Float("min", "of the signal", "the least value", "where a controller sent no finite number"),
            Float("max", "of the signal", "the greatest value", "where a controller sent no finite number"),
            Float("last", "of the signal", "the last value", "where a controller sent no finite number"),
        ]);

    /// <summary>All of them, in the order in which they are told.</summary>
    public static IReadOnlyList<PointTable> All => [Cycle, LoadProfile, Alarm, State, Oee, Stop, Signal, GatewayHealth, GatewaySaw, GatewayDestination];

    /// <summary>A measurement by name; null where there is none.</summary>
    public static PointTable? Find(string name) => All.FirstOrDefault(table => table.Name == name);

    // Times are whole numbers of milliseconds: line protocol knows no such type.
    private static PointField Of(CycleColumn column) => column.Type switch
    {
        ColumnType.Text => new(column.Name, FieldType.String, "", column.Meaning, column.EmptyWhen),
        ColumnType.Time => new(column.Name, FieldType.Integer, "ms", column.Meaning + ", since 1970 UTC", column.EmptyWhen),
        ColumnType.Integer => new(column.Name, FieldType.Integer, "", column.Meaning, column.EmptyWhen),
        _ => new(column.Name, FieldType.Float, column.Unit, column.Meaning, column.EmptyWhen),
    };

    private static PointField Text(string name, string meaning, string absentWhen = "never") => new(name, FieldType.String, "", meaning, absentWhen);

    private static PointField Integer(string name, string unit, string meaning, string absentWhen = "never") => new(name, FieldType.Integer, unit, meaning, absentWhen);

    private static PointField Float(string name, string unit, string meaning, string absentWhen = "never") => new(name, FieldType.Float, unit, meaning, absentWhen);
}
