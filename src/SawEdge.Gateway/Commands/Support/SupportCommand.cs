using System.CommandLine;
using System.IO.Compression;
using SawEdge.Gateway.Commands.Alarms;
using SawEdge.Gateway.Commands.Histories;
using SawEdge.Gateway.Commands.Reports;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Commands.Support;

/// <summary>
/// <c>support --out FILE.zip</c>: everything that somebody far away needs to see what is wrong with a gateway, without its secrets. Asks nobody but
/// the data folder and the service manager's log, so it works beside a running gateway, without one, and with a history or a configuration that is broken.
/// Exit codes: 0 the file is written, whatever it tells; 1 the command line is wrong; 2 the file could not be written.
/// </summary>
public static class SupportCommand
{
    /// <summary>Builds the command.</summary>
    public static Command Create() => Create(ConfigurationFile.Environment(), TimeProvider.System, new ServiceLog());

    /// <summary>Builds the command.</summary>
    /// <param name="environment">Environment variables that lie over the configuration.</param>
    /// <param name="time">Clock and time zone.</param>
    /// <param name="log">Reads the service manager's log.</param>
    internal static Command Create(IReadOnlyDictionary<string, string> environment, TimeProvider time, ServiceLog log)
    {
        var file = new Option<string>("--out", "-o") { Description = "The file to write, for example support.zip.", HelpName = "FILE.zip", Required = true };
        var replace = new Option<bool>("--replace") { Description = "Write over a file of that name." };
        var config = new Option<string?>("--config", "-c") { Description = $"Configuration of the gateway; {ConfigurationFile.DefaultName} unless told.", HelpName = "FILE" };
        var data = new Option<string?>("--data") { Description = "Its data folder, in place of the configuration's.", HelpName = "FOLDER" };
        var logs = new Option<string?>("--log") { Description = "A file with the gateway's log, where it does not go to the service manager's.", HelpName = "FILE" };
        var unit = new Option<string>("--unit") { Description = "Name of the gateway's service.", HelpName = "NAME", DefaultValueFactory = _ => "sawedge" };
        var command = new Command("support", "Write a file for whoever is asked for help: configuration without secrets, status, history, alarms, log, machine. Works beside a running gateway and with a broken history. Ends with 0: written.")
        {
            file, replace, config, data, logs, unit,
        };
        command.SetAction((arguments, cancellation) => DataFolderOptions.RunAsync(
            arguments.InvocationConfiguration.Error,
            async () =>
            {
                var (path, named, folder, logFile) = (arguments.GetRequiredValue(file), arguments.GetValue(config), arguments.GetValue(data), arguments.GetValue(logs));
                if (Directory.Exists(path))
                    throw new CommandException($"'{path}' is a folder; name the file to write, for example support.zip.");
                if (File.Exists(path) && !arguments.GetValue(replace))
                    throw new CommandException($"'{path}' is there already; choose another name, or add --replace.");
                if (named is not null && !File.Exists(named))
                    throw new CommandException($"There is no file '{named}'; name the configuration of the gateway.");
                if (logFile is not null && !File.Exists(logFile))
                    throw new CommandException($"There is no file '{logFile}'; name the gateway's log.");
                var configFile = named ?? (File.Exists(ConfigurationFile.DefaultName) ? ConfigurationFile.DefaultName : null);
                if (configFile is null && folder is null)
                    throw new CommandException($"There is no {ConfigurationFile.DefaultName} here; name the configuration with --config, or the data folder with --data.");

                var subject = SupportSubject.Read(configFile, folder, environment);
                var parts = new SupportParts(subject, environment, time, log, logFile, arguments.GetValue(unit)!);
                var missing = await WriteAsync(path, new SupportBundle(parts, subject, time), cancellation);
                var page = new TextPage(arguments.InvocationConfiguration.Output);
                page.Wrapped("", $"{path} is written ({SizeText.Of(new FileInfo(path).Length)}). It holds no secrets, but names of saws, jobs, addresses and people: look through it before you hand it on; README.txt in it says what is there.");
                foreach (var line in missing)
                    page.Wrapped("  - ", $"not in it: {line}");
                return ExitCodes.Done;
            },
            cancellation));
        return command;
    }

    // Whole or not at all, and for its owner alone.
    private static async Task<IReadOnlyList<string>> WriteAsync(string path, SupportBundle bundle, CancellationToken cancellation)
    {
        // A name that nobody can have laid a link under, as in a folder that everybody may write to.
        var partly = $"{path}.{Path.GetRandomFileName()}";
        try
        {
            IReadOnlyList<string> missing;
            var options = new FileStreamOptions { Mode = FileMode.CreateNew, Access = FileAccess.Write };
            if (!OperatingSystem.IsWindows())
                options.UnixCreateMode = UnixFileMode.UserRead | UnixFileMode.UserWrite;
            await using (var stream = new FileStream(partly, options))
            await using (var zip = new ZipArchive(stream, ZipArchiveMode.Create))
                missing = await bundle.WriteAsync(zip, cancellation);
            File.Move(partly, path, overwrite: true);
            return missing;
        }
        catch (Exception e) when (e is UnauthorizedAccessException)
        {
            throw new IOException($"'{path}' cannot be written: {e.Message}", e);
        }
        finally
        {
            File.Delete(partly);
        }
    }
}
