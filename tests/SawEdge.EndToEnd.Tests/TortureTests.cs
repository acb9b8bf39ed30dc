using SawEdge.EndToEnd.Tests.Support;
using SawEdge.TestSupport;

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

    // A process of its own, as a person runs it: what a trial measures of its process is not that of the tests beside it.
    private static async Task HoldsAsync(string trial)
    {
        await using var process = Peer.Start(GatewayProcess.Dotnet, [Path.Combine(AppContext.BaseDirectory, "SawEdge.Torture.dll"), trial, "--short"]);
        await Until.TrueAsync(() => process.HasExited, () => $"the trial has ended; it printed:\n{process.Output}", TimeSpan.FromMinutes(10));
        Assert.True(await process.ExitsAsync() == 0, process.Output);
    }
}
