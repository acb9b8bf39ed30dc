using SawEdge.Gateway.Acquisition.Recordings;
using SawEdge.Gateway.Export;
using SawEdge.Gateway.Formats.Tables;
using SawEdge.Gateway.History;
using Spectre.Console;

namespace SawEdge.Gateway.Commands;

/// <summary>Pushes recordings through the live code as fast as it takes them, and writes the tables of the cycles and of the alarms.</summary>
internal sealed class Replay(ReplaySettings settings, StartReplay start, TimeProvider time)
{
    private static readonly TimeSpan ReportEvery = TimeSpan.FromMilliseconds(200);

    private readonly RecordingProblems _problems = new();
    private readonly ReplaySummary _summary = new();

    /// <summary>Runs to the end.</summary>
    /// <param name="output">Where the summary goes.</param>
    /// <param name="error">Where mistakes go.</param>
    /// <param name="console">The terminal for the progress bar, or null.</param>
    /// <param name="cancellation">The user breaks it off.</param>
    /// <returns>One of <see cref="ExitCodes"/>.</returns>
    public async Task<int> RunAsync(TextWriter output, TextWriter error, IAnsiConsole? console, CancellationToken cancellation)
    {
        var begun = false;
        try
        {
            foreach (var file in new[] { settings.ConfigFile, settings.JobsFile })
            {
                if (file is not null && !File.Exists(file))
                    throw new CommandException($"{file}: there is no such file.");
            }

            var options = settings.ConfigFile is { } config ? ReplayRun.Load(config) : null;
            await using var set = await RecordingSet.OpenAsync(settings.Inputs, _problems, settings.Saw, new RecordingLayouts(options), cancellation);
            ReplayFolder.Prepare(settings.OutFolder, settings.Overwrite);
            await using var run = await start(settings, options, cancellation);
            begun = true;

            var started = time.GetTimestamp();
            await WorkProgress.RunAsync(console, time, "replay", "frames", report => PumpAsync(set, run, report, cancellation));
            var cyclesFile = Path.Combine(settings.OutFolder, ReplayFolder.CyclesFile);
            await ExportRun.ToFileAsync(_summary.Count(run.Cycles()), new TableStyle { Format = TableFormat.Csv }, cyclesFile, null, cancellation);
            var alarmsFile = Path.Combine(settings.OutFolder, ReplayFolder.AlarmsFile);
            await ExportRun.ToFileAsync(_summary.CountAlarms(run.Alarms()), new TableStyle { Format = TableFormat.Csv }, alarmsFile, null, cancellation);

            _summary.Write(output, set.Files.Count, time.GetElapsedTime(started), cyclesFile, alarmsFile);
            ReplaySummary.WriteProblems(error, _problems);
            return ExitCodes.Done;
        }
        catch (OperationCanceledException) when (cancellation.IsCancellationRequested)
        {
            await error.WriteLineAsync(begun ? $"Broken off; {settings.OutFolder} holds an incomplete history, and no table was written." : "Broken off; nothing was written.");
            return ExitCodes.Interrupted;
        }
        catch (Exception e) when (e is RecordingException or CommandException)
        {
            await error.WriteLineAsync(e.Message);
            ReplaySummary.WriteProblems(error, _problems);
            return begun ? ExitCodes.Failed : ExitCodes.WrongInput;
        }
        catch (Exception e) when (e is IOException or HistoryException)
        {
            await error.WriteLineAsync($"--out {settings.OutFolder}: {e.Message} The folder holds an incomplete replay.");
            ReplaySummary.WriteProblems(error, _problems);
            return ExitCodes.Failed;
        }
    }

    private async Task PumpAsync(RecordingSet set, IReplayRun run, Action<WorkPosition> report, CancellationToken cancellation)
    {
        var row = default(RecordedFrame);
        var reported = time.GetTimestamp();
        while (await set.FillAsync(cancellation))
        {
            while (set.TryRead(ref row))
            {
                _summary.Count(ref row);
                var written = run.WriteAsync(row.Saw, in row.Frame, cancellation);
                if (!written.IsCompletedSuccessfully)
                    await written;

                // Asking the clock for each frame would cost as much as reading one.
                if ((_summary.Frames & 0xFFF) == 0 && time.GetElapsedTime(reported) >= ReportEvery)
                {
                    cancellation.ThrowIfCancellationRequested();
                    reported = time.GetTimestamp();
                    report(new WorkPosition(set.BytesRead, set.TotalBytes, _summary.Frames));
                }
            }
        }

        await run.CompleteAsync(cancellation);
    }
}
