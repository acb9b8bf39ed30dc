using System.Diagnostics.CodeAnalysis;
using SawEdge.Core.Load;
using SawEdge.Core.Signals;

namespace SawEdge.Core.Alarms;

/// <summary>Everything that a rule can look at.</summary>
public static class AlarmVariables
{
    /// <summary>Name of the variable that says whether a cut reaches the saw's own threshold of the load score.</summary>
    public const string Unusual = "unusual";

    private static readonly string[] CycleTexts = ["outcome", "likely_cause", "job", "material", "section", "blade", "mode"];

    /// <summary>All of them: signals, findings, cycle figures, blade, OEE, communication, gateway.</summary>
    public static IReadOnlyList<AlarmVariable> All { get; } =
    [
        .. SignalInfo.All.Select(info => new AlarmVariable(AlarmTopic.Signal, info.Name, KindOf(info.Kind), info.Unit, AlarmSubjectKind.Saw, info.Meaning)),
        .. Enum.GetValues<LiveFindingKind>().Select(kind => new AlarmVariable(AlarmTopic.Finding, kind.ToName(), AlarmValueKind.Flag, "", AlarmSubjectKind.Saw, FindingMeaning(kind))),
        new(AlarmTopic.Cycle, Unusual, AlarmValueKind.Flag, "", AlarmSubjectKind.Saw, "the load score reaches the saw's own threshold, which follows from the accepted rate of false alarms"),
        .. CycleColumns.All.Where(column => column.Type is ColumnType.Number or ColumnType.Integer || CycleTexts.Contains(column.Name))
            .Select(column => new AlarmVariable(AlarmTopic.Cycle, column.Name, column.Type == ColumnType.Text ? AlarmValueKind.Text : AlarmValueKind.Number, column.Unit, AlarmSubjectKind.Saw, column.Meaning)),
        new(AlarmTopic.Blade, "due", AlarmValueKind.Flag, "", AlarmSubjectKind.Saw, "the blade is dull, or will be soon"),
        new(AlarmTopic.Blade, "rise", AlarmValueKind.Number, "share", AlarmSubjectKind.Saw, "rise of specific energy over the blade's own beginning"),
        new(AlarmTopic.Blade, "area_left", AlarmValueKind.Number, "m2", AlarmSubjectKind.Saw, "area left until the blade is dull, by its forecast"),
        new(AlarmTopic.Blade, "cuts_left", AlarmValueKind.Number, "", AlarmSubjectKind.Saw, "cuts like the last one left until the blade is dull, by its forecast"),
        new(AlarmTopic.Blade, "area", AlarmValueKind.Number, "m2", AlarmSubjectKind.Saw, "area that the blade has cut"),
        new(AlarmTopic.Oee, "availability", AlarmValueKind.Number, "share", AlarmSubjectKind.Saw, "actual production time / planned busy time (ISO 22400-2)"),
        new(AlarmTopic.Oee, "effectiveness", AlarmValueKind.Number, "share", AlarmSubjectKind.Saw, "planned run time per item * produced quantity / actual production time (ISO 22400-2)"),
        new(AlarmTopic.Oee, "quality_ratio", AlarmValueKind.Number, "share", AlarmSubjectKind.Saw, "good quantity / produced quantity (ISO 22400-2)"),
        new(AlarmTopic.Oee, "oee", AlarmValueKind.Number, "share", AlarmSubjectKind.Saw, "availability * effectiveness * quality ratio (ISO 22400-2)"),
        new(AlarmTopic.Oee, "unknown_share", AlarmValueKind.Number, "share", AlarmSubjectKind.Saw, "share of the planned busy time in which the saw was not seen"),
        new(AlarmTopic.Communication, "silence", AlarmValueKind.Number, "s", AlarmSubjectKind.Saw, "time since the last frame of the saw that held a usable value"),
        new(AlarmTopic.Communication, "stale", AlarmValueKind.Number, "s", AlarmSubjectKind.Saw, "time for which frames came although a mapped signal that was usable before is not any more"),
        new(AlarmTopic.Communication, "disconnected", AlarmValueKind.Number, "s", AlarmSubjectKind.Source, "time for which nothing usable came from a device or broker for any of its saws"),
        new(AlarmTopic.Gateway, "history_trouble", AlarmValueKind.Flag, "", AlarmSubjectKind.Gateway, "the disk refuses the history"),
        new(AlarmTopic.Gateway, "history_damaged", AlarmValueKind.Flag, "", AlarmSubjectKind.Gateway, "a damaged history was set aside in the data folder, and nobody has dealt with it yet"),
        new(AlarmTopic.Gateway, "frames_lost", AlarmValueKind.Number, "", AlarmSubjectKind.Saw, "frames of a saw that were dropped in the last 10 minutes because processing was behind"),
        new(AlarmTopic.Gateway, "clock_trouble", AlarmValueKind.Flag, "", AlarmSubjectKind.Gateway, "the machine's clock is not to be trusted, or was set in the last 10 minutes"),
        new(AlarmTopic.Gateway, "disk_free", AlarmValueKind.Number, "MB", AlarmSubjectKind.Gateway, "free space where the data folder is"),
        new(AlarmTopic.Gateway, "history_budget", AlarmValueKind.Number, "share", AlarmSubjectKind.Gateway, "share of its budget that the history's file takes"),
        new(AlarmTopic.Gateway, "delivery_trouble", AlarmValueKind.Flag, "", AlarmSubjectKind.Destination, "a destination takes nothing at the moment"),
        new(AlarmTopic.Gateway, "destination_refuses", AlarmValueKind.Flag, "", AlarmSubjectKind.Destination, "a destination takes nothing until somebody mends what is wrong: token, rights, bucket or address"),
        new(AlarmTopic.Gateway, "points_refused", AlarmValueKind.Number, "", AlarmSubjectKind.Destination, "points that a destination has refused for good in the last 24 hours"),
        new(AlarmTopic.Gateway, "channel_trouble", AlarmValueKind.Flag, "", AlarmSubjectKind.Channel, "a channel for messages takes nothing at the moment"),
        new(AlarmTopic.Gateway, "messages_refused", AlarmValueKind.Number, "", AlarmSubjectKind.Channel, "messages that a channel has refused for good in the last 24 hours"),
    ];

    /// <summary>Finds a variable.</summary>
    /// <param name="topic">Its topic.</param>
    /// <param name="name">Its name.</param>
    /// <param name="variable">The variable.</param>
    /// <returns>Whether there is one.</returns>
    public static bool TryFind(AlarmTopic topic, string name, [NotNullWhen(true)] out AlarmVariable? variable)
    {
        variable = All.FirstOrDefault(candidate => candidate.Topic == topic && candidate.Name == name);
        return variable is not null;
    }

    /// <summary>The variable of a topic.</summary>
    /// <exception cref="ArgumentException">There is none of that name.</exception>
    public static AlarmVariable Of(AlarmTopic topic, string name) =>
        TryFind(topic, name, out var variable) ? variable : throw new ArgumentException($"There is no variable '{name}' of topic {topic.ToName()}.", nameof(name));

    private static AlarmValueKind KindOf(SignalKind kind) => kind switch
    {
        SignalKind.Flag => AlarmValueKind.Flag,
        SignalKind.Text => AlarmValueKind.Text,
        _ => AlarmValueKind.Number,
    };

    private static string FindingMeaning(LiveFindingKind kind) => kind switch
    {
        LiveFindingKind.Overload => "load above the hard limit",
        LiveFindingKind.Stall => "load high and the head not descending",
        LiveFindingKind.BladeGone => "load fell to idle while the head keeps descending inside the stock",
        LiveFindingKind.NoContact => "the head went down where stock was expected, and the load stayed idle",
        LiveFindingKind.LoadAfterBreakthrough => "load still there after the blade must have come through",
        LiveFindingKind.FrozenSignal => "a signal that must move in a cut does not",
        _ => throw new ArgumentOutOfRangeException(nameof(kind)),
    };
}
