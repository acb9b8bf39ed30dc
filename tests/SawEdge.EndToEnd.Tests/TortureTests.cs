using SawEdge.EndToEnd.Tests.Support;
using SawEdge.TestSupport;
using SawEdge.Torture;
using SawEdge.Torture.Plant;

namespace SawEdge.EndToEnd.Tests;

/// <summary>The short form of each trial of <c>tests/SawEdge.Torture</c>; a failure shows everything the trial said, its seed first.</summary>
public sealed class TortureTests
{
    [PeerFact(InfluxServer.Program, HistoryFile.Program)]
    public Task Kill_AtRandomMoments_LosesNothing() => HoldsAsync("kill");

    [PeerFact(InfluxServer.Program, HistoryFile.Program, FakedClock.Program)]
    public Task Clock_Stepped_NeitherPartsNorMergesNorDoubles() => HoldsAsync("clock");

    private static async Task HoldsAsync(string trial)
    {
        using var output = new StringWriter();
        using var limit = new CancellationTokenSource(TimeSpan.FromMinutes(3));
        var exit = await Harness.RunAsync([trial, "--short"], output, limit.Token);
        Assert.True(exit == 0, output.ToString());
    }
}
