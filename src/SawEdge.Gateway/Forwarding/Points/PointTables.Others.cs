using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Forwarding.Points;

/// <content>Measurements that are not those of the saws' cuts and signals.</content>
public static partial class PointTables
{
    private static string StopBound => FormattableString.Invariant($"{StopNames.MostFaults} faults that no rule of the plant names and {StopNames.MostReasons} other reasons, those that came first; what comes then is `{StopNames.OtherFault}` or `{StopNames.OtherReason}`");

    private const string NoOccurrence = "where there is no occurrence, as when something quiet is shelved";

    /// <summary>Events of alarms.</summary>
    public static PointTable Alarm { get; } = new(
        AlarmPointMapper.Measurement,
        PointChoice.Alarms,
        "An event of an alarm, and the occurrence as it is after it. Who answered and what people remarked is not forwarded.",
        "when it happened; two events of one rule and subject never share a millisecond",
        [
            Site,
            Gateway,
            new("rule", "name of the rule", "the configuration and the program's own rules"),
            new("saw", "the saw that it is about", "the configuration", "where it is about something else"),
            new("source", "the device or broker that it is about", "the configuration", "where it is about something else"),
            new("destination", "the destination that it is about", "the configuration", "where it is about something else"),
            new("channel", "the channel for messages that it is about", "the configuration", "where it is about something else"),
        ],
        [
            Text("event", "what happened"),
            Text("state", "the state after it (IEC 62682, ISA-18.2): normal, unacknowledged, acknowledged, returned_unacknowledged, latched_unacknowledged, latched_acknowledged, shelved, suppressed_by_design or out_of_service"),
            Integer("announced", "", "1 where people were called by it: it became unacknowledged; otherwise 0; for sums"),
            Integer("unannounced", "", "1 where it is shelved, suppressed by design or out of service, otherwise 0"),
            Integer("active", "", "1 where the condition holds, otherwise 0"),
            Integer("acknowledged", "", "1 where somebody has acknowledged it, otherwise 0"),
            Integer("chattering", "", "1 where it comes and goes too often and is held, otherwise 0"),
            Integer("open", "", "1 where something is left to be done about it, otherwise 0"),
            Text("note", "why it came about", "where a person was behind it, or there is nothing to say"),
            Integer("alarm", "", "number of the occurrence", NoOccurrence),
            Text("severity", "low, medium or high", NoOccurrence),
            Integer("activations", "", "how often the condition came in this occurrence", NoOccurrence),
            Float("value", "`unit`", "the value that raised it", "where the condition is about no number"),
            Float("limit_value", "`unit`", "the limit", "where there is none"),
            Text("unit", "unit of `value` and `limit_value`", "where they have none"),
            Text("text", "what was measured, a sentence", NoOccurrence),
            Text("cause", "name of the likeliest cause", "where none is told"),
            Text("cycle_id", "the cycle that raised it", "where none did"),
            Text("verdict", "what a person found behind it: confirmed or rejected", "where nobody has said"),
            Float("active_s", "s", "time since it was raised", "unless `event` is cleared"),
            Float("acknowledged_after_s", "s", "time since it was raised", "unless `event` is acknowledged"),
        ]);

    /// <summary>What saws do.</summary>
    public static PointTable State { get; } = new(
        StatePointMapper.Measurement,
        PointChoice.States,
        "Where a saw begins to do something else, or its time comes to belong elsewhere; holds until the next point of the saw. The begin of time that was not seen is one, too, told within five minutes. The same stretches as in `/api/v1/timeline`. A begin that turns out to be none later says what holds there.",
        "the begin",
        [Site, Gateway, Saw],
        [
            Text("state", "executing, not_executing, not_available, out_of_service or unknown (OPC 40001-1, MachineryItemState)"),
            Text("reason", "of a stop its reason, as in `stop`; else an empty text"),
            Text("bucket", "the bucket of `oee` to which its time belongs, without `_s`; an empty text: no planned time"),
        ]);

    /// <summary>Where the time of the hours went.</summary>
    public static PointTable Oee { get; } = new(
        OeePointMapper.Measurement,
        PointChoice.Oee,
        "Where the planned time of an hour by the plant's clock went, the running hour up to what is seen of it; an hour that comes out differently later is the same point again. There are no ratios, because means of ratios are wrong: sum up over whatever saws and time, then divide. availability = sum(actual_production_s) / sum(observed_s), effectiveness = sum(planned_run_s) / sum(actual_production_s), quality ratio = sum(good_run_s) / sum(planned_run_s), OEE = sum(good_run_s) / sum(observed_s).",
        "the begin of the hour",
        [Site, Gateway, Saw],
        [
            Float("planned_busy_s", "s", "planned busy time (PBT), the sum of the nine buckets below"),
            Float("observed_s", "s", "of it, the time in which the saw was seen"),
            Float("actual_production_s", "s", "actual production time (APT): executing, less setup"),
            Float("planned_run_s", "s", "planned run time of all parts (the sum of PRI * PQ)"),
            Float("good_run_s", "s", "planned run time of the good parts (the sum of PRI * GQ)"),
            Float("cutting_at_standard_s", "s", "cutting, as long as the standard says"),
            Float("slow_cutting_s", "s", "cutting beyond the standard, and all cutting that came to no part"),
            Float("handling_s", "s", "the rest of the cycle, as long as the standard says"),
            Float("slow_handling_s", "s", "the rest of the cycle beyond the standard, and cycles without a cut"),
            Float("short_stops_s", "s", "stops that nobody explained and that are short"),
            Float("stops_by_reason_s", "s", "other stops"),
            Float("setup_s", "s", "trim cuts, and stops to change blade, bar or job"),
            Float("scrap_time_s", "s", "time at standard for parts that were not good"),
            Float("unknown_s", "s", "the saw was not seen"),
            Float("gained_s", "s", "beside the buckets: standard time of good parts beyond the time that they took"),
            Float("scrap_gained_s", "s", "beside: the same of parts that were not good"),
            Float("without_standard_s", "s", "beside: of the time at standard, that for which there is no standard"),
            Float("lost_s", "s", "beside: of the slow time, that of aborted cuts and of cycles without a cut"),
            Float("delay_s", "s", "beside: of the stops, those booked as delay (ADET)"),
            Float("down_s", "s", "beside: of the stops, those booked as down (ADOT)"),
            Integer("parts", "", "parts whose cycle ended in planned busy time (PQ)"),
            Integer("scrap", "", "of these, those that were not good (SQ)"),
            Integer("parts_outside", "", "parts whose cycle ended outside of planned busy time; not among parts"),
            Integer("parts_uncertain", "", "cuts whose end was not seen; not among parts"),
            Integer("parts_without_standard", "", "parts for which there is no standard cycle time, wholly or for the handling"),
            Integer("trims", "", "trim cuts"),
            Integer("cuts_lost", "", "cuts that were given up"),
        ]);

    /// <summary>Stops by reason.</summary>
    public static PointTable Stop { get; } = new(
        StopPointMapper.Measurement,
        PointChoice.Stops,
        "How long a saw stood in an hour for one reason. A reason that does not hold any more later is the same point with 0.",
        "the begin of the hour",
        [
            Site,
            Gateway,
            Saw,
            new("class", "what it is booked as: delay, down or setup", "3"),
            new("reason", "why it stood: a person's reason, else the controller's as the plant's rules read it", StopBound, "where neither tells any"),
        ],
        [Float("time_s", "s", "how long")]);

    /// <summary>The gateway as a whole.</summary>
    public static PointTable GatewayHealth { get; } = new(
        HealthPointMapper.Measurement,
        PointChoice.Gateway,
        "How the gateway itself was, each minute of the machine clock. Counts are those since the point before, so they may be summed up over restarts.",
        "when it was looked at",
        [Site, Gateway],
        [
            Float("interval_s", "s", "time since the point before, or since the start"),
            Float("uptime_s", "s", "time since the start"),
            Float("processor_s", "s", "processor time of the process in the interval"),
            Integer("memory_bytes", "B", "working set of the process"),
            Integer("heap_bytes", "B", "memory that its objects take"),
            Integer("history_bytes", "B", "what the history's file takes on the disk", "where it could not be looked at"),
            Integer("history_log_bytes", "B", "what the write-ahead log beside it takes", "where it could not be looked at"),
            Float("history_budget_share", "", "share of its budget that the history takes", "before it was looked at"),
            Integer("disk_free_bytes", "B", "free space where the data folder is", "where the system does not tell"),
            Integer("history_trouble", "", "1 while the disk refuses, otherwise 0"),
            Integer("journal_entries", "", "last number of the journal"),
            Integer("saws", "", "saws of the configuration"),
            Integer("saws_heard", "", "of these, those that sent a usable value in the interval"),
            Integer("frames", "", "frames that came in the interval, of all saws"),
            Integer("frames_lost", "", "frames that were dropped because processing was behind"),
            Integer("frames_waiting", "", "frames that wait to be processed"),
            Integer("polls_missed", "", "polls that were due and not made"),
            Integer("request_errors", "", "requests that brought no values"),
            Integer("cycles", "", "cycles that were stored in the interval"),
        ]);

    /// <summary>The data of each saw.</summary>
    public static PointTable GatewaySaw { get; } = new(
        HealthPointMapper.OfSaw,
        PointChoice.Gateway,
        "How the data of a saw came in, each minute. Counts are those since the point before.",
        "when it was looked at",
        [Site, Gateway, Saw],
        [
            Float("interval_s", "s", "time since the point before, or since the start"),
            Integer("frames", "", "frames that came"),
            Integer("frames_lost", "", "frames that were dropped because processing was behind"),
            Integer("frames_waiting", "", "frames that wait to be processed"),
            Integer("polls_missed", "", "polls that were due and not made", "where the saw is not polled"),
            Integer("request_errors", "", "requests that brought no values: exception answers, time-outs, broken connections", "where the saw is not polled"),
            Integer("cycles", "", "cycles that were stored"),
            Float("silence_s", "s", "time since the last usable value, or since the start"),
        ]);

    /// <summary>The destinations.</summary>
    public static PointTable GatewayDestination { get; } = new(
        HealthPointMapper.OfDestination,
        PointChoice.Gateway,
        "How far a destination is, each minute. What is sent late tells how it was while the destination was away.",
        "when it was looked at",
        [Site, Gateway, new("destination", "name of the destination", "the configuration")],
        [
            Float("interval_s", "s", "time since the point before, or since the start"),
            Integer("waiting", "", "entries that wait for it, of all kinds of points", "where it could not be looked at"),
            Float("lag_s", "s", "age of the oldest of them; 0 where nothing waits", "where it could not be looked at"),
            Integer("set_aside", "", "what is set aside because the server refused it for good", "where it could not be looked at"),
            Integer("gone", "", "what was cleared away before it was delivered, in all", "where it could not be looked at"),
            Integer("trouble", "", "1 while it takes nothing, otherwise 0", "before it was tried"),
        ]);
}
