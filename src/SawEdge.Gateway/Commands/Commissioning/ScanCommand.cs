using System.CommandLine;
using System.Globalization;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition.Modbus;
using SawEdge.Gateway.Commands.Reports;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Commands.Commissioning;

/// <summary>
/// <c>scan DEVICE FIRST [COUNT]</c>: reads a range of registers or bits and shows each under the common decodings; with <c>--find</c> where the
/// value of the panel may lie, with <c>--times</c> what changes. Only reads. Exit codes: <see cref="ExitCodes"/>.
/// </summary>
public static class ScanCommand
{
    private const int MostCandidates = 20;

    /// <summary>Builds the command.</summary>
    public static Command Create() => Create(ConfigurationFile.Environment(), TimeProvider.System);

    /// <summary>Builds the command.</summary>
    /// <param name="environment">Environment variables that lie over the configuration.</param>
    /// <param name="time">The clock.</param>
    internal static Command Create(IReadOnlyDictionary<string, string> environment, TimeProvider time)
    {
        var command = new Command("scan", "Read a range of registers and show each under the common decodings; find the value that the controller's panel shows (--find), or what moves (--times). Only reads.");
        var asked = new ScanArguments(command);
        command.SetAction((arguments, cancellation) =>
        {
            var console = arguments.InvocationConfiguration;
            return DataFolderOptions.RunAsync(console.Error, async () =>
            {
                var target = asked.Target(arguments, environment);
                var sought = asked.Sought(arguments);
                var (times, every) = asked.Repeats(arguments);
                return await RunAsync(target, sought, times, every, asked.Format(arguments), console.Output, console.Error, time, cancellation);
            }, cancellation);
        });
        return command;
    }

    private static async Task<int> RunAsync(
        ScanTarget target, SoughtValue? sought, int times, TimeSpan every, string format, TextWriter output, TextWriter error, TimeProvider time, CancellationToken cancellation)
    {
        await using var scan = new RegisterScan(target.Device, target.Unit, time);
        ScannedBlock block;
        try
        {
            block = await scan.ReadAsync(target.First.Table, target.First.Address, target.Count, cancellation);
        }
        catch (ScanException e)
        {
            await error.WriteLineAsync(ControllerText.CleanUpTo(e.Message, 600));
            await error.WriteLineAsync(SourceWords.Hint(target.Device));
            return ExitCodes.Failed;
        }

        var changes = times > 1 ? await AgainAsync(scan, target, block, times, every, time, error, cancellation) : null;
        var candidates = sought is null ? [] : ValueSearch.Find(block, sought);
        switch (format)
        {
            case "json":
                await output.WriteLineAsync(ScanFormats.Json(target.Source, block, sought, candidates, changes));
                break;
            case "csv":
                foreach (var line in sought is null ? ScanFormats.Csv(block) : ScanFormats.Csv(candidates, sought.Unit))
                    await output.WriteLineAsync(line);
                break;
            default:
                foreach (var line in Text(target, block, sought, candidates, changes))
                    await output.WriteLineAsync(line);
                break;
        }

        if (block.BrokenOff is null)
            return ExitCodes.Done;
        await error.WriteLineAsync($"Broken off after {block.ReadCount} of {block.Count}: {ControllerText.CleanUpTo(block.BrokenOff, 600)}");
        return ExitCodes.Failed;
    }

    private static async Task<RegisterChanges> AgainAsync(
        RegisterScan scan, ScanTarget target, ScannedBlock first, int times, TimeSpan every, TimeProvider time, TextWriter error, CancellationToken cancellation)
    {
        var changes = new RegisterChanges(target.Count);
        changes.Take(first);
        await error.WriteLineAsync(string.Create(CultureInfo.InvariantCulture, $"Reading {times} times, every {every.TotalSeconds:0.###} s; Ctrl+C shows what was seen until then."));
        for (var i = 1; i < times; i++)
        {
            try
            {
                await Task.Delay(every, time, cancellation);
                changes.Take(await scan.ReadAgainAsync(first, cancellation));
            }
            catch (ScanException e)
            {
                await error.WriteLineAsync($"Broken off after {i} of {times} readings: {ControllerText.CleanUpTo(e.Message, 600)}");
                break;
            }
            catch (OperationCanceledException) when (cancellation.IsCancellationRequested)
            {
                // What was seen so far is what the person wants now.
                break;
            }
        }

        return changes;
    }

    private static IEnumerable<string> Text(ScanTarget target, ScannedBlock block, SoughtValue? sought, IReadOnlyList<Candidate> candidates, RegisterChanges? changes)
    {
        yield return ScanText.Heading(target.Source, block);
        IEnumerable<TextLine> lines = changes is not null ? changes.Text()
            : sought is not null ? Found(block, sought, candidates)
            : ScanText.Table(block);
        foreach (var line in lines)
            yield return line.Text;
        if (changes is null || sought is null)
            yield break;
        foreach (var line in Found(block, sought, candidates))
            yield return line.Text;
    }

    private static IEnumerable<TextLine> Found(ScannedBlock block, SoughtValue sought, IReadOnlyList<Candidate> candidates)
    {
        if (block.IsBits)
        {
            yield return new TextLine("Bits hold no value to be found; read holding or input registers.");
            yield break;
        }

        var range = double.IsNaN(sought.Number) ? "" : string.Create(CultureInfo.InvariantCulture, $" ({Trimmed(sought.Number - sought.Tolerance)} to {Trimmed(sought.Number + sought.Tolerance)})");
        if (candidates.Count == 0)
        {
            yield return new TextLine($"Nothing there gives {Words.Quoted(ControllerText.Clean(sought.Text))}{range}. If the value moves, say how far with --tolerance; else try another range or table.");
            yield break;
        }

        yield return new TextLine(string.Create(CultureInfo.InvariantCulture, $"{candidates.Count} {(candidates.Count == 1 ? "place gives" : "places give")} {Words.Quoted(ControllerText.Clean(sought.Text))}{range}, the likeliest first. Let the value change and look again before you trust one."));
        foreach (var candidate in candidates.Take(MostCandidates))
        {
            var gives = double.IsNaN(candidate.Value) ? $"'{TextCells.Cut(ControllerText.Clean(candidate.Text), 24)}'" : candidate.Value.ToString("G7", CultureInfo.InvariantCulture);
            yield return new TextLine($"  {candidate.Address,-13} {candidate.Way,-19} {gives,-9} {candidate.Configuration(sought.Unit)}");
        }

        if (candidates.Count > MostCandidates)
            yield return new TextLine(string.Create(CultureInfo.InvariantCulture, $"  and {candidates.Count - MostCandidates} less likely ones; more digits, or a smaller --tolerance, leave fewer."));
    }

    private static string Trimmed(double value) => Math.Round(value, 6).ToString("0.######", CultureInfo.InvariantCulture);
}
