using System.Text.Json;
using SawEdge.Core.Alarms;
using SawEdge.Gateway.Commands.Explain;
using SawEdge.Gateway.Commands.Reports;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Commands.Alarms;

/// <summary><c>alarm list</c>, <c>alarm show</c>, <c>alarm journal</c>: what is stored of the alarms.</summary>
/// <param name="folder">The data folder.</param>
/// <param name="output">Where to print.</param>
/// <param name="time">Clock and time zone.</param>
internal sealed class AlarmLooking(NamedFolder folder, TextWriter output, TimeProvider time)
{
    private readonly HistoryReader _reader = folder.Open();
    private readonly MomentText _moments = new(time);
    private readonly TextPage _page = new(output);

    /// <summary>Which alarms, as a person wrote it.</summary>
    /// <param name="All">Closed ones as well.</param>
    /// <param name="From">Raised at that time or later, or null.</param>
    /// <param name="To">Raised before that time, or null.</param>
    /// <param name="Subject">Only those about this saw or other thing, or null.</param>
    /// <param name="Rule">Only those of this rule, or null.</param>
    public sealed record Wanted(bool All, string? From, string? To, string? Subject, string? Rule);

    /// <summary><c>alarm list</c>.</summary>
    public async Task ListAsync(Wanted wanted, bool json, CancellationToken cancellation)
    {
        var (from, to) = Times(wanted.From, wanted.To);
        if (!wanted.All && (from ?? to) is not null)
            throw new CommandException("--from and --to go with --all; without it, all that is open is listed, however old.");
        if (wanted.Rule is { } rule)
            RuleChoice.CheckRule(folder.Options, rule);
        var alarms = new List<Alarm>();
        await foreach (var alarm in _reader.AlarmsAsync(new AlarmFilter { OnlyOpen = !wanted.All, Subject = wanted.Subject, Rule = wanted.Rule, From = from, To = to }, cancellation))
            alarms.Add(alarm);
        if (json)
        {
            await output.WriteLineAsync(AlarmJson.Text(writer =>
            {
                writer.WriteStartArray();
                foreach (var alarm in alarms)
                    AlarmJson.Write(writer, alarm);
                writer.WriteEndArray();
            }));
            return;
        }

        var text = new AlarmListText(_page, _moments);
        foreach (var alarm in alarms)
            text.Write(alarm);
        if (alarms.Count > 0)
            _page.Line("");
        if (wanted.All)
            _page.Wrapped("", alarms.Count == 0 ? "There is no such alarm." : $"{AlarmText.Count(alarms.Count, "alarm")}, the latest first.");
        else
            text.Summary(alarms);
    }

    /// <summary><c>alarm show</c>.</summary>
    public async Task ShowAsync(long number, bool json, bool ascii, DisplayUnits units, CancellationToken cancellation)
    {
        var alarm = await FindAsync(_reader, number, cancellation);
        var events = new List<AlarmEvent>();
        await foreach (var stored in _reader.AlarmEventsAsync(null, null, number, cancellation))
            events.Add(stored.Event);
        var cut = alarm.CycleId is { } id && await _reader.CycleAsync(id, cancellation) is { } record
            ? new Explained(record, await _reader.EvidenceAsync(id, cancellation), await _reader.AssessmentAsync(id, cancellation))
            : null;
        if (json)
        {
            await output.WriteLineAsync(AlarmJson.Text(writer => Write(writer, alarm, events)));
            return;
        }

        new AlarmShowText(_page, _moments, units, ascii).Write(alarm, events, cut);
    }

    /// <summary><c>alarm journal</c>.</summary>
    /// <returns>How many events were written.</returns>
    public async Task<long> JournalAsync(string? from, string? to, JournalForm form, string? file, CancellationToken cancellation)
    {
        var (begin, end) = Times(from, to);
        var events = _reader.AlarmEventsAsync(begin, end, null, cancellation);
        if (file is null)
            return await AlarmJournal.WriteAsync(events, form, async bytes => await output.WriteAsync(System.Text.Encoding.UTF8.GetString(bytes.Span)), cancellation);
        if (Directory.Exists(file))
            throw new CommandException($"--out {file}: this is a folder; name a file in it.");
        try
        {
            return await AlarmJournal.WriteFileAsync(file, write => AlarmJournal.WriteAsync(events, form, write, cancellation));
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            throw new CommandException($"--out {file}: {e.Message}", e);
        }
    }

    /// <summary>One alarm by its number.</summary>
    /// <exception cref="CommandException">There is none.</exception>
    public static async Task<Alarm> FindAsync(HistoryReader reader, long number, CancellationToken cancellation)
    {
        if (await reader.AlarmAsync(number, cancellation) is { } alarm)
            return alarm;
        await foreach (var latest in reader.AlarmsAsync(new AlarmFilter(), cancellation))
            throw new CommandException(FormattableString.Invariant($"There is no alarm {number}; the latest is {latest.Number}, and 'sawedge alarm list --all' lists them."));
        throw new CommandException(FormattableString.Invariant($"There is no alarm {number}; none was ever raised here."));
    }

    private (DateTimeOffset? From, DateTimeOffset? To) Times(string? from, string? to)
    {
        var (begin, end) = (from is null ? (DateTimeOffset?)null : _moments.Parse("--from", from), to is null ? (DateTimeOffset?)null : _moments.Parse("--to", to));
        if (begin >= end)
            throw new CommandException($"--from '{from}' is not before --to '{to}'.");
        return (begin, end);
    }

    private static void Write(Utf8JsonWriter writer, Alarm alarm, IReadOnlyList<AlarmEvent> events)
    {
        writer.WriteStartObject();
        AlarmJson.Fields(writer, alarm);
        writer.WriteStartArray("events");
        foreach (var happened in events)
            AlarmJson.Write(writer, happened);
        writer.WriteEndArray();
        writer.WriteEndObject();
    }
}
