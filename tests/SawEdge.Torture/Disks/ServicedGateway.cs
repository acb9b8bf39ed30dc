using SawEdge.EndToEnd.Tests.Support;
using SawEdge.TestSupport;
using SawEdge.Torture.Plant;

namespace SawEdge.Torture.Disks;

/// <summary>A gateway as a service manager keeps it: where it ends by itself it is started anew.</summary>
/// <param name="run">Where the checks are told.</param>
/// <param name="bay">The saws before it.</param>
/// <param name="configuration">Its configuration.</param>
/// <param name="environment">Variables that it gets.</param>
internal sealed class ServicedGateway(TrialRun run, SawBay bay, string configuration, IReadOnlyDictionary<string, string>? environment) : IAsyncDisposable
{
    private DateTimeOffset _well = TimeProvider.System.GetUtcNow();

    /// <summary>The process that runs now, or ran last.</summary>
    public GatewayProcess Now { get; private set; } = GatewayProcess.Run(configuration, environment);

    /// <summary>How often it ended by itself.</summary>
    public int Ends { get; private set; }

    /// <summary>Says that until now all is well: what was seen before is on the disk.</summary>
    public void IsWell() => _well = TimeProvider.System.GetUtcNow();

    /// <summary>Waits for a condition; where the gateway ends meanwhile, it is started again.</summary>
    /// <returns>Whether it came; a condition that does not is a failed check.</returns>
    public async Task<bool> ComesAsync(Func<GatewayProcess, bool> condition, FormattableString what, TimeSpan within)
    {
        var began = run.Elapsed;
        while (true)
        {
            var process = Now;
            try
            {
                await Until.TrueAsync(() => process.HasExited || condition(process), "", within);
            }
            catch (TimeoutException)
            {
                return run.Check(false, $"not within {within.TotalSeconds} s: {what}; the gateway warned of\n{process.Warnings()}");
            }

            if (!process.HasExited)
                return true;
            Ends++;
            run.Say($"the gateway has ended");
            if (!run.Check(process.Log.Any(entry => entry.Level == "Critical"), $"a gateway ended without a word:\n{process.Output}"))
                return false;
            await StartAsync();
            if (run.Elapsed - began > within + TimeSpan.FromSeconds(60))
                return run.Check(false, $"the gateway ends again and again; it warned of\n{Now.Warnings()}");
        }
    }

    /// <summary>Kills it and starts it again at once.</summary>
    public async Task KillAsync()
    {
        await Now.KillAsync();
        await StartAsync();
    }

    /// <summary>Waits until it polls; what the saws did since all was well may have been lost with the one before.</summary>
    public async Task<bool> PollsAsync(TimeSpan within)
    {
        var asked = bay.Requests;
        if (!await ComesAsync(_ => bay.Requests > asked + (4 * bay.Saws.Count), $"the gateway polls", within))
            return false;
        foreach (var saw in bay.Saws)
            saw.Observed.Forget(_well, TimeProvider.System.GetUtcNow());
        return true;
    }

    /// <inheritdoc/>
    public ValueTask DisposeAsync() => Now.DisposeAsync();

    private async Task StartAsync()
    {
        await Now.DisposeAsync();
        Now = GatewayProcess.Run(configuration, environment);
    }
}
