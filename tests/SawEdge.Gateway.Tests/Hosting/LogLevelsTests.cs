using Microsoft.Extensions.Logging;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Forwarding;
using SawEdge.Gateway.Hosting;
using SawEdge.Gateway.Tests.Configuration;
using SawEdge.Gateway.Tests.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Hosting;

/// <summary>From which level on each area is logged, and how that changes while a gateway runs.</summary>
public sealed class LogLevelsTests
{
    [Fact]
    public void Load_LevelsOfAreas_HoldBeforeTheOneOfAll_AndThatBeforeTheCommandLine()
    {
        var levels = new LogLevels(LogLevel.Error);
        Assert.Equal(LogLevel.Error, levels.Of(LogArea.Gateway));
        levels.Take(Sample.Load(Sample.With("logging", """{ "all": "warning", "acquisition": "debug" }""")).Options().Logging);
        Assert.Equal((LogLevel.Debug, LogLevel.Warning), (Of(levels, "acquisition"), Of(levels, "delivery")));
        var changes = levels.Take(Sample.Load(Sample.With("logging", """{ "delivery": "critical" }""")).Options().Logging);
        Assert.Equal((LogLevel.Error, LogLevel.Critical), (Of(levels, "acquisition"), Of(levels, "delivery")));
        Assert.Contains(changes, change => change == (LogArea.All.Single(area => area.Name == "acquisition"), LogLevel.Debug, LogLevel.Error));
        Assert.Empty(levels.Take(Sample.Load(Sample.With("logging", """{ "delivery": "critical" }""")).Options().Logging));
    }

    [Theory]
    [InlineData("""{ "aquisition": "debug" }""", "error logging.aquisition: is not known here; did you mean 'acquisition'?")]
    [InlineData("""{ "network": "debug" }""", "error logging.network: is not known here; known here: all, gateway, acquisition, processing, alarms, history, delivery, messages, oee, api")]
    [InlineData("""{ "alarms": "verbose" }""", "error logging.alarms: 'verbose' is not known; write \"debug\", \"information\", \"warning\", \"error\" or \"critical\"")]
    [InlineData("""{ "alarms": "warn" }""", "error logging.alarms: 'warn' is not known; write \"debug\", \"information\", \"warning\", \"error\" or \"critical\"")]
    [InlineData("\"debug\"", "error logging: is a text; write an object: { ... }")]
    public void Load_AnAreaOrLevelThatIsNone_IsAnErrorThatSaysWhatWouldBeRight(string json, string expected) =>
        Assert.Equal([expected], Sample.Load(Sample.With("logging", json)).Lines());

    /// <summary>A room added later must be put into an area: otherwise its log could not be told from the gateway's own.</summary>
    [Fact]
    public void EveryRoomOfTheGateway_IsInAnArea_EachLoggerInTheNearest()
    {
        var rooms = typeof(GatewayOptions).Assembly.GetTypes().Select(type => type.Namespace).OfType<string>().Where(name => name.StartsWith("SawEdge.Gateway.", StringComparison.Ordinal)).Select(name => name.Split('.')[2]).Distinct();
        Assert.All(rooms, room => Assert.Contains(LogArea.All, area => area.Categories.Contains(room)));

        // What an area names must be there: a class that was renamed would fall to another area without a word.
        var names = typeof(GatewayOptions).Assembly.GetTypes().SelectMany(type => new[] { type.FullName, type.Namespace }).OfType<string>().ToHashSet();
        Assert.All(LogArea.All.SelectMany(area => area.Categories), category => Assert.Contains(names, name => name == $"SawEdge.Gateway.{category}" || name.StartsWith($"SawEdge.Gateway.{category}.", StringComparison.Ordinal)));
        Assert.Equal("alarms", LogArea.Of(typeof(Gateway.Processing.Alarms.AlarmDesk).FullName!).Name);
        Assert.Equal("processing", LogArea.Of(typeof(Gateway.Processing.SawProcessor).FullName!).Name);
        Assert.Equal("acquisition", LogArea.Of(typeof(Gateway.Acquisition.Modbus.ModbusDevicePoller).FullName!).Name);
        Assert.Equal("delivery", LogArea.Of(typeof(Destination).FullName!).Name);
        Assert.Equal("history", LogArea.Of(typeof(HistoryKeeping).FullName!).Name);
        Assert.Equal("api", LogArea.Of(typeof(Gateway.Api.ApiHost).FullName!).Name);
        Assert.Equal("gateway", LogArea.Of(typeof(GatewayService).FullName!).Name);
        Assert.Equal("gateway", LogArea.Of("Something.Else").Name);
    }

    [Fact]
    public void Passes_TheFrameworkSaysWarningsAtMost_AndAChangeOfLevelsIsSaidWhateverTheLevel()
    {
        var levels = new LogLevels(LogLevel.Debug);
        Assert.False(levels.Passes("Microsoft.Hosting.Lifetime", LogLevel.Information));
        Assert.True(levels.Passes("Microsoft.Hosting.Lifetime", LogLevel.Warning));
        var quiet = new LogLevels(LogLevel.Critical);
        Assert.False(quiet.Passes("Microsoft.Hosting.Lifetime", LogLevel.Error));
        Assert.True(quiet.Passes(typeof(LogLevels).FullName, LogLevel.Information));
        Assert.False(quiet.Passes(typeof(GatewayService).FullName, LogLevel.Error));
    }

    [Fact]
    public async Task FileChanges_WhileTheGatewayRuns_TheNewLevelsHold_AndAreSaid_MistakesChangeNothing()
    {
        using var folder = new TempFolder();
        var file = folder.File("sawedge.json");
        void Write(string logging) => File.WriteAllText(file, Sample.With(("logging", logging)));
        Write("""{ "all": "warning" }""");
        var loaded = ConfigurationFile.Load(file, Sample.NoEnvironment);
        using var said = new Said();
        var levels = new LogLevels(LogLevel.Information);
        levels.Take(loaded.Options!.Logging);
        using var loggers = LoggerFactory.Create(logging =>
        {
            GatewayHost.ConfigureLogging(logging, LogForm.Text, levels);
            logging.AddProvider(said);
        });
        var time = new Microsoft.Extensions.Time.Testing.FakeTimeProvider();
        using var stop = new CancellationTokenSource();
        var again = new ConfigurationAgain(
            new WatchedConfiguration(file, Sample.NoEnvironment, loaded),
            (change, _) =>
            {
                levels.TakeOver(change.Options.Logging, loggers);
                return Task.CompletedTask;
            },
            time,
            loggers.CreateLogger<ConfigurationAgain>());
        var run = again.RunAsync(stop.Token);
        Task UntilAsync(Func<bool> holds) => Until.TrueAsync(
            () =>
            {
                time.Advance(TimeSpan.FromMilliseconds(500));
                return holds();
            },
            () => string.Join('\n', said.Lines));
        var delivery = loggers.CreateLogger<Destination>();
        delivery.LogInformation("not said");

        Write("""{ "all": "warning", "delivery": "debug" }""");
        await UntilAsync(() => !said.Lines.IsEmpty);
        Assert.Equal("what is logged of 'delivery' begins with level debug now, before with warning", said.Lines.First());
        delivery.LogDebug("said");
        loggers.CreateLogger<GatewayService>().LogInformation("not said");

        Write("""{ "all": "warning", "delivery": "loud" }""");
        await UntilAsync(() => said.Lines.Any(line => line.Contains("logging.delivery", StringComparison.Ordinal)));
        delivery.LogDebug("said still");
        Write("""{ "all": "warning" }""");
        await UntilAsync(() => said.Lines.Any(line => line.Contains("begins with level warning now, before with debug", StringComparison.Ordinal)));
        delivery.LogDebug("not said");
        await stop.CancelAsync();
        await Assert.ThrowsAnyAsync<OperationCanceledException>(() => run);
        Assert.Equal(["said", "said still"], said.Lines.Where(line => line.Contains("said", StringComparison.Ordinal)));
    }

    private static LogLevel Of(LogLevels levels, string area) => levels.Of(LogArea.All.Single(one => one.Name == area));

    private sealed class Said : ILoggerProvider, ILogger
    {
        public System.Collections.Concurrent.ConcurrentQueue<string> Lines { get; } = new();

        public ILogger CreateLogger(string categoryName) => this;

        public void Dispose()
        {
        }

        public IDisposable? BeginScope<TState>(TState state)
            where TState : notnull => null;

        public bool IsEnabled(LogLevel logLevel) => true;

        public void Log<TState>(LogLevel logLevel, EventId eventId, TState state, Exception? exception, Func<TState, Exception?, string> formatter) => Lines.Enqueue(formatter(state, exception));
    }
}
