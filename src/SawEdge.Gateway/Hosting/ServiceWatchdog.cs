using System.Globalization;
using Microsoft.Extensions.Hosting.Systemd;
using Microsoft.Extensions.Logging;

namespace SawEdge.Gateway.Hosting;

/// <summary>
/// Tells the service manager that the gateway lives, for as long as its loops turn; where one hangs it is silent, and the service manager
/// starts the gateway anew. Without one, <c>/health/live</c> says it.
/// </summary>
/// <remarks>systemd's sd_notify(3) and sd_watchdog_enabled(3): "WATCHDOG=1" at half of the time that WATCHDOG_USEC states, or more often.</remarks>
/// <param name="watch">The loops.</param>
/// <param name="notifier">The way to the service manager; null where there is none.</param>
/// <param name="wall">The wall clock.</param>
/// <param name="logger">Where it speaks.</param>
/// <param name="asked">How often the service manager wants to hear, or null where it does not ask; see <see cref="Asked"/>.</param>
internal sealed class ServiceWatchdog(LoopWatch watch, ISystemdNotifier? notifier, TimeProvider wall, ILogger logger, TimeSpan? asked)
{
    private static readonly TimeSpan LookEvery = TimeSpan.FromSeconds(5);
    private static readonly ServiceState Alive = new("WATCHDOG=1");

    /// <summary>Watches until cancelled.</summary>
    /// <param name="cancellation">Ends it.</param>
    public async Task RunAsync(CancellationToken cancellation)
    {
        using var timer = new PeriodicTimer(asked is { } within && within / 3 < LookEvery ? within / 3 : LookEvery, wall);
        var hung = false;
        do
        {
            var hanging = watch.Look();
            if (hanging is null && asked is not null)
                notifier?.Notify(Alive);
            if (hanging is not null && !hung)
                HostingLog.Hangs(logger, hanging, LoopWatch.Patience.TotalSeconds);
            else if (hanging is null && hung)
                HostingLog.HangsNoMore(logger);
            hung = hanging is not null;
        }
        while (await timer.WaitForNextTickAsync(cancellation));
    }

    /// <summary>How often the service manager wants to hear, or null where it does not ask this process.</summary>
    /// <param name="microseconds">WATCHDOG_USEC.</param>
    /// <param name="process">WATCHDOG_PID; none means whoever it is.</param>
    public static TimeSpan? Asked(string? microseconds, string? process) =>
        long.TryParse(microseconds, NumberStyles.None, CultureInfo.InvariantCulture, out var stated) && stated >= 1000 &&
        (string.IsNullOrEmpty(process) || process == Environment.ProcessId.ToString(CultureInfo.InvariantCulture))
            ? TimeSpan.FromMicroseconds(stated)
            : null;
}
