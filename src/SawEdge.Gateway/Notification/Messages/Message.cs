using SawEdge.Core.Alarms;

namespace SawEdge.Gateway.Notification.Messages;

/// <summary>A message that is ready to leave: all that any channel says of it. Its texts are clean: one line each, bounded, without control characters.</summary>
internal sealed record Message
{
    /// <summary>Its identity, the same at each try: letters, digits and <c>_</c>.</summary>
    public required string Id { get; init; }

    /// <summary>Numbers of the notices in it, oldest first.</summary>
    public required IReadOnlyList<long> Notices { get; init; }

    /// <summary>Why it goes out.</summary>
    public required NoticeKind Kind { get; init; }

    /// <summary>Name of the contact.</summary>
    public required string Contact { get; init; }

    /// <summary>Name of the channel.</summary>
    public required string Channel { get; init; }

    /// <summary>Name of the plant.</summary>
    public required string Site { get; init; }

    /// <summary>Name of the gateway.</summary>
    public required string Gateway { get; init; }

    /// <summary>When it was decided; of several the first.</summary>
    public required DateTimeOffset At { get; init; }

    /// <summary>What it is about in one line: how urgent, which saw, what.</summary>
    public required string Subject { get; init; }

    /// <summary>Why it comes, in whole sentences.</summary>
    public required string Lead { get; init; }

    /// <summary>The alarms, the most urgent first.</summary>
    public IReadOnlyList<MessageAlarm> Alarms { get; init; } = [];

    /// <summary>How many more alarms it is about, which are not told one by one.</summary>
    public int More { get; init; }

    /// <summary>What to be careful with, each once; empty where nobody is sent to a machine.</summary>
    public IReadOnlyList<string> Cautions { get; init; } = [];

    /// <summary>Who it comes from and what that is not.</summary>
    public required string Footer { get; init; }
}

/// <summary>One alarm in a message.</summary>
internal sealed record MessageAlarm
{
    /// <summary>The alarm as it is now.</summary>
    public required Alarm Alarm { get; init; }

    /// <summary>What was measured, a sentence.</summary>
    public required string Text { get; init; }

    /// <summary>The value with its unit as the plant reads it; empty where there is none.</summary>
    public string Value { get; init; } = "";

    /// <summary>The limit, likewise.</summary>
    public string Limit { get; init; } = "";

    /// <summary>Names and values, as people read them.</summary>
    public required IReadOnlyList<(string Name, string Value)> Facts { get; init; }

    /// <summary>What it may be, a sentence; may be empty.</summary>
    public string MayBe { get; init; } = "";

    /// <summary>The cut's load along its depth, or null.</summary>
    public Picture? Picture { get; init; }

    /// <summary>Links to answer with.</summary>
    public IReadOnlyList<MessageLink> Links { get; init; } = [];
}

/// <summary>A link in a message.</summary>
/// <param name="Action">What it does.</param>
/// <param name="Words">What it does, in words.</param>
/// <param name="Address">Where it leads.</param>
internal sealed record MessageLink(AlarmAction Action, string Words, Uri Address);

/// <summary>A picture in a message.</summary>
/// <param name="Png">The picture.</param>
/// <param name="Words">What it shows, for those who do not see it.</param>
internal sealed record Picture(byte[] Png, string Words);
