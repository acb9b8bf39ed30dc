using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Notification;

/// <summary>What leaves next.</summary>
/// <param name="Entries">The entries, in order.</param>
/// <param name="Waited">Whether they were held up.</param>
/// <param name="SetAside">Why they are set aside instead; null: they are sent.</param>
internal sealed record Parcel(IReadOnlyList<JournalEntry> Entries, bool Waited, string? SetAside = null);

/// <summary>
/// Which of the entries that wait goes next, with which others, and which is given up. A message that the receiver does not take
/// while it takes others must not hold them up: it goes behind them, and is set aside when that goes on. Pure.
/// </summary>
/// <param name="gathering">How entries that waited leave together.</param>
/// <param name="groupOf">What entries must have in common for that.</param>
/// <param name="giveUpAfter">After how long an entry is set aside.</param>
internal sealed class SendPlan(Gathering gathering, Func<JournalEntry, string> groupOf, TimeSpan giveUpAfter)
{
    /// <summary>An entry older than this was held up.</summary>
    public static readonly TimeSpan WaitedFrom = TimeSpan.FromMinutes(2);

    /// <summary>Failures while others were taken, after which an entry can be set aside.</summary>
    public const int MostStrikes = 5;

    // One failure is no sign: each outage begins with one.
    private const int AloneFrom = 2;

    /// <summary>How long such failures must have gone on before.</summary>
    public static readonly TimeSpan StrikesFor = TimeSpan.FromMinutes(15);

    private readonly Dictionary<long, Failure> _failures = [];

    /// <summary>What goes next.</summary>
    /// <param name="waiting">What waits, in order; not empty.</param>
    /// <param name="now">The time.</param>
    public Parcel Next(IReadOnlyList<JournalEntry> waiting, DateTimeOffset now)
    {
        if (gathering == Gathering.Latest)
            return Together(waiting, waiting[0], now);

        foreach (var entry in waiting)
        {
            var failure = _failures.GetValueOrDefault(entry.Sequence);
            if (now - entry.At > giveUpAfter)
                return new Parcel([entry], true, $"not delivered within {Words(giveUpAfter)}{(failure is null ? "" : ": " + failure.LastWords)}");
            if (failure is { Strikes: >= MostStrikes } && now - failure.Since >= StrikesFor)
                return new Parcel([entry], true, $"refused again and again while others were taken: {failure.LastWords}");
        }

        var first = waiting.MinBy(entry => (_failures.GetValueOrDefault(entry.Sequence)?.Tries ?? 0, entry.Sequence))!;
        return gathering == Gathering.Merge && !GoesAlone(first) ? Together(waiting, first, now) : new Parcel([first], Waited(first, now));
    }

    /// <summary>A try came to nothing.</summary>
    /// <param name="parcel">What was tried.</param>
    /// <param name="words">The receiver's words.</param>
    /// <param name="othersWereTaken">Whether the receiver took what was tried before.</param>
    /// <param name="now">The time.</param>
    public void Failed(Parcel parcel, string words, bool othersWereTaken, DateTimeOffset now)
    {
        foreach (var entry in parcel.Entries)
        {
            var before = _failures.GetValueOrDefault(entry.Sequence) ?? new Failure(0, 0, now, "");
            _failures[entry.Sequence] = before with { Tries = before.Tries + 1, Strikes = before.Strikes + (othersWereTaken ? 1 : 0), LastWords = words };
        }
    }

    /// <summary>Entries are done with.</summary>
    public void Settled(Parcel parcel)
    {
        foreach (var entry in parcel.Entries)
            _failures.Remove(entry.Sequence);
    }

    private static bool Waited(JournalEntry entry, DateTimeOffset now) => now - entry.At >= WaitedFrom;

    private static string Words(TimeSpan span) => span.TotalHours >= 48 ? FormattableString.Invariant($"{span.TotalDays:0.#} days") : FormattableString.Invariant($"{span.TotalHours:0.#} h");

    private bool GoesAlone(JournalEntry entry) => _failures.GetValueOrDefault(entry.Sequence) is { Strikes: >= AloneFrom };

    private Parcel Together(IReadOnlyList<JournalEntry> waiting, JournalEntry first, DateTimeOffset now)
    {
        if (!Waited(first, now))
            return new Parcel([first], false);
        var group = groupOf(first);
        return new Parcel([.. waiting.Where(entry => groupOf(entry) == group && (gathering == Gathering.Latest || !GoesAlone(entry)))], true);
    }

    private sealed record Failure(int Tries, int Strikes, DateTimeOffset Since, string LastWords);
}
