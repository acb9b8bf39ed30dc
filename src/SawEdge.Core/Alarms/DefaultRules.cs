using SawEdge.Core.Load;

namespace SawEdge.Core.Alarms;

/// <summary>
/// The rules that hold where a plant writes none: useful on the first day, with nothing to tune. How often a cut is called unusual
/// follows from the accepted rate of false alarms; what is found while a cut runs is rather not said than said wrongly; the rest are
/// about things that are so or are not. Times and counts are common practice, no source.
/// </summary>
/// <remarks>
/// What is not here, and why: no figure of the time and losses, for nobody goes to a machine for it and each plant's target is its own;
/// no cut time against the standard, for a catalogue rate is a starting point that may be off on every cut of a job (a cut that is
/// slow for this saw is unusual by its pace); no limit on the load itself, which follows width, feed, speed and material.
/// </remarks>
public static class DefaultRules
{
    /// <summary>Unusual cuts: one is told at once, the next within a few cuts belong to it.</summary>
    public const string UnusualCut = "unusual_cut";

    /// <summary>The rules.</summary>
    public static IReadOnlyList<AlarmRule> All { get; } = [.. Findings(), .. OfTheSaw(), .. OfTheBlade(), .. OfTheData(), .. OfTheGateway()];

    // A finding ends with the first cut that was seen through without it.
    private static IEnumerable<AlarmRule> Findings()
    {
        yield return Finding(LiveFindingKind.BladeGone, AlarmSeverity.High);
        yield return Finding(LiveFindingKind.Stall, AlarmSeverity.High);
        yield return Finding(LiveFindingKind.Overload, AlarmSeverity.Medium);
        yield return Finding(LiveFindingKind.NoContact, AlarmSeverity.Medium);
        yield return Finding(LiveFindingKind.LoadAfterBreakthrough, AlarmSeverity.Medium);
        yield return Finding(LiveFindingKind.FrozenSignal, AlarmSeverity.Low);
    }

    private static IEnumerable<AlarmRule> OfTheSaw()
    {
        // The same cause makes one cut unusual and the next one not quite: that is one alarm.
        yield return Rule(UnusualCut, AlarmTopic.Cycle, AlarmVariables.Unusual, Is(), AlarmSeverity.Medium, "{saw}: unusual cut of job {job}, load score {value} where {limit} is this saw's threshold. {evidence}") with
        {
            Cuts = new CutCount(1, 1, 3),
            MayBe = "No pattern that is known fits; the cut's load profile shows where it differs.",
            Caution = AlarmCaution.LockOut,
        };

        // Who stands at the saw has reset a fault within a minute and needs no message.
        yield return Rule("controller_fault", AlarmTopic.Signal, "fault_code", Above(0), AlarmSeverity.Medium, "{saw}: the controller has reported fault code {value} for a minute.") with
        {
            OnDelay = TimeSpan.FromMinutes(1),
            OffDelay = TimeSpan.FromSeconds(30),
            MayBe = "The saw may have stopped by itself and wait for somebody; the controller's display and manual say what the code means.",
            Caution = AlarmCaution.LockOut,
        };
    }

    // The forecast is a line through scattered points: it is believed where it stays, and gone with another blade.
    private static IEnumerable<AlarmRule> OfTheBlade()
    {
        yield return Rule("blade_due", AlarmTopic.Blade, "due", Is(), AlarmSeverity.Low, "{saw}: blade {blade} will be dull soon. Its specific energy is {rise} above its own beginning; area left {area_left}, {area_left_low} at the least; cuts left {cuts_left}.") with
        {
            Cuts = new CutCount(5, 5, 20),
            MayBe = "The blade is near the end of its life: have the next one ready.",
            Caution = AlarmCaution.LockOut,
        };
        yield return Rule("blade_dull", AlarmTopic.Blade, "area_left", Below(1e-4, 0.2), AlarmSeverity.Medium, "{saw}: blade {blade} is dull. Its specific energy is {rise} above its own beginning, after {area}.") with
        {
            Cuts = new CutCount(5, 5, 20),
            MayBe = "The teeth are worn or overheated; cuts may run out of square, and a blade that is forced may break.",
            Caution = AlarmCaution.LockOut,
        };
    }

    // Saws are switched off when nobody is at work: where the plant has a calendar, their silence is told only while a shift is at work.
    // What is behind a device falls silent with it, and after it: its silence is told once, for the device. It counts as back
    // sooner than the device does, so that it is not told when the device comes back.
    private static IEnumerable<AlarmRule> OfTheData()
    {
        yield return Rule("source_disconnected", AlarmTopic.Communication, "disconnected", Above(120), AlarmSeverity.Medium, "{subject}: nothing usable has come for {value}. Saws concerned: {saws}.") with
        {
            OffDelay = TimeSpan.FromSeconds(15),
            Silences = true,
            InShifts = true,
            MayBe = "The device may be switched off, the network interrupted, or the broker down.",
            Caution = AlarmCaution.Wiring,
        };
        yield return Rule("saw_silent", AlarmTopic.Communication, "silence", Above(600), AlarmSeverity.Medium, "{saw}: no frame with a usable value for {value}.") with
        {
            Silences = true,
            InShifts = true,
            MayBe = "The saw may be switched off, or what publishes its values has stopped.",
            Caution = AlarmCaution.Wiring,
        };
        yield return Rule("signal_stale", AlarmTopic.Communication, "stale", Above(300), AlarmSeverity.Low, "{saw}: frames come, but without a usable value of {signals} for {value}.") with
        {
            OffDelay = TimeSpan.FromMinutes(1),
            MayBe = "A transducer, its wiring or the mapping may be at fault, or a value lies outside of its stated range.",
            Caution = AlarmCaution.Wiring,
        };
        yield return Rule("frames_lost", AlarmTopic.Gateway, "frames_lost", Above(0), AlarmSeverity.Low, "{saw}: {value} frames were dropped in the last 10 minutes because processing was behind.") with
        {
            OnDelay = TimeSpan.FromMinutes(1),
            MayBe = "The gateway's machine may be too slow, its disk too slow or its processor taken by something else; cuts of that time may be incomplete.",
        };
    }

    // Short trouble heals by itself: what waits is on the disk, and nothing is lost by it.
    private static IEnumerable<AlarmRule> OfTheGateway()
    {
        yield return Rule("history_trouble", AlarmTopic.Gateway, "history_trouble", Is(), AlarmSeverity.High, "{subject}: the disk refuses the history; finished cuts wait in memory and are lost if the gateway ends.") with
        {
            OnDelay = TimeSpan.FromSeconds(30),
            OffDelay = TimeSpan.FromSeconds(30),
            MayBe = "The disk may be full, worn out or mounted read-only.",
        };
        yield return Rule("history_damaged", AlarmTopic.Gateway, "history_damaged", Is(), AlarmSeverity.High, "{subject}: the history was damaged. It was set aside in the data folder as history-damaged-TIME.db, and a new one was begun: cuts are recorded, but what was known before is missing.") with
        {
            MayBe = "The disk may be worn out, or have lost what it had acknowledged when the power went. Stop the gateway and put the last backup in place with 'sawedge history restore FILE'; without a backup move the damaged file out of the data folder. Then this alarm ends.",
        };
        yield return Rule("clock_trouble", AlarmTopic.Gateway, "clock_trouble", Is(), AlarmSeverity.Low, "{subject}: look at the machine's clock: {trouble}. Cut times and durations are right; the times of day of records may not be, and their notes say so.") with
        {
            MayBe = "The clock may be set by hand, the time server out of reach, or the machine's clock without a battery.",
        };
        yield return Rule("disk_low", AlarmTopic.Gateway, "disk_free", Below(500, 1000), AlarmSeverity.Medium, "{subject}: {value} free where the data folder is; below {limit} it may soon be full.") with
        {
            OnDelay = TimeSpan.FromMinutes(1),
            MayBe = "Other files may fill the disk, or a destination has taken nothing for long.",
        };

        // It goes on for as long as the budget is what decides: room is made down to 97 % of it.
        yield return Rule("history_budget", AlarmTopic.Gateway, "history_budget", Above(0.95, 0.9), AlarmSeverity.Low, "{subject}: the history takes {value} of its budget. When it is full the oldest signals are cleared away before their time, then the depth profiles of old cuts; records of cycles and alarms stay.") with
        {
            OnDelay = TimeSpan.FromMinutes(1),
            OffDelay = TimeSpan.FromMinutes(1),
            MayBe = "The budget may be small for so many saws, or signals are kept for long: raise history.budget or shorten signals.keep.",
        };
        yield return Rule("history_full", AlarmTopic.Gateway, "history_budget", Above(1), AlarmSeverity.Medium, "{subject}: the history takes {value} of its budget and holds nothing more that may be cleared away; it grows on, for records of cycles and alarms stay.") with
        {
            OnDelay = TimeSpan.FromHours(1),
            OffDelay = TimeSpan.FromMinutes(1),
            MayBe = "The budget may be smaller than what the records take: raise history.budget or move to a larger disk.",
        };
        yield return Rule("delivery_trouble", AlarmTopic.Gateway, "delivery_trouble", Is(), AlarmSeverity.Low, "{subject} has taken nothing for 15 minutes; points wait on the disk.") with
        {
            OnDelay = TimeSpan.FromMinutes(15),
            OffDelay = TimeSpan.FromMinutes(1),
            MayBe = "The server may be down, the network interrupted or the token no longer valid.",
        };

        // A server that is only restarted answers so for a moment, too.
        yield return Rule("destination_refuses", AlarmTopic.Gateway, "destination_refuses", Is(), AlarmSeverity.Medium, "{subject} takes nothing until this is mended: {trouble} Points wait on the disk.") with
        {
            OnDelay = TimeSpan.FromMinutes(1),
            Silences = true,
            MayBe = "The token may be wrong or no longer valid, the bucket or database missing, or the address wrong. Mend it at the server or in the configuration; both are noticed without a restart.",
        };
        yield return Rule("points_refused", AlarmTopic.Gateway, "points_refused", Above(0), AlarmSeverity.Low, "{subject} has refused {value} points for good in the last 24 hours.") with
        {
            MayBe = "A field may be of another type there than here, or its retention shorter than the points are old.",
        };
        yield return Rule("channel_trouble", AlarmTopic.Gateway, "channel_trouble", Is(), AlarmSeverity.Medium, "{subject} has taken no message for 10 minutes; messages wait on the disk.") with
        {
            OnDelay = TimeSpan.FromMinutes(10),
            OffDelay = TimeSpan.FromMinutes(1),
            MayBe = "The receiver may be down, the network interrupted or the password no longer valid; alarms reach nobody by this way.",
        };
        yield return Rule("messages_refused", AlarmTopic.Gateway, "messages_refused", Above(0), AlarmSeverity.Medium, "{subject} has refused {value} messages for good in the last 24 hours.") with
        {
            MayBe = "An address may be wrong, or the receiver does not understand what it is sent.",
        };
    }

    private static AlarmRule Finding(LiveFindingKind kind, AlarmSeverity severity)
    {
        var (_, mayBe, caution) = CauseTable.Of(kind);
        return Rule(kind.ToName(), AlarmTopic.Finding, kind.ToName(), Is(), severity, "{saw}: {finding}") with { MayBe = mayBe, Caution = caution };
    }

    private static AlarmRule Rule(string name, AlarmTopic topic, string variable, AlarmTest test, AlarmSeverity severity, string text) =>
        new() { Name = name, Variable = AlarmVariables.Of(topic, variable), Test = test, Severity = severity, Text = AlarmTemplate.Parse(text) };

    private static AlarmTest Is() => new() { Comparison = AlarmComparison.Is };

    private static AlarmTest Above(double limit) => Above(limit, limit);

    private static AlarmTest Above(double limit, double clear) => new() { Comparison = AlarmComparison.Above, Limit = limit, ClearLimit = clear };

    private static AlarmTest Below(double limit, double clear) => new() { Comparison = AlarmComparison.Below, Limit = limit, ClearLimit = clear };
}
