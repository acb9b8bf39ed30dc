namespace SawEdge.Gateway.Telemetry;

/// <summary>Every figure that the gateway tells of itself, at <c>/metrics</c> and by OTLP alike. Counts begin at the start.</summary>
public static class KnownMetrics
{
    /// <summary>1, with the version, site and name of the gateway.</summary>
    public static readonly MetricInfo Info = new("sawedge_info", "1", "1; what it is about is told by its labels.", "version", "site", "gateway");

    /// <summary>Time since the start.</summary>
    public static readonly MetricInfo Uptime = new("sawedge_uptime_seconds", "s", "Time since the start.");

    /// <summary>Processor time used.</summary>
    public static readonly MetricInfo Processor = new("sawedge_processor_seconds_total", "s", "Processor time that the process used, of all cores together.");

    /// <summary>Memory of the process.</summary>
    public static readonly MetricInfo Memory = new("sawedge_memory_bytes", "By", "Memory of the process as the system counts it (resident).");

    /// <summary>Managed memory.</summary>
    public static readonly MetricInfo Heap = new("sawedge_heap_bytes", "By", "Memory of the process that the program's own objects take.");

    /// <summary>Whether the clock is trusted.</summary>
    public static readonly MetricInfo ClockDoubtful = new("sawedge_clock_doubtful", "1", "1 while something speaks against the machine's clock, otherwise 0.");

    /// <summary>Whether a loop hangs.</summary>
    public static readonly MetricInfo Hanging = new("sawedge_hanging", "1", "1 while a loop of the gateway does nothing although something waits, otherwise 0.");

    /// <summary>Whether it watches the saws, of two gateways.</summary>
    public static readonly MetricInfo Watching = new("sawedge_watching", "1", "Of two gateways that watch the same saws in turns: 1 while this one does, otherwise 0.");

    /// <summary>Frames of a saw.</summary>
    public static readonly MetricInfo Frames = new("sawedge_frames_total", "{frame}", "Frames that came from a saw: polls that were answered, messages.", "saw");

    /// <summary>Frames lost.</summary>
    public static readonly MetricInfo FramesLost = new("sawedge_frames_lost_total", "{frame}", "Frames lost because processing was behind.", "saw");

    /// <summary>Frames that wait.</summary>
    public static readonly MetricInfo FramesWaiting = new("sawedge_frames_waiting", "{frame}", "Frames that wait to be processed.", "saw");

    /// <summary>How long nothing usable came.</summary>
    public static readonly MetricInfo Silence = new("sawedge_silence_seconds", "s", "Time since the last frame of a saw that held a usable value; before the first, since the start. 0 while a saw is there that sends only what changes.", "saw");

    /// <summary>Polls made.</summary>
    public static readonly MetricInfo Polls = new("sawedge_polls_total", "{poll}", "Polls of a saw (Modbus) that were made.", "saw");

    /// <summary>Polls left out.</summary>
    public static readonly MetricInfo PollsMissed = new("sawedge_polls_missed_total", "{poll}", "Polls that were due and not made: the device was too slow, away, or left alone because it did not answer.", "saw");

    /// <summary>How late polls began.</summary>
    public static readonly MetricInfo PollLateness = new("sawedge_poll_lateness_seconds_total", "s", "By how much polls began later than they were due, all added up: divided by polls, how late one is.", "saw");

    /// <summary>What was wrong with what came.</summary>
    public static readonly MetricInfo Errors = new("sawedge_saw_errors_total", "{error}", "What went wrong with what comes from a saw, by kind: connection (tries to reach its device or broker that failed), request (Modbus requests that brought no values), payload (messages that could not be read), time (messages whose time could not be used), order (frames left out because they came before, or late), value (values that could not be used), metric (Sparkplug metrics that were not born).", "saw", "kind");

    /// <summary>Cycles stored.</summary>
    public static readonly MetricInfo Cycles = new("sawedge_cycles_total", "{cycle}", "Cycles stored.", "saw", "outcome");

    /// <summary>Cycles left to the other gateway.</summary>
    public static readonly MetricInfo CyclesLeftOut = new("sawedge_cycles_left_out_total", "{cycle}", "Cycles that are left out because they belong to the other of two gateways that watch the saw in turns, since this one began to watch it.", "saw");

    /// <summary>Whether the disk refuses.</summary>
    public static readonly MetricInfo HistoryTrouble = new("sawedge_history_trouble", "1", "1 while the disk refuses, otherwise 0.");

    /// <summary>Writes that wait.</summary>
    public static readonly MetricInfo HistoryWaiting = new("sawedge_history_waiting", "{write}", "What waits to be written to the history.");

    /// <summary>Transactions.</summary>
    public static readonly MetricInfo HistoryTransactions = new("sawedge_history_transactions_total", "{transaction}", "Transactions of the history that were begun.");

    /// <summary>End of the journal.</summary>
    public static readonly MetricInfo Journal = new("sawedge_journal_entries", "{entry}", "Last number of the journal.");

    /// <summary>Size of the history.</summary>
    public static readonly MetricInfo HistoryBytes = new("sawedge_history_bytes", "By", "What the history's file takes on the disk.");

    /// <summary>Size of the log beside it.</summary>
    public static readonly MetricInfo HistoryLogBytes = new("sawedge_history_wal_bytes", "By", "What the log beside the history's file takes on the disk.");

    /// <summary>What both may take.</summary>
    public static readonly MetricInfo HistoryBudget = new("sawedge_history_budget_bytes", "By", "What both may take.");

    /// <summary>Room on the disk.</summary>
    public static readonly MetricInfo DiskFree = new("sawedge_disk_free_bytes", "By", "Room that is left on the disk of the history.");

    /// <summary>Alarms open.</summary>
    public static readonly MetricInfo AlarmsOpen = new("sawedge_alarms_open", "{alarm}", "Alarms that are not closed, by severity.", "severity");

    /// <summary>Changes that wait for the alarms.</summary>
    public static readonly MetricInfo AlarmsWaiting = new("sawedge_alarm_changes_waiting", "{change}", "Conditions that came or went and wait to be looked at by the alarms.");

    /// <summary>Entries that a consumer lacks.</summary>
    public static readonly MetricInfo DeliveryLagEntries = new("sawedge_delivery_lag_entries", "{entry}", "Entries of the journal that a consumer has not dealt with.", "kind", "consumer");

    /// <summary>Whether a consumer's server takes anything.</summary>
    public static readonly MetricInfo DeliveryTrouble = new("sawedge_delivery_trouble", "1", "1 while a consumer's server cannot be reached or refuses everything, otherwise 0.", "kind", "consumer");

    /// <summary>Requests to a consumer's server.</summary>
    public static readonly MetricInfo DeliveryTries = new("sawedge_delivery_tries_total", "{request}", "Requests that were sent to a consumer's server, messages to a channel.", "kind", "consumer");

    /// <summary>Requests that failed.</summary>
    public static readonly MetricInfo DeliveryFailures = new("sawedge_delivery_failures_total", "{request}", "Those of them that were not taken: no answer, or another than yes.", "kind", "consumer");

    /// <summary>Points delivered.</summary>
    public static readonly MetricInfo DeliveryPoints = new("sawedge_delivery_points_total", "{point}", "Points that an InfluxDB destination has taken.", "kind", "consumer");

    /// <summary>Rows that wait.</summary>
    public static readonly MetricInfo DeliveryWaiting = new("sawedge_delivery_waiting_entries", "{row}", "Rows of the history that wait for a destination, of all its lanes, counted every 10 s.", "kind", "consumer");

    /// <summary>How long the oldest has waited.</summary>
    public static readonly MetricInfo DeliveryLag = new("sawedge_delivery_lag_seconds", "s", "How long the oldest of them has waited; 0 where none waits.", "kind", "consumer");

    /// <summary>What was refused.</summary>
    public static readonly MetricInfo DeliverySetAside = new("sawedge_delivery_set_aside", "{row}", "What a destination refused for good and nobody has dealt with: 'sawedge outbox list'.", "kind", "consumer");

    /// <summary>What is gone.</summary>
    public static readonly MetricInfo DeliveryGone = new("sawedge_delivery_gone", "{row}", "What was cleared away before a destination had it.", "kind", "consumer");

    /// <summary>Requests to the API.</summary>
    public static readonly MetricInfo HttpRequests = new("sawedge_http_requests_total", "{request}", "Requests to the page and the API that were answered.");

    /// <summary>Requests that failed.</summary>
    public static readonly MetricInfo HttpFailures = new("sawedge_http_failures_total", "{request}", "Those answered with a status of 500 or more.");

    /// <summary>Readers of the event stream.</summary>
    public static readonly MetricInfo HttpReaders = new("sawedge_http_live_readers", "{reader}", "Readers of the event stream: open pages.");

    /// <summary>Exports under way.</summary>
    public static readonly MetricInfo HttpExports = new("sawedge_http_exports", "{export}", "Exports that are being sent.");

    /// <summary>All of them, in the order of the documentation.</summary>
    public static IReadOnlyList<MetricInfo> All { get; } =
    [
        Info, Uptime, Processor, Memory, Heap, ClockDoubtful, Hanging, Watching,
        Frames, FramesLost, FramesWaiting, Silence, Polls, PollsMissed, PollLateness, Errors, Cycles, CyclesLeftOut,
        HistoryTrouble, HistoryWaiting, HistoryTransactions, Journal, HistoryBytes, HistoryLogBytes, HistoryBudget, DiskFree,
        AlarmsOpen, AlarmsWaiting,
        DeliveryLagEntries, DeliveryTrouble, DeliveryTries, DeliveryFailures, DeliveryPoints, DeliveryWaiting, DeliveryLag, DeliverySetAside, DeliveryGone,
        HttpRequests, HttpFailures, HttpReaders, HttpExports,
    ];
}
