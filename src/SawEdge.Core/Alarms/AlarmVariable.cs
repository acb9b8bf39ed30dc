namespace SawEdge.Core.Alarms;

/// <summary>What a rule looks at.</summary>
public enum AlarmTopic : byte
{
    /// <summary>A signal of a saw, frame by frame.</summary>
    Signal,

    /// <summary>A finding of the live watch: decided while the cut still runs.</summary>
    Finding,

    /// <summary>A figure of a finished cycle.</summary>
    Cycle,

    /// <summary>The wear of the blade and its forecast, after each cut.</summary>
    Blade,

    /// <summary>A figure of the time and losses of a saw.</summary>
    Oee,

    /// <summary>Whether data come.</summary>
    Communication,

    /// <summary>The gateway itself.</summary>
    Gateway,
}

/// <summary>How a variable's values are compared.</summary>
public enum AlarmValueKind : byte
{
    /// <summary>A number, compared with a limit in its unit.</summary>
    Number,

    /// <summary>A yes or no.</summary>
    Flag,

    /// <summary>A text, compared with words.</summary>
    Text,
}

/// <summary>What an alarm is about.</summary>
public enum AlarmSubjectKind : byte
{
    /// <summary>A saw.</summary>
    Saw,

    /// <summary>A device or broker that signals come from.</summary>
    Source,

    /// <summary>A server that is written to.</summary>
    Destination,

    /// <summary>A channel that messages leave by.</summary>
    Channel,

    /// <summary>The gateway.</summary>
    Gateway,
}

/// <summary>One thing that an alarm is about.</summary>
/// <param name="Kind">What kind of thing.</param>
/// <param name="Name">Its name in the configuration.</param>
public readonly record struct AlarmSubject(AlarmSubjectKind Kind, string Name)
{
    /// <summary>A saw.</summary>
    public static AlarmSubject Saw(string name) => new(AlarmSubjectKind.Saw, name);

    /// <inheritdoc/>
    public override string ToString() => Kind == AlarmSubjectKind.Saw ? Name : $"{Kind.ToName()} {Name}";
}

/// <summary>Something a rule can look at: the single place that names it, types it and says what it means.</summary>
/// <param name="Topic">Where it belongs.</param>
/// <param name="Name">Name in the configuration, snake case; unique within its topic.</param>
/// <param name="Kind">How it is compared.</param>
/// <param name="Unit">Unit of its numbers as in the data contract, empty where there is none; <c>share</c> for parts of 1.</param>
/// <param name="Subject">What its alarms are about.</param>
/// <param name="Meaning">What it is.</param>
public sealed record AlarmVariable(AlarmTopic Topic, string Name, AlarmValueKind Kind, string Unit, AlarmSubjectKind Subject, string Meaning);

/// <summary>The words for topics and subjects outside the process.</summary>
public static class AlarmWords
{
    private static readonly string[] Topics = ["signal", "finding", "cycle", "blade", "oee", "communication", "gateway"];
    private static readonly string[] Subjects = ["saw", "source", "destination", "channel", "gateway"];

    /// <summary>The word for a topic.</summary>
    public static string ToName(this AlarmTopic topic) => Topics[(int)topic];

    /// <summary>The word for a kind of subject.</summary>
    public static string ToName(this AlarmSubjectKind kind) => Subjects[(int)kind];

    /// <summary>The kind of subject of a word; null for another word.</summary>
    public static AlarmSubjectKind? SubjectKind(string word) => Array.IndexOf(Subjects, word) is var index and >= 0 ? (AlarmSubjectKind)index : null;
}
