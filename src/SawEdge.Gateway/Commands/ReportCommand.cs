using System.CommandLine;
using SawEdge.Gateway.Accounts;
using SawEdge.Gateway.Accounts.Reports;
using SawEdge.Gateway.Commands.Blades;
using SawEdge.Gateway.Commands.Reports;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Commands;

/// <summary><c>report</c>: a shift, a day or a week as a page to print and as a table. Works beside a running gateway. Exit codes: <see cref="ExitCodes"/>.</summary>
public static class ReportCommand
{
    /// <summary>Builds the command.</summary>
    public static Command Create() => Create(ConfigurationFile.Environment(), TimeProvider.System);

    /// <summary>Builds the command.</summary>
    /// <param name="environment">Environment variables that lie over the configuration.</param>
    /// <param name="time">Clock and time zone.</param>
    internal static Command Create(IReadOnlyDictionary<string, string> environment, TimeProvider time)
    {
        var folder = new DataFolderOptions();
        var each = new Option<ReportEach>("--each") { Description = "About what: a shift, a day or a week.", DefaultValueFactory = _ => ReportEach.Shift };
        var at = new Option<string?>("--at") { Description = $"The one that holds this time, {MomentText.Forms}; the last that is over unless told.", HelpName = "TIME" };
        var output = new Option<string>("--out", "-o") { Description = "Folder for the page (.html) and the table (.csv).", HelpName = "FOLDER", DefaultValueFactory = _ => "." };
        var command = new Command("report", "Write how the saws did in a shift, a day or a week: one page to print that needs nothing else, and a table. Files of the same report are replaced.") { each, at, output };
        folder.AddTo(command, units: false);
        command.SetAction((arguments, cancellation) => DataFolderOptions.RunAsync(
            arguments.InvocationConfiguration.Error,
            async () =>
            {
                var named = folder.Read(arguments, environment);
                if (named.Options is not { } options)
                    throw new CommandException("--data alone names no shifts; name the configuration with --config as well.");
                if (options.Calendar is not { } calendar)
                    throw new CommandException($"{named.ConfigFile} describes no shifts, so there is no planned time to report on; describe them under \"calendar\".");
                var reader = named.Open();
                var oee = new OeeService(options, reader, null, time);
                var span = Span(calendar, arguments.GetValue(each), arguments.GetValue(at), time);
                var report = await new ReportReader(options, oee, reader, async (saw, token) => (await StoredBlades.ReadAsync(named, reader, saw, token)).Accounts).ReadAsync(span, cancellation);
                var (html, csv) = Write(arguments.GetRequiredValue(output), report);
                await arguments.InvocationConfiguration.Output.WriteLineAsync($"{span.Title}: {html} and {csv}");
                return ExitCodes.Done;
            },
            cancellation));
        return command;
    }

    private static ReportSpan Span(CalendarOptions calendar, ReportEach each, string? at, TimeProvider time)
    {
        if (at is null)
            return ReportSpan.LastBefore(calendar.Calendar, each, time.GetUtcNow()) ?? throw new CommandException($"No {each.ToString().ToLowerInvariant()} was over in the last two months; name one with --at.");
        var moment = new MomentText(new PlantTime(time, calendar.Calendar.Zone)).Parse("--at", at);
        if (moment > time.GetUtcNow())
            throw new CommandException($"--at '{at}' lies in the future; name a time that is past.");
        return ReportSpan.At(calendar.Calendar, each, moment) ?? throw new CommandException($"There is no {each.ToString().ToLowerInvariant()} around {at}: no shift of the calendar is near.");
    }

    private static (string Html, string Csv) Write(string folder, ReportData report)
    {
        try
        {
            return ReportWriter.Write(folder, report);
        }
        catch (UnauthorizedAccessException e)
        {
            throw new CommandException($"The report cannot be written to {folder}: {e.Message}", e);
        }
    }
}
