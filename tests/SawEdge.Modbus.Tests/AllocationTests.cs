using System.Diagnostics;
using SawEdge.Modbus.Tests.Peers;
using SawEdge.TestSupport;
using Xunit.Abstractions;

namespace SawEdge.Modbus.Tests;

/// <summary>What the reader costs the garbage collector. Alone on the process, because allocations are counted for all of it.</summary>
[Collection(nameof(Alone))]
public sealed class AllocationTests(ITestOutputHelper output)
{
#if DEBUG
    // Unoptimised, the compiler makes a class of every async method's state.
    private const int MostBytes = 1000;
    private const int MostRtuBytes = 3000;
#else
    // One object of any kind for each read would be 24 bytes.
    private const int MostBytes = 16;

    // The states of waiting methods come from pools of a thread and a core, which a busy machine misses now and then; made anew for each read
    // they would be several hundred bytes.
    private const int MostRtuBytes = 150;
#endif

    private const int Rounds = 3;

    // Enough that a block of 8 kB, which the collector hands out at once, is less than an object a read.
    private const int RtuReads = 800;

    [Fact]
    public async Task Read_InTheSteadyState_AllocatesNextToNothing()
    {
        // The device answers without allocating either: one buffer, the same bytes but for the transaction identifier.
        await using var device = new EchoingDevice();
        await using var reader = new ModbusTcpReader(new ModbusTcpOptions { Host = "127.0.0.1", Port = device.Port }, TimeProvider.System);
        using var stop = new CancellationTokenSource();
        var into = new ushort[20];
        var perRead = await LeastBytesAsync(5000, () => reader.ReadRegistersAsync(1, ModbusTable.HoldingRegisters, 0, into, stop.Token));

        Assert.InRange(perRead, 0, MostBytes);
        Assert.Equal(0x0102, into[0]);
    }

    // The unit is another process, whose allocations are its own.
    [PeerTheory(ModbusPeers.Compiler, ModbusPeers.Libmodbus, ModbusPeers.Socat)]
    [InlineData(false)]
    [InlineData(true)]
    public async Task RtuRead_InTheSteadyState_AllocatesNextToNothing(bool isOverTcp)
    {
        using var folder = new TempFolder();
        await using var cable = await SerialCable.LayAsync(folder);
        await using var server = await ModbusPeers.StartLibmodbusAsync(cable.Far, folder);
        var port = Peer.FreePort();
        await using var serialServer = isOverTcp ? await SerialCable.ServeAsync(port, cable.Near) : null;
        await using var reader = isOverTcp
            ? new ModbusRtuReader(new ModbusTcpOptions { Host = "127.0.0.1", Port = port }, TimeProvider.System)
            : new ModbusRtuReader(new ModbusSerialOptions { Line = cable.Near, Parity = SerialParity.None, Baud = 115200 }, TimeProvider.System);
        using var stop = new CancellationTokenSource();
        var into = new ushort[20];
        var began = Stopwatch.GetTimestamp();
        var perRead = await LeastBytesAsync(RtuReads, () => reader.ReadRegistersAsync(1, ModbusTable.HoldingRegisters, 100, into, stop.Token));
        output.WriteLine($"{RtuReads * (Rounds + 1) / Stopwatch.GetElapsedTime(began).TotalSeconds:0} reads/s, {perRead:0.0} bytes each");

        Assert.InRange(perRead, 0, MostRtuBytes);
        Assert.Equal(54321, into[0]);
    }

    // What other tests left running allocates now and then; what a read allocates, it allocates in every round.
    private static async Task<double> LeastBytesAsync(int reads, Func<ValueTask> read)
    {
        for (var i = 0; i < reads; i++)
            await read();
        var least = double.MaxValue;
        for (var round = 0; round < Rounds; round++)
        {
            var before = GC.GetTotalAllocatedBytes(precise: true);
            for (var i = 0; i < reads; i++)
                await read();
            least = Math.Min(least, (GC.GetTotalAllocatedBytes(precise: true) - before) / (double)reads);
        }

        return least;
    }
}

/// <summary>Tests that must not run beside others.</summary>
[CollectionDefinition(nameof(Alone), DisableParallelization = true)]
public sealed class Alone;
