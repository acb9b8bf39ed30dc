namespace SawEdge.Core.Alarms;

/// <content>What is left where the memory cannot be read.</content>
public sealed partial class AlarmBoard
{
    /// <summary>
    /// Continues from the open occurrences alone, where what <see cref="Save"/> gave cannot be read. What was put aside without an
    /// occurrence is forgotten, and so is how often conditions came lately.
    /// </summary>
    /// <param name="open">The occurrences that are not closed.</param>
    /// <param name="lastNumber">The greatest number that was ever given.</param>
    public void Adopt(IEnumerable<Alarm> open, long lastNumber)
    {
        _entries.Clear();
        _open.Clear();
        foreach (var alarm in open)
        {
            var entry = new BoardEntry(alarm.Rule, alarm.Subject)
            {
                Rule = RuleFor(alarm.Rule, alarm.Subject),
                Alarm = alarm,
                Holds = alarm.IsActive,
                IsChattering = alarm.IsChattering,
                ShelvedUntil = alarm.ShelvedUntil,
                LastEventAt = Latest(alarm.RaisedAt, alarm.ClearedAt, alarm.AcknowledgedAt),
                Life = new AlarmLife
                {
                    Exists = true,
                    Active = alarm.IsActive,
                    Acknowledged = alarm.AcknowledgedAt is not null,
                    Latched = alarm.State is AlarmState.LatchedUnacknowledged or AlarmState.LatchedAcknowledged,
                    Shelved = alarm.ShelvedUntil is not null,
                    Suppressed = alarm.State == AlarmState.SuppressedByDesign,
                    OutOfService = alarm.State == AlarmState.OutOfService,
                },
            };

            // Two of one rule and subject cannot be open at once; of those that a fault of the program left, the later counts.
            if (_entries.Remove((alarm.Rule, alarm.Subject), out var earlier))
                _open.Remove(earlier.Alarm!.Number);
            _entries.Add((alarm.Rule, alarm.Subject), entry);
            _open[alarm.Number] = entry;
        }

        _nextNumber = lastNumber + 1;
        _mayHoldGone = true;
    }

    private static DateTimeOffset Latest(DateTimeOffset first, params ReadOnlySpan<DateTimeOffset?> others)
    {
        foreach (var other in others)
        {
            if (other > first)
                first = other.Value;
        }

        return first;
    }
}
