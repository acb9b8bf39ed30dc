using System.Text.Json;

namespace SawEdge.Core.Alarms;

/// <content>What survives a restart.</content>
public sealed partial class AlarmBoard
{
    private const int MemoryVersion = 1;

    /// <summary>All that must survive a restart, as JSON.</summary>
    public string Save() => JsonSerializer.Serialize(new SavedBoard(
        MemoryVersion, _nextNumber,
        [.. _entries.Values.Where(entry => entry.LastEventAt != default).Select(entry => new SavedEntry
        {
            Rule = entry.RuleName,
            Subject = entry.Subject,
            Life = entry.Life,
            Alarm = entry.Alarm,
            Holds = entry.Holds,
            IsChattering = entry.IsChattering,
            GoneSince = entry.GoneSince,
            ShelvedUntil = entry.ShelvedUntil,
            LastEventAt = entry.LastEventAt,
            Activations = entry.Activations,
        })]), AlarmJson.Options);

    /// <summary>Continues from what <see cref="Save"/> gave. Alarms of rules that are gone are closed, and said so, by the next <see cref="Advance"/>.</summary>
    /// <exception cref="FormatException">It is nothing that this version saved.</exception>
    public void Restore(string saved)
    {
        var board = AlarmJson.Read<SavedBoard>(saved, "alarms");
        if (board.Version != MemoryVersion)
            throw new FormatException($"The alarms' memory is of version {board.Version}; this program reads version {MemoryVersion}.");
        var entries = new Dictionary<(string Rule, AlarmSubject Subject), BoardEntry>();
        var open = new SortedDictionary<long, BoardEntry>();
        foreach (var s in board.Entries.Whole())
        {
            var entry = new BoardEntry(s.Rule, s.Subject)
            {
                Rule = RuleFor(s.Rule, s.Subject),
                Life = s.Life,
                Alarm = s.Alarm,
                Holds = s.Holds,
                IsChattering = s.IsChattering,
                GoneSince = s.GoneSince,
                ShelvedUntil = s.ShelvedUntil,
                LastEventAt = s.LastEventAt,
                Activations = s.Activations ?? [],
            };
            var sound = s.Life.Exists == s.Alarm is not null && s.Life.Shelved == s.ShelvedUntil is not null
                && (s.Alarm is null || (s.Alarm.Number < board.NextNumber && open.TryAdd(s.Alarm.Number, entry)));
            if (!sound || !entries.TryAdd((s.Rule, s.Subject), entry))
                throw new FormatException($"The alarms' memory contradicts itself about rule '{s.Rule}' and {s.Subject}.");
        }

        _entries.Clear();
        _open.Clear();
        _closed.Clear();
        _closedOrder.Clear();
        foreach (var (key, entry) in entries)
            _entries.Add(key, entry);
        foreach (var (number, entry) in open)
            _open.Add(number, entry);
        _nextNumber = board.NextNumber;
        _mayHoldGone = true;
    }

    private sealed record SavedBoard(int Version, long NextNumber, IReadOnlyList<SavedEntry> Entries);

    private sealed record SavedEntry
    {
        public required string Rule { get; init; }

        public required AlarmSubject Subject { get; init; }

        public required AlarmLife Life { get; init; }

        public Alarm? Alarm { get; init; }

        public bool Holds { get; init; }

        public bool IsChattering { get; init; }

        public DateTimeOffset? GoneSince { get; init; }

        public DateTimeOffset? ShelvedUntil { get; init; }

        public DateTimeOffset LastEventAt { get; init; }

        public List<DateTimeOffset>? Activations { get; init; }
    }
}
