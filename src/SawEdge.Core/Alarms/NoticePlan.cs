using System.Diagnostics.CodeAnalysis;

namespace SawEdge.Core.Alarms;

/// <summary>
/// Who is told what and when: hours, digests, reminders, escalation, and in a flood of alarms one message instead of many. Pure: time
/// comes in; not thread safe.
/// </summary>
public sealed class NoticePlan
{
    /// <summary>Prepares a plan.</summary>
    /// <param name="contacts">The contacts; names are unique.</param>
    public NoticePlan(IReadOnlyList<Contact> contacts) => throw new NotImplementedException();

    /// <summary>Takes what happened to an alarm.</summary>
    public void Take(AlarmEvent happened) => throw new NotImplementedException();

    /// <summary>Lets time pass: digests close, reminders and escalations fall due.</summary>
    public void Advance(DateTimeOffset now) => throw new NotImplementedException();

    /// <summary>Takes the next message that is to go out.</summary>
    public bool TryTake([NotNullWhen(true)] out Notice? notice) => throw new NotImplementedException();

    /// <summary>All that must survive a restart, as JSON.</summary>
    public string Save() => throw new NotImplementedException();

    /// <summary>Continues from what <see cref="Save"/> gave. What was planned for contacts that are gone is dropped.</summary>
    /// <exception cref="FormatException">It is nothing that this version saved.</exception>
    public void Restore(string saved) => throw new NotImplementedException();
}
