using System.Globalization;
using System.Runtime.InteropServices;
using SawEdge.Gateway.Commands.Reports;
using SawEdge.Gateway.Configuration.Reading;
using SawEdge.Gateway.Export;
using SawEdge.Gateway.Formats.Tables;
using SawEdge.Gateway.History;
using Spectre.Console;

namespace SawEdge.Gateway.Commands.Export;

/// <summary>Where a command's bytes and words go.</summary>
/// <param name="OpenOutput">Opens standard output for bytes.</param>
/// <param name="IsTerminal">Whether that is a terminal.</param>
/// <param name="Output">Where it says what it did.</param>
/// <param name="Error">Where it says what is wrong.</param>
/// <param name="Progress">The terminal for the progress bar, or null.</param>
internal sealed record ExportPlaces(Func<Stream> OpenOutput, bool IsTerminal, TextWriter Output, TextWriter Error, IAnsiConsole? Progress);

/// <summary><c>export TABLE</c>: writes a table of the history to a file or to standard output.</summary>
/// <param name="folder">The data folder.</param>
/// <param name="asked">What was asked for.</param>
/// <param name="places">Where it goes.</param>
/// <param name="time">Clock and time zone.</param>
internal sealed class ExportWork(NamedFolder folder, ExportAsked asked, ExportPlaces places, TimeProvider time)
{
    /// <summary>Does it.</summary>
    /// <returns>One of <see cref="ExitCodes"/>.</returns>
    /// <exception cref="CommandException">Something in the question is wrong; nothing was written.</exception>
    public async Task<int> RunAsync(CancellationToken cancellation)
    {
        var (question, style) = (asked.Question(new MomentText(folder.At(time))), asked.Style());
        if (asked.ToStandardOutput && places.IsTerminal && (style.IsCompressed || !ExportFiles.IsText(style.Format)))
            throw new CommandException($"{ExportFiles.Word(style.Format)}{(style.IsCompressed ? " with --gzip" : "")} is nothing to look at in a terminal; write it to a file with --out {Name(question, style)}, or into a pipe.");
        var reader = folder.Open();
        IRowSource source;
        try
        {
            source = ExportSources.Open(reader, question);
        }
        catch (ExportException e)
        {
            throw new CommandException(e.Message, e);
        }

        await CheckNamesAsync(reader, question, cancellation);
        return asked.ToStandardOutput ? await ToOutputAsync(source, question, style, cancellation) : await ToFileAsync(source, question, style, FilePath(question, style), cancellation);
    }

    private async Task<int> ToOutputAsync(IRowSource source, ExportQuestion question, TableStyle style, CancellationToken cancellation)
    {
        try
        {
            await using var stream = places.OpenOutput();

            // Among the rows on the same terminal a bar would be one more thing to scroll by.
            await RunAsync(places.IsTerminal ? null : places.Progress, question, async told =>
            {
                await using var writer = TableFormats.Writer(source.Head, style, stream);
                return await ExportRun.CopyAsync(source, writer, told, cancellation);
            });
            return ExitCodes.Done;
        }
        catch (ReaderGoneException)
        {
            return ExitCodes.ReaderGone;
        }
        catch (OperationCanceledException) when (cancellation.IsCancellationRequested)
        {
            await places.Error.WriteLineAsync("Broken off; what was written is not whole.");
            return ExitCodes.Interrupted;
        }
        catch (IOException e)
        {
            await places.Error.WriteLineAsync($"Standard output cannot be written: {e.Message.TrimEnd('.')}; what was written is not whole.");
            return ExitCodes.Failed;
        }
    }

    private async Task<int> ToFileAsync(IRowSource source, ExportQuestion question, TableStyle style, string path, CancellationToken interrupted)
    {
        // A terminal that is closed would else leave the draft of the file behind.
        using var ended = CancellationTokenSource.CreateLinkedTokenSource(interrupted);
        var cancellation = ended.Token;
        using var hangUp = PosixSignalRegistration.Create(PosixSignal.SIGHUP, signal =>
        {
            signal.Cancel = true;
            ended.Cancel();
        });
        try
        {
            var rows = await RunAsync(places.Progress, question, told => ExportRun.ToFileAsync(source, style, path, told, cancellation));
            await places.Output.WriteLineAsync($"{(rows == 1 ? "1 row" : Number(rows) + " rows")} of {question.Table.Name} written to {path} ({Size(new FileInfo(path).Length)})");
            return ExitCodes.Done;
        }
        catch (OperationCanceledException) when (cancellation.IsCancellationRequested)
        {
            await places.Error.WriteLineAsync($"Broken off; {path} {(File.Exists(path) ? "is as it was before" : "was not written")}.");
            return ExitCodes.Interrupted;
        }
    }

    private async Task<long> RunAsync(IAnsiConsole? console, ExportQuestion question, Func<Action<ExportPosition>, Task<long>> copy)
    {
        var rows = 0L;
        await WorkProgress.RunAsync(console, time, $"export {question.Table.Name}", "rows", async report => rows = await copy(position => report(new WorkPosition(position.Rows, position.All, position.Rows))));
        if (rows == 0)
            await places.Error.WriteLineAsync($"Nothing in the history fits: no row of {question.Table.Name} was written{(asked.From is null && asked.To is null ? "" : $" ({Period(question)})")}.");
        return rows;
    }

    private string FilePath(ExportQuestion question, TableStyle style)
    {
        var path = Path.GetFullPath(asked.IsFolder ? Path.Combine(asked.Out!, Name(question, style)) : asked.Out!);
        if (Path.GetDirectoryName(path) is { Length: > 0 } parent && !Directory.Exists(parent))
            throw new CommandException($"--out {asked.Out}: there is no folder {parent}; make it first.");
        if (path.StartsWith("/dev/", StringComparison.Ordinal))
            throw new CommandException($"--out {asked.Out}: a device cannot be replaced by a file; write to standard output (--out -) and direct that to it.");
        string[] own = [.. Directory.EnumerateFiles(folder.Folder, HistoryDatabase.FileName + "*"), Path.GetFullPath(folder.ConfigFile), .. folder.Options?.JobsFile is { } jobs ? [Path.GetFullPath(jobs)] : Array.Empty<string>()];
        if (own.Select(Path.GetFullPath).Contains(path))
            throw new CommandException($"--out {asked.Out}: this file belongs to the gateway and is not replaced; name another.");
        return asked.IsFolder || Path.IsPathRooted(asked.Out) ? path : asked.Out!;
    }

    private string Name(ExportQuestion question, TableStyle style) => ExportFiles.Name(question.Table.Name, question.From, question.To, folder.At(time).LocalTimeZone, style);

    private string Period(ExportQuestion question)
    {
        var moments = new MomentText(folder.At(time));
        return string.Join(' ', new[] { question.From is { } from ? $"from {moments.Of(from)}" : null, question.To is { } to ? $"to {moments.Of(to)}" : null }.OfType<string>());
    }

    private async Task CheckNamesAsync(HistoryReader reader, ExportQuestion question, CancellationToken cancellation)
    {
        foreach (var saw in question.Saws ?? [])
            await folder.CheckSawAsync(reader, saw, cancellation);
        foreach (var (kind, names) in new[] { (CycleName.Job, question.Jobs), (CycleName.Material, question.Materials), (CycleName.Blade, question.Blades) })
        {
            if (names is null || await reader.UnknownAsync(kind, names, cancellation) is not [var unknown, ..])
                continue;
            var known = await reader.NamesAsync(kind, cancellation);
            var word = kind.ToString().ToLowerInvariant();
            throw new CommandException($"There is no {word} {Words.Quoted(unknown)} in the history; {(known.Count == 0 ? "there is none at all." : Nearest(unknown, known))}");
        }
    }

    // A plant may have thousands of jobs: those that come first in the alphabet help nobody.
    private static string Nearest(string written, IReadOnlyList<string> known) => Words.Nearest(written, known) is { } nearest
        ? $"did you mean {Words.Quoted(nearest)}?"
        : $"known are for example {string.Join(", ", known.Take(5).Select(Words.Clipped))}.";

    private static string Number(long value) => value.ToString("N0", CultureInfo.InvariantCulture);

    private static string Size(long bytes) => bytes < 10_000
        ? $"{Number(bytes)} bytes"
        : string.Create(CultureInfo.InvariantCulture, $"{(bytes < 10_000_000 ? bytes / 1e3 : bytes / 1e6):N0} {(bytes < 10_000_000 ? "kB" : "MB")}");
}
