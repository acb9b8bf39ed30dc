using SawEdge.EndToEnd.Tests.Support;
using SawEdge.TestSupport;
using SawEdge.Torture;

namespace SawEdge.EndToEnd.Tests;

/// <summary>The short form of each trial of <c>tests/SawEdge.Torture</c>; a failure shows everything the trial said, its seed first.</summary>
public sealed class TortureTests
{
    [PeerFact(InfluxServer.Program, HistoryFile.Program)]
    public Task Kill_AtRandomMoments_LosesNothing() => HoldsAsync("kill");

    [Fact]
    public Task Gaps_AtRandom_DoubleNothingAndMakeNothingUp() => HoldsAsync("gaps");

    [PeerFact(InfluxServer.Program, HistoryFile.Program, "gcc")]
    public Task Clock_Stepped_NeitherPartsNorMergesNorDoubles() => HoldsAsync("clock");

    [PeerFact(InfluxServer.Program)]
    public Task Soak_DaysOfVirtualTime_StayFlat() => HoldsAsync("soak");

    [PeerFact(InfluxServer.Program, HistoryFile.Program)]
    public Task Influx_StoppedKilledWipedFrozenSlowAndFull_HasEverythingInTheEnd() => HoldsAsync("influx");

    [PeerFact(InfluxServer.Program, HistoryFile.Program, "gcc")]
    public Task Disk_FullReadOnlyAndWorn_LosesNothing() => HoldsAsync("disk");

    [PeerFact(InfluxServer.Program, HistoryFile.Program)]
    public Task Network_CutResetHalfOpenSlowAndLate_LosesNothingThatWasSeen() => HoldsAsync("network");

    [PeerFact(InfluxServer.Program, HistoryFile.Program)]
    public Task Outage_OfHoursOfVirtualTime_IsDeliveredWhole() => HoldsAsync("outage");

    private static async Task HoldsAsync(string trial)
    {
        using var output = new StringWriter();
        using var limit = new CancellationTokenSource(TimeSpan.FromMinutes(3));
        var exit = await Harness.RunAsync([trial, "--short"], output, limit.Token);
        Assert.True(exit == 0, output.ToString());
    }
}
