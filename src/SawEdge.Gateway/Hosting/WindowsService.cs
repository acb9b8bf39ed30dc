using System.Diagnostics;
using System.Runtime.Versioning;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.Hosting;
using Microsoft.Extensions.Hosting.WindowsServices;
using Microsoft.Extensions.Logging;
using Microsoft.Extensions.Options;

namespace SawEdge.Gateway.Hosting;

/// <summary>
/// The gateway as a service of Windows: nobody sees its standard output there, so the log goes to the event log (<c>Application</c>), and so does
/// what is wrong with a configuration that it does not start with.
/// </summary>
internal static class WindowsService
{
    /// <summary>Name of the service, as <c>deploy/windows/service.ps1</c> installs it.</summary>
    public const string Name = "SawEdge";

    /// <summary>Its source in the event log. Windows lets only administrators make one: <c>service.ps1</c> does.</summary>
    public const string EventSource = "sawedge";

    // ERROR_EXCEPTION_IN_SERVICE (winerror.h): the service manager starts a service again that ended with other than 0 (failureflag).
    private const int Failed = 1064;

    // The most that an entry takes is 31,839 characters (ReportEventW).
    private const int MostCharacters = 30_000;

    /// <summary>Has the host say to Windows that it runs and how it ended; does nothing where Windows did not start the process as a service.</summary>
    /// <param name="services">Of the host.</param>
    /// <param name="failure">Why the gateway ended, where it was not asked to; looked at when it has ended.</param>
    public static void Add(IServiceCollection services, Func<IServiceProvider, Exception?> failure)
    {
        if (!OperatingSystem.IsWindows() || !WindowsServiceHelpers.IsWindowsService())
            return;
        services.AddWindowsService(service => service.ServiceName = Name);
        services.AddSingleton<IHostLifetime>(all => OperatingSystem.IsWindows() ? new Lifetime(all, () => failure(all)) : throw new PlatformNotSupportedException());
    }

    /// <summary>Writes what keeps the gateway from starting where somebody will look for it, if there is no standard error to see it on.</summary>
    /// <param name="words">Lines.</param>
    public static void TellWhyNot(string words)
    {
        if (OperatingSystem.IsWindows() && WindowsServiceHelpers.IsWindowsService())
            EventLog.WriteEntry(EventSource, words.Length > MostCharacters ? words[..MostCharacters] : words, EventLogEntryType.Error);
    }

    [SupportedOSPlatform("windows")]
    private sealed class Lifetime(IServiceProvider services, Func<Exception?> failure) : WindowsServiceLifetime(
        services.GetRequiredService<IHostEnvironment>(), services.GetRequiredService<IHostApplicationLifetime>(), services.GetRequiredService<ILoggerFactory>(),
        services.GetRequiredService<IOptions<HostOptions>>(), services.GetRequiredService<IOptions<WindowsServiceLifetimeOptions>>())
    {
        // Called however the service comes to its end; Windows is told of the end, and of this, when it returns.
        protected override void OnStop()
        {
            base.OnStop();
            if (failure() is not null)
                ExitCode = Failed;
        }
    }
}
