using System.Globalization;
using System.Text.Json;
using SawEdge.Gateway.Api;
using SawEdge.Gateway.Commands.Reports;
using SawEdge.Gateway.History;
using Spectre.Console;

namespace SawEdge.Gateway.Commands.Histories;

/// <summary>What the <c>history</c> commands do.</summary>
/// <param name="folder">The data folder; empty where a file alone is looked at.</param>
/// <param name="output">Where results are printed.</param>
/// <param name="console">The terminal for progress, or null.</param>
/// <param name="time">Clock and time zone.</param>
internal sealed class HistoryWork(string folder, TextWriter output, IAnsiConsole? console, TimeProvider time)
{
    private readonly TextPage _page = new(output);
    private readonly MomentText _moments = new(time);

    /// <summary><c>status</c>.</summary>
    public async Task<int> StatusAsync(bool json, CancellationToken cancellation)
    {
        RequireHistory();
        var stock = await WorkAsync("counting", "kinds of data", progress => HistoryStock.Take(folder, progress, cancellation));
        var isHeld = FolderLock.IsHeld(Path.GetFullPath(folder));
        if (json)
            await output.WriteLineAsync(JsonSerializer.Serialize(HistoryJsonShapes.Of(stock, isHeld), ApiJson.Options));
        else
            HistoryStatusText.Write(_page, stock, isHeld, _moments);
        return ExitCodes.Done;
    }

    /// <summary><c>check</c>.</summary>
    public async Task<int> CheckAsync(string? file, bool json, CancellationToken cancellation)
    {
        if (file is null)
            RequireHistory();
        else if (!File.Exists(file))
            throw new CommandException($"There is no file '{file}'; name a backup, or a history that was set aside.");
        var path = Path.GetFullPath(file ?? Path.Combine(folder, HistoryDatabase.FileName));
        var outcome = await WorkAsync("checking the pages", "rows", progress => HistoryCheck.Run(path, progress, cancellation));
        if (json)
            await output.WriteLineAsync(JsonSerializer.Serialize(new { File = path, Schema = outcome.Version, Whole = outcome.Findings.Count == 0, outcome.Rows, outcome.Findings, outcome.Notes }, ApiJson.Options));
        else
            WriteCheck(path, file is not null, outcome);
        return outcome.Findings.Count == 0 ? ExitCodes.Done : ExitCodes.Failed;
    }

    /// <summary><c>compact</c>.</summary>
    public async Task<int> CompactAsync(CancellationToken cancellation)
    {
        RequireHistory();
        var outcome = await WorkAsync("compacting", "pages", progress => HistoryCompaction.Run(folder, progress, cancellation));
        var sizes = $"{SizeText.Of(outcome.BytesBefore)} before, {SizeText.Of(outcome.BytesAfter)} now";
        _page.Wrapped("", outcome.Rewritten
            ? $"The history was written anew: {sizes}."
            : $"A gateway runs there, so free pages were given back in small steps: {sizes}. To have the file written anew, which puts it in order as well, stop the gateway first.");
        return ExitCodes.Done;
    }

    /// <summary><c>backup</c>.</summary>
    public async Task<int> BackupAsync(string file, bool replace, CancellationToken cancellation)
    {
        RequireHistory();
        if (File.Exists(file) && !replace)
            throw new CommandException($"'{file}' is there already; choose another name, or add --replace.");
        await WorkAsync("copying", "pages", progress =>
        {
            HistoryBackup.Write(folder, file, replace, progress, cancellation);
            return true;
        });
        _page.Wrapped("", $"Backup {file}: {SizeText.Of(new FileInfo(file).Length)}, checked and whole. 'sawedge history restore' puts it in the history's place.");
        return ExitCodes.Done;
    }

    /// <summary><c>restore</c>.</summary>
    /// <exception cref="CommandException">A gateway runs there.</exception>
    public async Task<int> RestoreAsync(string file, CancellationToken cancellation)
    {
        if (!File.Exists(file))
            throw new CommandException($"There is no file '{file}'; name a backup that 'sawedge history backup' wrote.");
        try
        {
            var outcome = await WorkAsync("copying", "pages", progress => HistoryBackup.Restore(folder, file, time.GetUtcNow(), progress, cancellation));
            _page.Wrapped("", $"{file} is the history now.");
            if (outcome.Before is { } before)
                _page.Wrapped("", $"The history before lies in {before}; delete it when nobody needs it.");
            if (outcome.Version < HistorySchema.Version)
                _page.Wrapped("", "It was written by an older version; the gateway brings it up to date at its next start.");
            _page.Wrapped("", "What happened after the backup was written is not in it: entries about blades, reasons and scrap have to be made again, and tokens that were revoked since then hold again. Points that were delivered since then stay in InfluxDB.");
            return ExitCodes.Done;
        }
        catch (HistoryInUseException e)
        {
            throw new CommandException($"A gateway {(e.Owner is { } owner ? string.Create(CultureInfo.InvariantCulture, $"(process {owner}) ") : "")}runs on '{e.Folder}'. Stop it, restore, and start it again; nothing was changed.", e);
        }
    }

    private void RequireHistory()
    {
        if (!File.Exists(Path.Combine(folder, HistoryDatabase.FileName)))
            throw new CommandException($"There is no history in '{folder}': {HistoryDatabase.FileName} was not found there. Name the data folder of the gateway's configuration.");
    }

    private void WriteCheck(string path, bool isNamed, CheckOutcome outcome)
    {
        if (outcome.Findings.Count == 0)
            _page.Wrapped("", string.Create(CultureInfo.InvariantCulture, $"{path} is whole (schema version {outcome.Version}; {outcome.Rows} stored profiles, evidence, assessments and samples read)."));
        else
            _page.Wrapped("", $"{path} is NOT whole:");
        foreach (var finding in outcome.Findings)
            _page.Wrapped("  ", finding);
        foreach (var note in outcome.Notes)
            _page.Wrapped("  ", note);
        if (outcome.Findings.Count > 0 && !isNamed)
            _page.Wrapped("", "Stop the gateway and put the last backup in its place with 'sawedge history restore FILE'; the present history is set aside, not deleted.");
    }

    private async Task<T> WorkAsync<T>(string name, string items, Func<Action<long, long>, T> work)
    {
        T? result = default;
        await WorkProgress.RunAsync(console, time, name, items, report => Task.Run(() => result = work((done, all) => report(new WorkPosition(done, all, done)))));
        return result!;
    }
}
