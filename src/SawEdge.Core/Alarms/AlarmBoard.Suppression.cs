namespace SawEdge.Core.Alarms;

/// <content>Suppression by design: hours, and one cause, one message.</content>
public sealed partial class AlarmBoard
{
    /// <summary>What suppresses an alarm, in words; null: nothing.</summary>
    private string? Suppressor(BoardEntry entry, DateTimeOffset at)
    {
        if (entry.Rule?.Hours is { } hours && !hours.Contains(at))
            return "outside of the rule's hours";
        if (entry.Rule?.InShifts == true && _settings.IsAtWork?.Invoke(at) == false)
            return "no shift is at work";
        var cause = _open.Values.FirstOrDefault(other => other != entry && Silences(other, entry.Subject));
        return cause is null ? null : $"alarm {cause.Alarm!.Number} ({cause.RuleName}, {cause.Subject}) is its cause";
    }

    // What is itself suppressed was never told, and what is out of service is not to be trusted: neither may keep others quiet.
    // One on the shelf may: people know of it.
    private bool Silences(BoardEntry cause, AlarmSubject subject) =>
        cause.Rule?.Silences == true && cause.Life is { Active: true, Suppressed: false, OutOfService: false } && cause.Subject.Kind switch
        {
            AlarmSubjectKind.Saw or AlarmSubjectKind.Destination => subject == cause.Subject,
            AlarmSubjectKind.Source => subject.Kind == AlarmSubjectKind.Saw && _settings.SourceOfSaw.GetValueOrDefault(subject.Name) == cause.Subject.Name,
            _ => false,
        };

    /// <summary>Looks anew at what suppresses each alarm that is kept from people's eyes.</summary>
    private void Reconsider(DateTimeOffset at)
    {
        // A cause that is freed silences in its turn: those first.
        foreach (var entry in _open.Values.Where(entry => entry.Life.IsHidden).OrderByDescending(entry => entry.Rule?.Silences == true).ToList())
            Reconsider(entry, at);
    }

    private void Reconsider(BoardEntry entry, DateTimeOffset at)
    {
        if (!entry.Life.Exists)
            return;
        var by = Suppressor(entry, at);
        Apply(entry, entry.Life.Step(by is null ? AlarmInput.Unsuppress : AlarmInput.Suppress), at, note: by ?? "");
    }
}
