using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.Hosting;
using Microsoft.Extensions.Hosting.Systemd;
using Microsoft.Extensions.Logging;
using Microsoft.Extensions.Logging.Console;
using SawEdge.Core;
using SawEdge.Core.Alarms;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Hosting;

/// <summary>How the log is written to standard output.</summary>
public enum LogForm
{
    /// <summary>A line an event, for people.</summary>
    Text,

    /// <summary>A JSON object a line, for programs.</summary>
    Json,
}

/// <summary>The process around a gateway: runs under systemd, as a Windows service, in a container or in a terminal.</summary>
internal static class GatewayHost
{
    /// <summary>Runs a gateway whose configuration did not come from a file.</summary>
    /// <inheritdoc cref="RunAsync(GatewayOptions, GatewayClocks, LogForm, LogLevel, Action{FinishedCut}, Action{AlarmEvent}, WatchedConfiguration, CancellationToken)"/>
    public static Task<Exception?> RunAsync(GatewayOptions options, GatewayClocks clocks, LogForm log, LogLevel level, Action<FinishedCut>? onFinished, Action<AlarmEvent>? onAlarm, CancellationToken cancellation) =>
        RunAsync(options, clocks, log, level, onFinished, onAlarm, configuration: null, cancellation);

    /// <summary>Runs a gateway until it is stopped.</summary>
    /// <param name="options">The configuration.</param>
    /// <param name="clocks">The clocks.</param>
    /// <param name="log">How to log.</param>
    /// <param name="level">Least level that is logged where the configuration says nothing.</param>
    /// <param name="onFinished">Told of each finished cut, or null.</param>
    /// <param name="onAlarm">Told of what happens to alarms, in place of the log; or null.</param>
    /// <param name="configuration">The file that the configuration came from, which is followed while the gateway runs; null: none.</param>
    /// <param name="cancellation">Stops it cleanly.</param>
    /// <returns>Null where it was stopped on purpose, otherwise why it ended.</returns>
    public static async Task<Exception?> RunAsync(GatewayOptions options, GatewayClocks clocks, LogForm log, LogLevel level, Action<FinishedCut>? onFinished, Action<AlarmEvent>? onAlarm, WatchedConfiguration? configuration, CancellationToken cancellation)
    {
        var builder = Host.CreateEmptyApplicationBuilder(new HostApplicationBuilderSettings { ApplicationName = "sawedge" });
        AddServiceManager(builder.Services);
        WindowsService.Add(builder.Services, services => services.GetRequiredService<GatewayService>().Failure);
        builder.Services.Configure<HostOptions>(host =>
        {
            host.ShutdownTimeout = TimeSpan.FromSeconds(30);
            host.BackgroundServiceExceptionBehavior = BackgroundServiceExceptionBehavior.StopHost;
        });
        var levels = new LogLevels(level);
        levels.Take(options.Logging);
        ConfigureLogging(builder.Logging, log, levels);
        builder.Services.AddSingleton(services => new GatewayService(
            options, clocks, services.GetRequiredService<ILoggerFactory>(), services.GetRequiredService<IHostApplicationLifetime>(), onFinished, onAlarm, services.GetService<ISystemdNotifier>(), configuration)
        { LogLevels = levels });
        builder.Services.AddHostedService(services => services.GetRequiredService<GatewayService>());
        using var host = builder.Build();
        var gateway = host.Services.GetRequiredService<GatewayService>();
        await host.RunAsync(cancellation);
        return gateway.Failure;
    }

    // The library takes a service for one of systemd's by the name of the parent's process, which a service that sees only
    // processes of its own (ProtectProc=invisible) cannot see: it would never say that it is ready. A socket to say it to is enough.
    private static void AddServiceManager(IServiceCollection services)
    {
        services.AddSystemd();
        if (!OperatingSystem.IsLinux() || SystemdHelpers.IsSystemdService() || string.IsNullOrEmpty(Environment.GetEnvironmentVariable("NOTIFY_SOCKET")))
            return;
        services.AddSingleton<ISystemdNotifier, SystemdNotifier>();
        services.AddSingleton<IHostLifetime, SystemdLifetime>();
    }

    /// <summary>Sets up the log on standard output.</summary>
    /// <param name="logging">What to set up.</param>
    /// <param name="log">How to log.</param>
    /// <param name="levels">Least level that is logged, area by area.</param>
    public static void ConfigureLogging(ILoggingBuilder logging, LogForm log, LogLevels levels)
    {
        logging.SetMinimumLevel(LogLevel.Trace);
        logging.AddFilter(levels.Passes);
        if (log == LogForm.Json)
        {
            logging.AddJsonConsole(json =>
            {
                json.UseUtcTimestamp = true;
                json.TimestampFormat = "yyyy-MM-ddTHH:mm:ss.fffZ";
            });
        }
        else
        {
            logging.AddSimpleConsole(text =>
            {
                text.SingleLine = true;
                text.UseUtcTimestamp = true;
                text.TimestampFormat = "yyyy-MM-dd HH:mm:ss.fff'Z' ";
                text.ColorBehavior = Console.IsOutputRedirected ? LoggerColorBehavior.Disabled : LoggerColorBehavior.Default;
            });
        }
    }
}
