using SawEdge.Core.Signals;
using SawEdge.Gateway.Tests.Acquisition.Mqtt;
using SawEdge.Gateway.Tests.Api;
using SawEdge.Gateway.Tests.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Brokers;

/// <summary>What a hostile broker costs in memory: measured for the whole process, so nothing else runs beside it.</summary>
[Collection(nameof(MemoryOfTheProcess))]
public class HostileMemoryTests
{
    private readonly CollectedLog _log = new();

    [Fact]
    public async Task TenMegabytesAgainAndAgain_AreSaidOnceAndTakeNoMemory()
    {
        const int Times = 30;
        var sent = 0;
        await using var broker = new HostileBroker(async (stream, stop) =>
        {
            await HostileBroker.WelcomeAsync(stream, stop);
            var large = HostileBroker.Message("hall/saw-1", new string(' ', 10_000_000));
            for (var i = 0; i < Times; i++)
            {
                await stream.WriteAsync(large, stop);
                Interlocked.Increment(ref sent);
            }

            await stream.WriteAsync(HostileBroker.Message("hall/saw-1", """{"load":7}"""), stop);
            await Task.Delay(Timeout.Infinite, stop);
        });
        await using var source = new RunningSource(Published.Broker(broker.Port), [Published.Json(time: null)], _log);
        await Until.TrueAsync(() => Volatile.Read(ref sent) >= 2, "the first two");
        var before = GC.GetTotalAllocatedBytes();
        await Until.TrueAsync(() => source.Take().Count == 1, "the frame behind them");
        Assert.Equal(7, source.Taken[0].Number(Signal.MotorLoad));
        Assert.InRange(GC.GetTotalAllocatedBytes() - before, 0, 150_000_000);
        Assert.Equal(1, _log.Count(2205));
        Assert.Contains("it has more than 65536 bytes, which is maximumPayload of the broker", _log.Entries.Single(entry => entry.Id == 2205).Text, StringComparison.Ordinal);
    }
}
