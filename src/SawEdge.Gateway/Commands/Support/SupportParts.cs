using SawEdge.Core.Alarms;
using SawEdge.Gateway.Commands.Alarms;
using SawEdge.Gateway.Commands.Histories;
using SawEdge.Gateway.Commands.Outbox;
using SawEdge.Gateway.Commands.Reports;
using SawEdge.Gateway.Commands.Status;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Commands.Support;

/// <summary>What a file for support holds.</summary>
/// <param name="subject">The gateway.</param>
/// <param name="environment">Environment variables that lie over the configuration.</param>
/// <param name="time">Clock and time zone.</param>
/// <param name="log">The service manager's log.</param>
/// <param name="logFile">A file with the gateway's log in its place, or null.</param>
/// <param name="unit">Name of the gateway's service.</param>
internal sealed class SupportParts(SupportSubject subject, IReadOnlyDictionary<string, string> environment, TimeProvider time, ServiceLog log, string? logFile, string unit)
{
    private const int MostAlarms = 200;

    // The check of a large history reads every page of it.
    private static readonly TimeSpan CheckPatience = TimeSpan.FromMinutes(2);

    private readonly MomentText _moments = new(time);

    /// <summary>The parts, in the order in which they are made: what is sought most often first.</summary>
    public IReadOnlyList<SupportPart> All =>
    [
        new("machine.txt", "version, runtime, machine, clock, disk, files of the data folder", (text, _) => new MachineFacts(subject, environment, time).WriteAsync(text)),
        new("configuration.json", "the configuration, with the environment's values laid over it, without secrets", Configuration),
        new("check.txt", "what 'sawedge check' says of it", Check),
        new("status.txt", "what 'sawedge status' says", Status),
        new("status.json", "the same for programs, with the gateway's last report of its own health: counts of each saw, destinations", StatusJson),
        new("deliveries.txt", "what 'sawedge outbox status' says", Deliveries),
        new("alarms.txt", FormattableString.Invariant($"the last {MostAlarms} alarms, and those that are open"), AlarmsAsync),
        new("history.txt", "what the history holds, kind by kind, and its size", HistoryAsync),
        new("history-check.txt", "whether the history is whole", HistoryCheckAsync),
        new("log.txt", FormattableString.Invariant($"the last {ServiceLog.MostLines} lines of the gateway's log"), LogAsync),
    ];

    private NamedFolder Folder => subject.Folder ?? throw new PartMissingException("the configuration names no data folder; name it with --data");

    private async Task Configuration(TextWriter text, CancellationToken cancellation)
    {
        if (subject.Redacted is not { } redacted)
            throw new PartMissingException("only the data folder was named; name the configuration with --config");
        await text.WriteAsync(redacted.Json ?? throw new PartMissingException("the file cannot be read, or is no JSON, so that nobody can tell what in it is a secret; check.txt says where"));
    }

    private Task Check(TextWriter text, CancellationToken cancellation)
    {
        CheckCommand.Run(subject.ConfigFile ?? throw new PartMissingException("only the data folder was named; name the configuration with --config"), environment, strict: false, text);
        return Task.CompletedTask;
    }

    private async Task Status(TextWriter text, CancellationToken cancellation) =>
        StatusText.Write(new TextPage(text), await GatewayStanding.ReadAsync(Folder, time, cancellation), _moments);

    private async Task StatusJson(TextWriter text, CancellationToken cancellation) =>
        await text.WriteLineAsync(StatusCommand.Json(await GatewayStanding.ReadAsync(Folder, time, cancellation)));

    private async Task Deliveries(TextWriter text, CancellationToken cancellation) =>
        (await OutboxStatus.ReadAsync(Folder, cancellation)).Write(new TextPage(text), _moments);

    private async Task AlarmsAsync(TextWriter text, CancellationToken cancellation)
    {
        var (list, count) = (new AlarmListText(new TextPage(text), _moments), 0);
        await foreach (var alarm in Folder.Open().AlarmsAsync(new AlarmFilter(), cancellation))
        {
            // The latest come first.
            if (count++ < MostAlarms || !alarm.IsClosed)
                list.Write(alarm);
        }

        await text.WriteLineAsync(FormattableString.Invariant($"\n{count} alarms are stored."));
    }

    private async Task HistoryAsync(TextWriter text, CancellationToken cancellation)
    {
        var folder = Existing();
        var stock = await Task.Run(() => HistoryStock.Take(folder, (_, _) => { }, cancellation), cancellation);
        HistoryStatusText.Write(new TextPage(text), stock, FolderLock.IsHeld(Path.GetFullPath(folder)), _moments);
    }

    private async Task HistoryCheckAsync(TextWriter text, CancellationToken cancellation)
    {
        var path = Path.Combine(Existing(), HistoryDatabase.FileName);
        using var patience = CancellationTokenSource.CreateLinkedTokenSource(cancellation);
        patience.CancelAfter(CheckPatience);
        try
        {
            var outcome = await Task.Run(() => HistoryCheck.Run(path, (_, _) => { }, patience.Token), patience.Token);
            await text.WriteLineAsync(outcome.Findings.Count == 0 ? FormattableString.Invariant($"The history is whole (schema version {outcome.Version}; {outcome.Rows} rows read).") : "The history is NOT whole:");
            foreach (var line in outcome.Findings.Concat(outcome.Notes))
                await text.WriteLineAsync($"  {line}");
        }
        catch (OperationCanceledException) when (!cancellation.IsCancellationRequested)
        {
            throw new PartMissingException($"the check was broken off after {CheckPatience.TotalMinutes} minutes; 'sawedge history check' takes as long as it needs");
        }
    }

    private async Task LogAsync(TextWriter text, CancellationToken cancellation) =>
        await text.WriteAsync(logFile is null ? await log.ReadAsync(unit, cancellation) : await ServiceLog.TailAsync(logFile, cancellation));

    private string Existing()
    {
        var folder = Folder.Folder;
        return File.Exists(Path.Combine(folder, HistoryDatabase.FileName)) ? folder : throw new PartMissingException($"there is no {HistoryDatabase.FileName} in '{folder}'");
    }
}
