using SawEdge.Core.Alarms;
using SawEdge.Gateway.Commands.Reports;
using SawEdge.Gateway.Configuration.Reading;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Commands.Alarms;

/// <summary><c>alarm undelivered</c>: what channels set aside, and what is to become of it.</summary>
/// <param name="folder">The data folder.</param>
/// <param name="page">Where to print.</param>
/// <param name="time">Clock and time zone.</param>
internal sealed class Undelivered(NamedFolder folder, TextPage page, TimeProvider time)
{
    private const int MostListed = 100;

    private readonly HistoryReader _reader = folder.Open();
    private readonly MomentText _moments = new(time);

    /// <summary><c>list</c>.</summary>
    public async Task ListAsync(string? channel, IReadOnlyList<long> entries, CancellationToken cancellation)
    {
        if (channel is null && folder.Options is null)
            throw new CommandException("Name the channel, or the configuration with --config.");
        IReadOnlyList<string> channels = channel is not null ? [channel] : [.. folder.Options!.Alarms.Channels.Select(known => known.Name)];
        if (channels.Count == 0)
            page.Wrapped("", "The configuration has no channel, so nothing can be undelivered.");
        foreach (var name in channels)
            Write(name, await ChosenAsync(name, entries, cancellation));
    }

    /// <summary><c>retry</c>.</summary>
    public async Task RetryAsync(string channel, IReadOnlyList<long> entries, CancellationToken cancellation)
    {
        var chosen = await ChosenAsync(channel, entries, cancellation);
        if (chosen.Count == 0)
        {
            page.Wrapped("", $"{channel} has set nothing aside.");
            return;
        }

        RefusedRows.Retry(folder.Folder, channel, [.. chosen.Select(entry => entry.Sequence)], time.GetUtcNow());
        page.Wrapped("", $"{channel}: {AlarmText.Count(chosen.Count, "message")} put at the end of what is to be sent. {(FolderLock.IsHeld(folder.Folder) ? "The gateway that runs there sends them now." : "No gateway runs on this folder now; they are sent at its next start.")}");
    }

    /// <summary><c>drop</c>.</summary>
    /// <exception cref="CommandException">It is not confirmed.</exception>
    public async Task DropAsync(string channel, IReadOnlyList<long> entries, bool confirmed, CancellationToken cancellation)
    {
        var chosen = await ChosenAsync(channel, entries, cancellation);
        if (chosen.Count == 0)
        {
            page.Wrapped("", $"{channel} has set nothing aside.");
            return;
        }

        if (!confirmed)
            throw new CommandException($"{AlarmText.Count(chosen.Count, "message")} of {channel} would never be sent; add --yes to drop {(chosen.Count == 1 ? "it" : "them")}. The alarms themselves stay in the history.");
        RefusedRows.Drop(folder.Folder, channel, [.. chosen.Select(entry => entry.Sequence)]);
        page.Wrapped("", $"{channel}: {AlarmText.Count(chosen.Count, "message")} dropped. The alarms themselves stay in the history.");
    }

    private async Task<IReadOnlyList<StoredRefusal>> ChosenAsync(string channel, IReadOnlyList<long> entries, CancellationToken cancellation)
    {
        if (folder.Options is { } options && options.Alarms.Channels.All(known => known.Name != channel))
            throw new CommandException($"There is no channel {Words.Quoted(channel)}; {(options.Alarms.Channels.Count == 0 ? "the configuration has none." : NamedFolder.Hint(channel, [.. options.Alarms.Channels.Select(known => known.Name)]))}");
        var all = await _reader.RefusalsAsync(channel, int.MaxValue, cancellation);
        foreach (var entry in entries)
        {
            if (all.All(refusal => refusal.Sequence != entry))
                throw new CommandException(FormattableString.Invariant($"{channel} has set nothing aside under number {entry}; 'sawedge alarm undelivered list {channel}' shows what it has."));
        }

        return entries.Count == 0 ? all : [.. all.Where(refusal => entries.Contains(refusal.Sequence))];
    }

    private void Write(string channel, IReadOnlyList<StoredRefusal> refusals)
    {
        if (refusals.Count == 0)
        {
            page.Wrapped("", $"{channel}: nothing is set aside.");
            return;
        }

        page.Wrapped("", $"{channel}: {AlarmText.Count(refusals.Count, "message")} set aside");
        foreach (var refusal in refusals.Take(MostListed))
        {
            page.Wrapped(FormattableString.Invariant($"  {refusal.Sequence,6}  "), $"{_moments.Of(refusal.At)} {About(refusal)}");
            page.Wrapped("          ", refusal.Reason);
        }

        if (refusals.Count > MostListed)
            page.Line(FormattableString.Invariant($"          and {refusals.Count - MostListed} more"));
        page.Wrapped("  ", $"'sawedge alarm undelivered retry {channel}' sends them again, 'drop' in its place forgets them.");
    }

    private static string About(StoredRefusal refusal) => refusal switch
    {
        { Notice.Notice: { Alarms.Count: > 0 } notice } => $"{Kind(notice.Kind)} to {notice.Contact}, alarm {string.Join(", ", notice.Alarms.Select(number => FormattableString.Invariant($"#{number}")))}",
        { Notice.Notice: { } notice } => $"{Kind(notice.Kind)} to {notice.Contact}",
        { AlarmEvent.Event: { Alarm: { } alarm } happened } => FormattableString.Invariant($"state of alarm #{alarm.Number} ({happened.Subject}: {happened.Rule})"),
        { AlarmEvent.Event: { } happened } => $"state of {happened.Subject}: {happened.Rule}",
        _ => "a message that the history does not hold any more",
    };

    private static string Kind(NoticeKind kind) => kind switch
    {
        NoticeKind.Raised => "alarm",
        NoticeKind.Cleared => "condition gone,",
        NoticeKind.Reminder => "reminder",
        NoticeKind.Escalated => "escalation",
        NoticeKind.Digest => "digest",
        _ => "test",
    };
}
