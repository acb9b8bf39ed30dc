using System.Net.Sockets;
using System.Text.Json;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Api;

/// <summary>Tests that measure the memory of the whole process: nothing else may run meanwhile.</summary>
[CollectionDefinition(nameof(MemoryOfTheProcess), DisableParallelization = true)]
public sealed class MemoryOfTheProcess;

/// <summary>A thousand readers of the event stream over real sockets.</summary>
[Collection(nameof(MemoryOfTheProcess))]
public sealed class ManyReadersTests
{
    private const int Rounds = 40;

    private static readonly TimeSpan Soon = TimeSpan.FromMinutes(3);

    // A thousand, of which one reads nothing: all others get everything, and what waits for the one does not grow.
    [Fact]
    public async Task Stream_AThousandReadersAndADeafOne_KeepsMemoryFlat()
    {
        string[] saws = [.. Enumerable.Range(1, 20).Select(i => $"Saw {i}")];
        await using var api = await ReadingApi.StartAsync(saws);
        await using var saw = new RunningSaw(api, "Saw 1");
        var readers = new List<Socket>();
        try
        {
            using var deaf = await EventReader.OpenDeafAsync(api.Address);
            for (var i = 0; i < 1000; i++)
                readers.Add(await EventReader.OpenDeafAsync(api.Address));
            await using var last = await EventReader.OpenAsync(api.Address);
            var buffer = new byte[64 * 1024];
            int Drain() => readers.Sum(reader => reader.Available > 0 ? reader.Receive(buffer, Math.Min(buffer.Length, reader.Available), SocketFlags.None) : 0);
            await Until.TrueAsync(() => api.Context.Meters.Readers == 1002 && Drain() == 0, "all are there and have what there is");
            var (before, bytes) = (0L, 0L);
            for (var i = 1; i <= Rounds; i++)
            {
                if (i == Rounds / 4)
                    before = GC.GetTotalMemory(forceFullCollection: true);
                saw.Offer(api.Machine.GetUtcNow().AddMilliseconds(100 * i), i);
                await last.NextAsync(told => told.Name == "saw" && told.Data.GetProperty("motorLoadKw") is { ValueKind: JsonValueKind.Number } load && load.GetDouble() == i, Soon);
                await Until.TrueAsync(() =>
                {
                    bytes += Drain();
                    return bytes >= i * 100_000L;
                }, "each gets it");
            }

            // Events of some 500 bytes for each of a thousand, thirty times over, would be 15 MB if any were kept. The web server keeps a block of 4 kB for each connection that it ever wrote to at the same time as to others.
            Assert.InRange(GC.GetTotalMemory(forceFullCollection: true) - before, long.MinValue, 6_000_000);
        }
        finally
        {
            readers.ForEach(reader => reader.Dispose());
        }

        await Until.TrueAsync(() => api.Context.Meters.Readers == 0, "who went is gone");
    }
}
