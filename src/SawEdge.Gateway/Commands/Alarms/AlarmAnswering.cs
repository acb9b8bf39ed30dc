using SawEdge.Core.Alarms;
using SawEdge.Gateway.Commands.Reports;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Commands.Alarms;

/// <summary>Hands to the gateway what a person says about an alarm, and waits a moment for what comes of it.</summary>
/// <param name="folder">The data folder.</param>
/// <param name="page">Where to print.</param>
/// <param name="time">Clock and time zone.</param>
internal sealed class AlarmAnswering(NamedFolder folder, TextPage page, TimeProvider time)
{
    /// <summary>How long a running gateway is waited for; it looks every second.</summary>
    internal static readonly TimeSpan Patience = TimeSpan.FromSeconds(10);

    private static readonly TimeSpan LookEvery = TimeSpan.FromMilliseconds(100);

    private readonly HistoryReader _reader = folder.Open();
    private readonly MomentText _moments = new(time);

    /// <summary>An answer about one occurrence.</summary>
    /// <exception cref="CommandException">There is no such alarm, or the gateway refuses the answer.</exception>
    public async Task AnswerAsync(AlarmAction action, long number, string who, string note, TimeSpan? shelf, CancellationToken cancellation)
    {
        var alarm = await AlarmLooking.FindAsync(_reader, number, cancellation);
        var until = time.GetUtcNow() + shelf;
        await EnterAsync(AlarmAnswer.To(number, action, who, note, until), FormattableString.Invariant($"#{number} ({alarm.Subject}: {alarm.Rule})"), cancellation);
    }

    /// <summary>An answer about a rule and a subject, whether there is an occurrence or not.</summary>
    /// <exception cref="CommandException">There is no such rule or subject, or the gateway refuses the answer.</exception>
    public async Task AnswerAsync(AlarmAction action, string rule, string? subject, string who, string note, TimeSpan? shelf, CancellationToken cancellation)
    {
        var about = RuleChoice.Subject(folder.Options, RuleChoice.CheckRule(folder.Options, rule), subject);
        if (folder.Options is null)
            await folder.CheckSawAsync(_reader, about.Name, cancellation);
        await EnterAsync(new AlarmAnswer(action, 0, rule, about, who, note, time.GetUtcNow() + shelf), $"{about}: {rule}", cancellation);
    }

    private async Task EnterAsync(AlarmAnswer answer, string what, CancellationToken cancellation)
    {
        var id = AlarmAnswerRows.Write(folder.Folder, answer, "command", time.GetUtcNow());
        if (!FolderLock.IsHeld(folder.Folder))
        {
            page.Wrapped("", $"{what}: entered. No gateway runs on this folder now; it is taken over at its next start.");
            return;
        }

        var begun = time.GetTimestamp();
        do
        {
            if (await _reader.AnswerOutcomeAsync(id, cancellation) is { } outcome)
            {
                if (outcome.Problem is { } problem)
                    throw new CommandException(problem);
                page.Wrapped("", $"{what}: {Done(answer)}.");
                return;
            }

            await Task.Delay(LookEvery, time, cancellation);
        }
        while (time.GetElapsedTime(begun) < Patience);
        page.Wrapped("", $"{what}: entered. The gateway that runs there has not taken it over within {RuleWords.Span(Patience)}; it will as soon as it gets to it.");
    }

    private string Done(AlarmAnswer answer) => answer.Action switch
    {
        AlarmAction.Acknowledge => $"acknowledged by {answer.Who}",
        AlarmAction.Reset => $"reset by {answer.Who}",
        AlarmAction.Shelve => $"shelved by {answer.Who} until {_moments.Of(answer.Until!.Value)}",
        AlarmAction.Unshelve => $"taken from the shelf by {answer.Who}",
        AlarmAction.TakeOutOfService => $"taken out of service by {answer.Who} until further notice; 'alarm return' puts it back",
        AlarmAction.ReturnToService => $"put back into service by {answer.Who}",
        AlarmAction.Comment => $"remark of {answer.Who} noted",
        AlarmAction.Confirm => $"confirmed by {answer.Who}: it was right",
        _ => $"rejected by {answer.Who}: nothing was wrong",
    };
}
