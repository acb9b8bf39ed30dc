using System.CommandLine;
using SawEdge.Core.Materials;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Configuration.Reading;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Processing;

namespace SawEdge.Gateway.Commands.Reports;

/// <summary>A data folder that a command looks into, and the configuration beside it where one was read.</summary>
/// <param name="Folder">The data folder.</param>
/// <param name="Options">The configuration; null where only the folder was named.</param>
/// <param name="ConfigFile">The configuration file, for messages.</param>
internal sealed record NamedFolder(string Folder, GatewayOptions? Options, string ConfigFile)
{
    /// <summary>Opens the history for reading.</summary>
    /// <exception cref="CommandException">There is none of this program's version.</exception>
    public HistoryReader Open()
    {
        try
        {
            return HistoryReader.OpenFolder(Folder);
        }
        catch (HistoryException e)
        {
            throw new CommandException(e.Message, e);
        }
    }

    /// <summary>A clock with the plant's time zone, where a configuration was read that states one.</summary>
    public TimeProvider At(TimeProvider time) => Options is { StatesTimeZone: true } options ? new PlantTime(time, options.TimeZone) : time;

    /// <summary>What computing anew needs to know of a saw; null where no configuration was read, or the saw is not in it.</summary>
    public SawSetup? SetupOf(string saw) => Options?.Saws.FirstOrDefault(known => known.Name == saw) is { } found
        ? new SawSetup(found.Machine, found.Blade, Options.LoadScore, Options.Catalogue)
        : null;

    /// <summary>The catalogue of the configuration; the program's own where none was read.</summary>
    public MaterialCatalogue Materials() => Options?.Catalogue ?? MaterialCatalogue.BuiltIn;

    /// <summary>What was probably meant, or the names there are, as the end of a message.</summary>
    public static string Hint(string written, IReadOnlyList<string> names)
    {
        var hint = Words.DidYouMean(written, names);
        return hint[^1] == '?' ? hint : hint + ".";
    }

    /// <summary>The saws of the configuration and of the history.</summary>
    public async Task<IReadOnlyList<string>> SawsAsync(HistoryReader reader, CancellationToken cancellation) =>
        [.. (Options?.Saws.Select(saw => saw.Name) ?? []).Concat(await reader.SawsAsync(cancellation)).Distinct(StringComparer.Ordinal)];

    /// <summary>Sees to it that a saw is known.</summary>
    /// <exception cref="CommandException">It is not.</exception>
    public async Task CheckSawAsync(HistoryReader reader, string saw, CancellationToken cancellation)
    {
        var saws = await SawsAsync(reader, cancellation);
        if (!saws.Contains(saw))
            throw new CommandException($"There is no saw {Words.Quoted(saw)}; {(saws.Count == 0 ? "the history is empty." : Hint(saw, saws))}");
    }
}

/// <summary>The options that name a data folder, and the units of what is printed.</summary>
internal sealed class DataFolderOptions
{
    private readonly Option<string?> _config = new("--config", "-c") { Description = $"Configuration of the gateway whose history is meant; {ConfigurationFile.DefaultName} unless told.", HelpName = "FILE" };
    private readonly Option<string?> _data = new("--data") { Description = "Its data folder, or that of a replay, in place of the configuration's.", HelpName = "FOLDER" };
    private readonly Option<string> _units = new("--units") { Description = "Units of what is printed.", DefaultValueFactory = _ => "metric" };

    /// <summary>Prepares the options.</summary>
    public DataFolderOptions() => _units.AcceptOnlyFromAmong("metric", "inch");

    /// <summary>Adds the options to a command.</summary>
    /// <param name="command">The command.</param>
    /// <param name="units">Whether it prints lengths or areas.</param>
    /// <param name="data">Whether it looks into a data folder; otherwise into the configuration alone.</param>
    public void AddTo(Command command, bool units, bool data = true)
    {
        command.Options.Add(_config);
        if (!data)
            _config.Description = $"The configuration; {ConfigurationFile.DefaultName} unless told.";
        else
            command.Options.Add(_data);
        if (units)
            command.Options.Add(_units);
    }

    /// <summary>The units asked for.</summary>
    public DisplayUnits Units(ParseResult arguments) => arguments.GetValue(_units) == "inch" ? DisplayUnits.Inch : DisplayUnits.Metric;

    /// <summary>Finds the folder.</summary>
    /// <exception cref="CommandException">The configuration cannot be used.</exception>
    public NamedFolder Read(ParseResult arguments, IReadOnlyDictionary<string, string> environment)
    {
        var (config, data) = (arguments.GetValue(_config), arguments.GetValue(_data));
        if (config is null && data is not null)
            return new NamedFolder(data, null, ConfigurationFile.DefaultName);
        var file = config ?? ConfigurationFile.DefaultName;
        if (config is null && !File.Exists(file))
            throw new CommandException($"There is no {file} here; name the configuration with --config, or the data folder with --data.");
        var options = Load(file, environment);
        return new NamedFolder(data ?? options.DataFolder, options, file);
    }

    /// <summary>Finds the folder even where the configuration has a mistake, as long as it names a folder with a history: a gateway that runs goes on with what it read before.</summary>
    /// <returns>The folder, and what is wrong with the configuration or null.</returns>
    /// <exception cref="CommandException">No folder can be found.</exception>
    public (NamedFolder Folder, string? Mistake) ReadAnyway(ParseResult arguments, IReadOnlyDictionary<string, string> environment)
    {
        try
        {
            return (Read(arguments, environment), null);
        }
        catch (CommandException e) when (Named(arguments, environment) is { } folder)
        {
            return (folder, e.Message);
        }
    }

    private NamedFolder? Named(ParseResult arguments, IReadOnlyDictionary<string, string> environment)
    {
        var file = arguments.GetValue(_config) ?? ConfigurationFile.DefaultName;
        var folder = arguments.GetValue(_data) ?? (File.Exists(file) ? RedactedConfiguration.Read(file, environment).DataFolder : null);
        return folder is not null && File.Exists(Path.Combine(folder, HistoryDatabase.FileName)) ? new NamedFolder(folder, null, file) : null;
    }

    /// <summary>Reads the configuration, for a command that asks it and no history.</summary>
    /// <exception cref="CommandException">The configuration cannot be used.</exception>
    public GatewayOptions ReadConfiguration(ParseResult arguments, IReadOnlyDictionary<string, string> environment)
    {
        var file = arguments.GetValue(_config) ?? ConfigurationFile.DefaultName;
        return arguments.GetValue(_config) is null && !File.Exists(file)
            ? throw new CommandException($"There is no {file} here; name the configuration with --config.")
            : Load(file, environment);
    }

    /// <summary>Reads a configuration file.</summary>
    /// <exception cref="CommandException">It cannot be used.</exception>
    public static GatewayOptions Load(string file, IReadOnlyDictionary<string, string> environment)
    {
        var loaded = ConfigurationFile.Load(file, environment);
        return loaded.Options ?? throw new CommandException($"{file}: {loaded.Errors.First()} ('sawedge check {file}' says more)");
    }

    /// <summary>Runs what a command does and turns what goes wrong into one line and an exit code.</summary>
    public static async Task<int> RunAsync(TextWriter error, Func<Task<int>> run, CancellationToken cancellation)
    {
        try
        {
            return await run();
        }
        catch (CommandException e)
        {
            await error.WriteLineAsync(e.Message);
            return ExitCodes.WrongInput;
        }
        catch (OperationCanceledException) when (cancellation.IsCancellationRequested)
        {
            await error.WriteLineAsync("Broken off.");
            return ExitCodes.Interrupted;
        }
        catch (Exception e) when (e is HistoryException or InvalidDataException or IOException)
        {
            await error.WriteLineAsync(e.Message);
            return ExitCodes.Failed;
        }
    }
}
