namespace SawEdge.Core.Alarms;

/// <summary>An open alarm that was announced: what decides who is told of it, and who was.</summary>
internal sealed class ToldAlarm(string rule, AlarmSubject subject, AlarmSeverity severity)
{
    /// <summary>Begins with an occurrence.</summary>
    public ToldAlarm(Alarm alarm)
        : this(alarm.Rule, alarm.Subject, alarm.Severity) => Number = alarm.Number;

    /// <summary>Number of the occurrence.</summary>
    public long Number { get; init; }

    /// <summary>Name of the rule.</summary>
    public string Rule => rule;

    /// <summary>What it is about.</summary>
    public AlarmSubject Subject => subject;

    /// <summary>How urgent.</summary>
    public AlarmSeverity Severity => severity;

    /// <summary>Its state.</summary>
    public AlarmState State { get; set; }

    /// <summary>Whether nothing is left to be done about it.</summary>
    public bool IsClosed { get; set; }

    /// <summary>Who was told, or is to be told, by name of the contact.</summary>
    public Dictionary<string, ToldContact> Told { get; init; } = new(StringComparer.Ordinal);

    /// <summary>Whether it waits for somebody to acknowledge it.</summary>
    public bool IsWaiting => State is AlarmState.Unacknowledged or AlarmState.ReturnedUnacknowledged or AlarmState.LatchedUnacknowledged;

    /// <summary>Whether it is kept from people's eyes.</summary>
    public bool IsHidden => State is AlarmState.Shelved or AlarmState.SuppressedByDesign or AlarmState.OutOfService;

    /// <summary>Takes over how the occurrence is now.</summary>
    public void See(Alarm alarm) => (State, IsClosed) = (alarm.State, alarm.IsClosed);

    /// <summary>What a contact knows of it.</summary>
    public ToldContact With(Contact contact)
    {
        if (!Told.TryGetValue(contact.Name, out var told))
            Told[contact.Name] = told = new ToldContact();
        return told;
    }
}

/// <summary>What one contact knows of an alarm.</summary>
internal sealed class ToldContact
{
    /// <summary>When it was told first; null: not yet.</summary>
    public DateTimeOffset? Since { get; set; }

    /// <summary>When it was told last.</summary>
    public DateTimeOffset Last { get; set; }

    /// <summary>Whether what it was told last is that the condition is gone.</summary>
    public bool IsGone { get; set; }

    /// <summary>Whether its patience is over and the next contact's turn came.</summary>
    public bool PassedOn { get; set; }

    /// <summary>Whether it was, or is to be, told because others did not acknowledge it.</summary>
    public bool Escalated { get; set; }
}

/// <summary>Which alarms a contact wants to know of.</summary>
internal static class ContactFilter
{
    /// <summary>Whether an alarm passes the contact's filters.</summary>
    public static bool Wants(this Contact contact, ToldAlarm alarm) =>
        alarm.Severity >= contact.Least && contact.Subjects?.Contains(alarm.Subject.Name) != false && contact.Rules?.Contains(alarm.Rule) != false;
}
