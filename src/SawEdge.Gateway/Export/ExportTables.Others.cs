using SawEdge.Core;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Formats.Tables;

namespace SawEdge.Gateway.Export;

/// <content>Tables that are not those of whole cycles.</content>
public static partial class ExportTables
{
    /// <summary>The load along the depth of each cut.</summary>
    public static ExportTable Profiles { get; } = new(
        "profiles",
        "One bin of a cut's profile along its depth, or along its time where the head position is not known. Cuts of which an end was not seen have none.",
        "by the cycle's started_at, then saw, then cycle_id, then bin",
        ExportFilters.Cycle,
        [
            Text("cycle_id", "the cycle", "never"),
            Text("saw", "name of the saw", "never"),
            Time("started_at", "start of the cycle", "never"),
            Text("job", "the job's identifier at the controller", "where the controller tells none"),
            Text("material", "material of the job", "where the job is not in the job list"),
            Text("section", "section of the job in short notation", "where the job is not in the job list"),
            Text("blade", "identity of the blade", "where neither the controller nor a person nor the configuration names it"),
            Integer("bin", "number of the bin; the first, at the contact, is 1", "never"),
            Text("basis", "what the bins are equal shares of: depth or time", "never"),
            Number("from_share", "", "share of the depth or time where the bin begins, 0 to 1", "never"),
            Number("to_share", "", "share of the depth or time where the bin ends, 0 to 1", "never"),
            Number("depth_from_mm", "mm", "depth below the contact where the bin begins", "where the basis is time"),
            Number("depth_to_mm", "mm", "depth below the contact where the bin ends", "where the basis is time"),
            Number("time_s", "s", "time spent in the bin, feed holds included; 0 where no frame fell into it", "never"),
            Number("mean_load_kw", "kW", "mean motor load in the bin", "where no load was read in it"),
            Number("mean_blade_speed_m_min", "m/min", "mean blade speed in the bin", "where no blade speed was read in it that can be believed"),
        ]);

    /// <summary>What saws did.</summary>
    public static ExportTable States { get; } = new(
        "states",
        "One stretch of time in which a saw did one thing; a stop is parted where what people entered about it changes. Time that no row tells was not seen.",
        "by saw, then started_at",
        ExportFilters.Saws | ExportFilters.Jobs,
        [
            Text("saw", "name of the saw", "never"),
            Time("started_at", "begin of the stretch", "never"),
            Time("ended_at", "end of the stretch; of one that lasts, as far as it was stored", "never"),
            Number("duration_s", "s", "begin to end", "never"),
            Text("state", "executing, not_executing, not_available, out_of_service or unknown (OPC 40001-1, MachineryItemState)", "never"),
            Text("reason", "why it stood, as the controller tells", "where the controller tells none"),
            Text("job", "the job's identifier at the controller", "where the controller tells none"),
            Text("entered_reason", "why it stood, as a person entered it", "where it ran, was not seen, or nobody entered anything"),
            Text("entered_class", "what the entered reason is booked as: delay, down or setup", "where entered_reason is"),
            Text("entered_by", "who entered it", "where entered_reason is"),
            Time("entered_at", "when it was entered", "where entered_reason is"),
        ]);

    /// <summary>Occurrences of alarms.</summary>
    public static ExportTable Alarms { get; } = new(
        "alarms",
        "One occurrence of an alarm, from its raising until nothing is left to be done about it, as it is now.",
        "by raised_at, then number",
        ExportFilters.Saws,
        [
            Integer("number", "number of the occurrence; people name it by that", "never"),
            Text("rule", "name of the rule", "never"),
            Text("subject_kind", "what kind of thing it is about: saw, source, destination, channel or gateway", "never"),
            Text("subject", "name of the thing it is about", "never"),
            Text("severity", "low, medium or high", "never"),
            Time("raised_at", "when the condition came", "never"),
            Time("cleared_at", "when the condition went", "where it still holds"),
            Time("acknowledged_at", "when it was acknowledged", "where it was not"),
            Text("acknowledged_by", "who acknowledged it", "where acknowledged_at is"),
            Time("shelved_until", "when its time on the shelf ends", "where it is not on the shelf"),
            Text("state", "state of the alarm (IEC 62682, ISA-18.2): normal, unacknowledged, acknowledged, returned_unacknowledged, latched_unacknowledged, latched_acknowledged, shelved, suppressed_by_design or out_of_service", "never"),
            Flag("active", "whether the condition holds", "never"),
            Flag("closed", "whether nothing is left to be done about it", "never"),
            Flag("chattering", "whether it comes and goes too often and is held", "never"),
            Integer("activations", "how often the condition came in this occurrence", "never"),
            Number("value", "", "the value that raised it, in the row's unit", "where the condition is about no number"),
            Number("limit", "", "the limit, in the row's unit", "where there is none"),
            Text("unit", "unit of value and limit", "where they have none"),
            Text("text", "what was measured, a sentence, in the units in which the plant reads", "never"),
            Text("cause", "name of the likeliest cause", "where none is told"),
            Text("may_be", "what it may be, a sentence", "where nothing is told"),
            Text("caution", "what to be careful with, a sentence", "where nobody is sent to a machine"),
            Text("cycle_id", "the cycle that raised it", "where none did"),
            Text("verdict", "what a person found behind it: confirmed or rejected", "where nobody has said"),
        ]);

    /// <summary>Downsampled signals.</summary>
    public static ExportTable Signals { get; } = new(
        "signals",
        "What one signal of a saw did in one interval, over the frames in which its value was good. A signal that had none in the interval has no row.",
        "by time, then saw, then interval_s, then signal as in the data contract",
        ExportFilters.Saws,
        [
            Time("time", "begin of the interval", "never"),
            Text("saw", "name of the saw", "never"),
            Text("signal", $"the signal: {string.Join(", ", SignalSample.Signals.Select(info => info.Name))}", "never"),
            Text("unit", "unit of mean, min, max and last", "where the signal is a flag"),
            Number("interval_s", "s", "length of the interval", "never"),
            Integer("frames", "frames of the interval in which the value was good", "never"),
            Number("mean", "", "mean of the values, in the row's unit; of a flag the share of the frames in which it was set", "never"),
            Number("min", "", "the least value, in the row's unit", "never"),
            Number("max", "", "the greatest value, in the row's unit", "never"),
            Number("last", "", "the last value, in the row's unit", "never"),
        ]);

    private static TableColumn Text(string name, string meaning, string emptyWhen) => new(name, ColumnType.Text, "", meaning, emptyWhen);

    private static TableColumn Time(string name, string meaning, string emptyWhen) => new(name, ColumnType.Time, "", meaning, emptyWhen);

    private static TableColumn Integer(string name, string meaning, string emptyWhen) => new(name, ColumnType.Integer, "", meaning, emptyWhen);

    private static TableColumn Flag(string name, string meaning, string emptyWhen) => new(name, ColumnType.Flag, "", meaning, emptyWhen);

    private static TableColumn Number(string name, string unit, string meaning, string emptyWhen) => new(name, ColumnType.Number, unit, meaning, emptyWhen);
}
