using System.Diagnostics.CodeAnalysis;

namespace SawEdge.Core.Alarms;

/// <summary>
/// The life of all alarms: takes what came and went and what people said, and tells each transition. Pure: time comes in; not thread safe.
/// </summary>
public sealed partial class AlarmBoard
{
    private const string RuleIsGone = "its rule is no longer configured for it";

    private static readonly TimeSpan Tick = TimeSpan.FromMilliseconds(1);

    private readonly Dictionary<string, AlarmRule> _rules;
    private readonly AlarmBoardSettings _settings;
    private readonly SortedDictionary<(string Rule, AlarmSubject Subject), BoardEntry> _entries = new(BoardEntry.Order);
    private readonly SortedDictionary<long, BoardEntry> _open = [];
    private readonly Queue<AlarmEvent> _events = new();
    private long _nextNumber = 1;
    private bool _mayHoldGone;

    /// <summary>Prepares a board without any alarm.</summary>
    /// <param name="rules">The rules; names are unique.</param>
    /// <param name="settings">What else it must know.</param>
    public AlarmBoard(IReadOnlyList<AlarmRule> rules, AlarmBoardSettings settings)
    {
        _rules = rules.ToDictionary(rule => rule.Name, StringComparer.Ordinal);
        _settings = settings;
    }

    /// <summary>The occurrences that are not closed, oldest first.</summary>
    public IReadOnlyList<Alarm> Open => [.. _open.Values.Select(entry => entry.Alarm!)];

    /// <summary>Whether the rule of a change holds for what it is about: one that was told before the rules were exchanged may be of a rule that is gone.</summary>
    public bool Knows(ConditionChange change) => RuleFor(change.Rule, change.Subject) is not null;

    /// <summary>Takes what came or went. What the board knows already changes nothing.</summary>
    /// <exception cref="ArgumentException">There is no such rule: whoever tells has other rules than the board.</exception>
    public void Take(ConditionChange change)
    {
        var entry = Entry(change.Rule, change.Subject);
        if (entry.Rule is null)
            throw new ArgumentException($"No rule '{change.Rule}' holds for {change.Subject}.", nameof(change));
        Settle(entry, change.At);
        if (change.Holds == entry.Holds)
            return;
        entry.Holds = change.Holds;
        if (!change.Holds)
            Go(entry, change.At);
        else
            Come(entry, change);
    }

    /// <summary>Lets time pass: shelves end, hours begin and end, chattering settles.</summary>
    public void Advance(DateTimeOffset now)
    {
        if (_mayHoldGone)
            CloseGone(now);
        _mayHoldGone = false;

        // By a clock that was set back an alarm that has calmed down would have to wait until the clock has caught up.
        foreach (var entry in _entries.Values)
        {
            if (entry.GoneSince > now)
                entry.GoneSince = now;
        }

        while (_entries.Values.Where(entry => Due(entry) <= now).MinBy(Due) is { } first)
        {
            var due = Due(first);
            EndShelf(first, due);
            Settle(first, due);
        }

        Reconsider(now);
    }

    /// <summary>Takes the next event, oldest first.</summary>
    public bool TryTake([NotNullWhen(true)] out AlarmEvent? happened) => _events.TryDequeue(out happened);

    private BoardEntry Entry(string rule, AlarmSubject subject)
    {
        if (!_entries.TryGetValue((rule, subject), out var entry))
            _entries[(rule, subject)] = entry = new BoardEntry(rule, subject) { Rule = RuleFor(rule, subject) };
        return entry;
    }

    private AlarmRule? RuleFor(string name, AlarmSubject subject) =>
        _rules.TryGetValue(name, out var rule) && rule.Variable.Subject == subject.Kind && rule.Subjects?.Contains(subject.Name) != false
            && _settings.Subjects?.Contains(subject) != false ? rule : null;

    private void Come(BoardEntry entry, ConditionChange change)
    {
        var chatters = entry.CountsAsChatter(change.At, _settings.ChatterFrom, _settings.ChatterWithin);
        entry.GoneSince = null;
        if (entry.IsChattering)
        {
            entry.Alarm = entry.Alarm! with { Activations = entry.Alarm.Activations + 1 };
            return;
        }

        var by = Suppressor(entry, change.At);
        var begins = !entry.Life.Exists;
        Apply(entry, entry.Life.Step(AlarmInput.Come, entry.Rule!.Latch, by is not null), change.At, note: begins ? by ?? "" : "", occurrence: at => Occurrence(entry, change, at));
        if (chatters)
        {
            entry.IsChattering = true;
            Tell(entry, AlarmEventKind.Chattering, change.At, entry.Life.State);
        }
    }

    private void Go(BoardEntry entry, DateTimeOffset at)
    {
        if (entry.IsChattering)
            entry.GoneSince = at;
        else
            Apply(entry, entry.Life.Step(AlarmInput.Go, entry.Rule?.Latch ?? false), at);
    }

    private Alarm Occurrence(BoardEntry entry, ConditionChange change, DateTimeOffset at)
    {
        var rule = entry.Rule!;
        var alarm = entry.Alarm is { } known
            ? known with { Activations = known.Activations + 1, ClearedAt = null, AcknowledgedAt = null, AcknowledgedBy = "" }
            : new Alarm { Number = _nextNumber++, Rule = rule.Name, Subject = change.Subject, Severity = rule.Severity, RaisedAt = at, State = AlarmState.Normal, IsActive = true };
        return alarm with
        {
            Value = change.Value,
            Limit = change.Limit,
            Unit = rule.Variable.Unit,
            Text = rule.Text.Fill(AlarmFacts.Of(rule, change), _settings.Quantity),
            Cause = change.Cause,
            MayBe = change.MayBe.Length > 0 ? change.MayBe : rule.MayBe,
            Caution = change.Caution.Length > 0 ? change.Caution : rule.Caution,
            CycleId = change.CycleId,
        };
    }

    private DateTimeOffset Due(BoardEntry entry)
    {
        var settles = entry.GoneSince is { } gone ? gone + _settings.Settle : DateTimeOffset.MaxValue;
        var shelfEnds = entry.ShelvedUntil ?? DateTimeOffset.MaxValue;
        return settles < shelfEnds ? settles : shelfEnds;
    }

    private void Settle(BoardEntry entry, DateTimeOffset now)
    {
        if (entry.GoneSince is not { } gone || gone + _settings.Settle > now)
            return;
        var at = gone + _settings.Settle;
        ForgetChatter(entry);
        Tell(entry, AlarmEventKind.Settled, at, entry.Life.State);
        Go(entry, at);
    }

    private static void ForgetChatter(BoardEntry entry)
    {
        entry.GoneSince = null;
        entry.IsChattering = false;
        entry.Activations.Clear();
    }

    private void EndShelf(BoardEntry entry, DateTimeOffset now)
    {
        if (entry.ShelvedUntil is not { } until || until > now)
            return;
        entry.ShelvedUntil = null;
        Apply(entry, entry.Life.Step(AlarmInput.Unshelve, suppress: Suppressor(entry, until) is not null), until, note: "its time on the shelf is over");
    }

    // What nobody configures any more would stay for ever: nothing would tell that its condition is gone.
    private void CloseGone(DateTimeOffset now)
    {
        foreach (var entry in _entries.Values.Where(entry => entry.Rule is null).ToList())
        {
            var life = entry.Life;
            entry.Holds = false;
            ForgetChatter(entry);
            if (life.Exists)
            {
                // First, and at once out of every state: it must not be announced on its way.
                var closed = new AlarmLife { Shelved = life.Shelved, OutOfService = life.OutOfService };
                Apply(entry, new AlarmStep(closed, AlarmEventKind.Cleared, null), now, note: RuleIsGone);
            }

            entry.ShelvedUntil = null;
            if (life.Shelved)
                Apply(entry, entry.Life.Step(AlarmInput.Unshelve), now, note: RuleIsGone);
            if (life.OutOfService)
                Apply(entry, entry.Life.Step(AlarmInput.ReturnToService), now, note: RuleIsGone);
        }
    }

    /// <summary>Makes a step that did something so, and tells it.</summary>
    private void Apply(BoardEntry entry, AlarmStep step, DateTimeOffset at, string who = "", string note = "", Func<DateTimeOffset, Alarm>? occurrence = null)
    {
        if (step.Kind is not { } kind)
            return;
        var before = entry.Life;
        at = After(entry, at);
        if (occurrence is not null)
            entry.Alarm = occurrence(at);
        entry.Life = step.Next;
        if (entry.Alarm is { } alarm)
        {
            if (before.Active && !step.Next.Active)
                alarm = alarm with { ClearedAt = at };
            if (kind == AlarmEventKind.Acknowledged)
                alarm = alarm with { AcknowledgedAt = at, AcknowledgedBy = who };
            entry.Alarm = alarm;
            _open[alarm.Number] = entry;
        }

        Tell(entry, kind, at, before.State, who, note);
        if (!entry.Life.Exists && entry.Alarm is { } closed)
        {
            _open.Remove(closed.Number);
            Remember(closed);
            entry.Alarm = null;
        }

        // Only what silences changes what others may show.
        if (entry.Rule?.Silences == true)
            Reconsider(at);
    }

    private void Tell(BoardEntry entry, AlarmEventKind kind, DateTimeOffset at, AlarmState before, string who = "", string note = "")
    {
        at = After(entry, at);
        entry.LastEventAt = at;
        entry.Alarm = entry.Alarm is null ? null : entry.Alarm with
        {
            State = entry.Life.State,
            IsActive = entry.Life.Active,
            IsChattering = entry.IsChattering,
            ShelvedUntil = entry.ShelvedUntil,
        };
        _events.Enqueue(new AlarmEvent(at, kind, entry.RuleName, entry.Subject, before, entry.Life.State, entry.Alarm, who, note));
    }

    private static DateTimeOffset After(BoardEntry entry, DateTimeOffset at) => at < entry.LastEventAt + Tick ? entry.LastEventAt + Tick : at;
}
