using System.Text.Json.Nodes;
using Microsoft.Extensions.Logging.Abstractions;
using SawEdge.Core.Alarms;
using SawEdge.Core.Cutting;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Hosting;
using SawEdge.Simulator.Saws;
using SawEdge.Simulator.Time;
using SawEdge.TestSupport;

namespace SawEdge.TestPlant;

/// <summary>What a history is to be like.</summary>
public sealed record PlantSettings
{
    /// <summary>When it ends. The default: in the middle of an early shift, on a Thursday, 11:40 at the plant.</summary>
    public DateTimeOffset End { get; init; } = new(2026, 3, 5, 17, 40, 0, TimeSpan.Zero);

    /// <summary>Whole days before the day on which it ends.</summary>
    public int Days { get; init; } = 3;

    /// <summary>Time between frames.</summary>
    public TimeSpan Interval { get; init; } = TimeSpan.FromSeconds(1);

    /// <summary>Port of the broker on loopback at which the gateway would listen for the saws.</summary>
    public int BrokerPort { get; init; } = 1883;

    /// <summary>Further members of the configuration's root, or in place of those that are there.</summary>
    public JsonObject? Configuration { get; init; }

    /// <summary>Seed of everything that scatters.</summary>
    public ulong Seed { get; init; } = 20_260_302;
}

/// <summary>
/// A data folder with the history of a plant: virtual saws of plant Riverbend, which is invented, through the pipeline of live operation
/// and the writer of the history. The same settings give the same history. The folder also holds the configuration (<c>sawedge.json</c>)
/// and the job list; a gateway that is started on it goes on where the history ends.
/// </summary>
public sealed class PlantHistory : IDisposable
{
    private static readonly TimeSpan StoreEvery = TimeSpan.FromHours(1);

    private readonly TempFolder _folder = new();
    private readonly PlantSettings _settings;
    private readonly IReadOnlyList<VirtualSawOptions> _options;

    private PlantHistory(PlantSettings settings)
    {
        _settings = settings;
        var zone = TimeZoneInfo.FindSystemTimeZoneById(PlantConfiguration.TimeZone);
        var midnight = TimeZoneInfo.ConvertTime(settings.End, zone).Date.AddDays(-settings.Days);
        Start = new DateTimeOffset(midnight, zone.GetUtcOffset(midnight)).ToUniversalTime();
        var shift = TimeOnly.FromTimeSpan(Start.AddHours(6).TimeOfDay);
        _options = PlantSaws.Make(Start, shift, settings.End, settings.Seed);
        Saws = [.. _options.Select(options => new VirtualSaw(options))];
        Configure(settings.BrokerPort, settings.Configuration);
    }

    /// <summary>When it begins: midnight at the plant.</summary>
    public DateTimeOffset Start { get; }

    /// <summary>When it ends.</summary>
    public DateTimeOffset End => _settings.End;

    /// <summary>The data folder.</summary>
    public string Folder => _folder.Path;

    /// <summary>The configuration file.</summary>
    public string Configuration => _folder.File("sawedge.json");

    /// <summary>Names of the saws.</summary>
    public static IReadOnlyList<string> SawNames { get; } = [.. PlantSaws.Names.Select(saw => saw.Name)];

    /// <summary>Names of jobs that must do nothing anywhere, as the gateway keeps them.</summary>
    public static IReadOnlyList<string> HostileJobs { get; } = [.. PlantJob.HostileNames.Select(Core.Signals.ControllerText.Clean)];

    /// <summary>The saws, as they stand when the history ends: they go on from there.</summary>
    public IReadOnlyList<VirtualSaw> Saws { get; }

    /// <summary>The topic on which a saw publishes.</summary>
    public static string Topic(string saw) => PlantConfiguration.Topic(saw);

    /// <summary>Makes a history.</summary>
    public static async Task<PlantHistory> MakeAsync(PlantSettings? settings = null)
    {
        var history = new PlantHistory(settings ?? new PlantSettings());
        try
        {
            await history.RunAsync();
            return history;
        }
        catch
        {
            history.Dispose();
            throw;
        }
    }

    /// <summary>Writes the configuration anew.</summary>
    /// <param name="brokerPort">Port of the broker on loopback.</param>
    /// <param name="more">Further members of its root, or in place of those that are there.</param>
    public void Configure(int brokerPort, JsonObject? more = null)
    {
        File.WriteAllText(_folder.File("jobs.csv"), PlantSaws.JobList);
        File.WriteAllText(Configuration, PlantConfiguration.Write(_options, _settings.Interval, brokerPort, more));
    }

    /// <inheritdoc/>
    public void Dispose() => _folder.Dispose();

    private async Task RunAsync()
    {
        var loaded = ConfigurationFile.Load(Configuration, new Dictionary<string, string>());
        var options = loaded.Options ?? throw new InvalidOperationException(string.Join('\n', loaded.Errors));
        var parse = JobList.Parse(options.JobsFile!, await File.ReadAllTextAsync(options.JobsFile!), options.Catalogue);
        if (parse.Errors.Count > 0)
            throw new InvalidOperationException(string.Join('\n', parse.Errors));

        using var database = HistoryDatabase.Open(options.DataFolder);
        var writer = new HistoryWriter(database, new ScaledTimeProvider(TimeProvider.System, 1, End), NullLogger<HistoryWriter>.Instance);
        var writing = writer.RunAsync(CancellationToken.None);
        if (End > Start)
        {
            await PlayAsync(options, parse.Book, writer);
            await PeopleRun.EnterAsync(options, new HistoryReader(database), writer, Start, End);
        }

        writer.Complete();
        await writing;
    }

    private async Task PlayAsync(GatewayOptions options, JobBook jobs, HistoryWriter writer)
    {
        var runs = Saws.Zip(options.Saws, (saw, configured) => new SawRun(saw, configured, options, jobs)).ToList();
        var alarms = new AlarmRun(options, End.AddHours(-3));
        for (var from = Start; from < End; from += StoreEvery)
        {
            var to = from + StoreEvery < End ? from + StoreEvery : End;
            var moments = Moments(from, to).ToList();
            var changes = await Task.WhenAll(runs.Select(run => Task.Run(() => run.Play(moments))));
            alarms.Pass(from, to, [.. changes.SelectMany(of => of).OrderBy(change => change.At)]);
            foreach (var run in runs)
                await run.StoreAsync(writer, isLast: to == End);
            await alarms.StoreAsync(writer);
        }
    }

    // At night nothing moves: frames are looked at less often.
    private IEnumerable<DateTimeOffset> Moments(DateTimeOffset from, DateTimeOffset to)
    {
        var night = TimeSpan.FromSeconds(Math.Max(4, _settings.Interval.TotalSeconds));
        for (var at = from; at < to; at += (at - Start).TotalHours % 24 is >= 5.9 and < 22.2 ? _settings.Interval : night)
            yield return at;
    }
}
