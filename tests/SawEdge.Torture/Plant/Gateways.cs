using SawEdge.EndToEnd.Tests.Support;
using SawEdge.TestSupport;

namespace SawEdge.Torture.Plant;

/// <summary>What trials ask of a gateway beyond what tests do.</summary>
internal static class Gateways
{
    /// <summary>What it warned of, a line each.</summary>
    public static string Warnings(this GatewayProcess gateway) =>
        string.Join('\n', gateway.Log.Where(IsWarning).TakeLast(20).Select(entry => $"    {entry.EventId} {entry.Message}"));

    /// <summary>How often it warned.</summary>
    public static int WarningCount(this GatewayProcess gateway) => gateway.Log.Count(IsWarning);

    /// <summary>Waits for a condition while the gateway must stay alive; where it does not come, that is a failed check, and the trial goes on to its end.</summary>
    /// <returns>Whether it came.</returns>
    public static async Task<bool> ComesAsync(this GatewayProcess gateway, TrialRun run, Func<bool> condition, FormattableString what, TimeSpan within)
    {
        try
        {
            await Until.TrueAsync(() => gateway.HasExited || condition(), "", within);
        }
        catch (TimeoutException)
        {
            return run.Check(false, $"not within {within.TotalSeconds} s: {what}");
        }

        return run.Check(!gateway.HasExited, $"the gateway has ended:\n{gateway.Warnings()}");
    }

    // Alarms are logged, too, and so are parts that nobody saw made, and that all virtual saws have a blade of one name. A disk that fails now and then is in trouble each time anew: that
    // its begins have ends is another check.
    private static bool IsWarning(LogLine entry) => entry.Level is "Warning" or "Error" or "Critical" && entry.EventId is not (3200 or 3204 or 3009 or 3016 or 4001);
}
