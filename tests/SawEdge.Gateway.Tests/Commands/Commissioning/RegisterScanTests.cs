using Microsoft.Extensions.Time.Testing;
using SawEdge.Gateway.Acquisition.Modbus;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Tests.Acquisition.Modbus;
using SawEdge.Modbus.Tests;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Commands.Commissioning;

/// <summary>Ranges of a device that refuses, is busy, is silent, or goes away.</summary>
public sealed class RegisterScanTests
{
    [Fact]
    public async Task Read_ManyRegisters_AsksForAtMost125AtATimeInOrder()
    {
        await using var device = new RegisterDevice();
        device.Set(0, [.. Enumerable.Range(0, 300).Select(i => (ushort)(i * 3))]);
        var block = await ScanAsync(device, 0, 300);
        Assert.Equal((300, 3), (block.ReadCount, block.Requests));
        Assert.Equal([(1, 3, 0, 125), (1, 3, 125, 125), (1, 3, 250, 50)], device.Requests);
        Assert.All(Enumerable.Range(0, 300), i => Assert.Equal(i * 3, block[i]));
    }

    [Fact]
    public async Task Read_Bits_AsksForAtMost2000()
    {
        await using var device = new RegisterDevice();
        for (var i = 0; i < 2100; i++)
            device.Values[(1, i)] = (ushort)(i % 3 == 0 ? 1 : 0);
        await using var scan = Scan(device.Port);
        var block = await scan.ReadAsync(RegisterTable.Coil, 0, 2100, CancellationToken.None);
        Assert.Equal([(1, 1, 0, 2000), (1, 1, 2000, 100)], device.Requests);
        Assert.All(Enumerable.Range(0, 2100), i => Assert.Equal(i % 3 == 0 ? 1 : 0, block[i]));
    }

    [Theory]
    [InlineData(0)]
    [InlineData(1)]
    [InlineData(17)]
    [InlineData(63)]
    [InlineData(98)]
    [InlineData(99)]
    public async Task Read_ARegisterThatIsNotThere_AllOthersAreRead(int missing)
    {
        await using var device = new RegisterDevice();
        device.Set(200, [.. Enumerable.Range(0, 100).Select(i => (ushort)(1000 + i))]);
        device.Values.TryRemove((3, 200 + missing), out _);
        var block = await ScanAsync(device, 200, 100);
        Assert.Equal(99, block.ReadCount);
        Assert.Equal(ScannedState.NotThere, block.StateOf(missing));
        Assert.All(Enumerable.Range(0, 100).Where(i => i != missing), i => Assert.Equal(1000 + i, block[i]));

        // Each halving costs two requests.
        Assert.InRange(block.Requests, 3, 17);
        Assert.False(block.Has(missing - 1, 2));
    }

    [Fact]
    public async Task Read_PairsThatTheDeviceGivesOnlyTogether_AreKeptTogether()
    {
        // Only whole pairs from an even address on, and nothing from 40 on.
        await using var device = new RegisterDevice { Before = request => request[9] % 2 != 0 || request[11] % 2 != 0 || request[9] + request[11] > 40 ? ScriptedDevice.ExceptionAnswer(request, 2) : null };
        device.Set(0, [.. Enumerable.Range(0, 60).Select(i => (ushort)i)]);
        var block = await ScanAsync(device, 0, 60);
        Assert.Equal(40, block.ReadCount);
        Assert.All(Enumerable.Range(40, 20), i => Assert.Equal(ScannedState.NotThere, block.StateOf(i)));
    }

    [Fact]
    public async Task Read_NothingThere_SaysSoOfEachWithoutAnException()
    {
        await using var device = new RegisterDevice();
        var block = await ScanAsync(device, 0, 20);
        Assert.Equal(0, block.ReadCount);
        Assert.All(Enumerable.Range(0, 20), i => Assert.Equal(ScannedState.NotThere, block.StateOf(i)));
        Assert.Null(block.BrokenOff);
    }

    [Fact]
    public async Task Read_TableThatTheDeviceDoesNotOffer_IsToldAtOnce()
    {
        await using var device = new RegisterDevice { Before = request => ScriptedDevice.ExceptionAnswer(request, 1) };
        var refusal = await Assert.ThrowsAsync<ScanException>(() => ScanAsync(device, 0, 100));
        Assert.Contains("the device does not offer this table", refusal.Message, StringComparison.Ordinal);
        Assert.Single(device.Requests);
    }

    [Fact]
    public async Task Read_DeviceIsBusy_WaitsAndAsksAgain()
    {
        var busy = 2;
        await using var device = new RegisterDevice { Before = request => busy-- > 0 ? ScriptedDevice.ExceptionAnswer(request, 6) : null };
        device.Set(0, 5, 6, 7);
        var block = await ScanAsync(device, 0, 3);
        Assert.Equal((3, 3), (block.ReadCount, block.Requests));
    }

    [Fact]
    public async Task Read_UnitIsSilent_IsAskedTwiceAndTold()
    {
        await using var device = new RegisterDevice();
        device.Silent[1] = true;
        var refusal = await Assert.ThrowsAsync<ScanException>(() => ScanAsync(device, 0, 10));
        Assert.Contains("no answer within 0.4 s. Check the unit identifier", refusal.Message, StringComparison.Ordinal);
        Assert.Equal(2, device.Requests.Count);
    }

    [Fact]
    public async Task Read_DeviceDiesInTheMiddle_KeepsWhatWasReadAndSaysWhy()
    {
        await using var device = new RegisterDevice();
        device.Before = request =>
        {
            // From the third range on nothing comes any more.
            if (((request[8] << 8) | request[9]) >= 250)
                device.Silent[1] = true;
            return null;
        };
        device.Set(0, [.. Enumerable.Range(0, 900).Select(i => (ushort)i)]);
        device.Values.TryRemove((3, 260), out _);
        var block = await ScanAsync(device, 0, 900);
        Assert.NotNull(block.BrokenOff);
        Assert.Contains("no answer", block.BrokenOff, StringComparison.Ordinal);
        Assert.Equal(250, block.ReadCount);
        Assert.Equal((ScannedState.Read, ScannedState.NoAnswer, ScannedState.NotAsked), (block.StateOf(249), block.StateOf(300), block.StateOf(899)));
        Assert.InRange(device.Requests.Count, 4, 8);
    }

    [Fact]
    public async Task Read_ConnectionIsLostForGood_KeepsWhatWasRead()
    {
        var device = new RegisterDevice();
        device.Set(0, [.. Enumerable.Range(0, 300).Select(i => (ushort)i)]);
        var time = new FakeTimeProvider();
        await using var scan = Scan(device.Port, time);
        var reading = scan.ReadAsync(RegisterTable.Holding, 0, 300, CancellationToken.None);
        await Until.TrueAsync(() => device.Requests.Count == 1, "the first range is read");
        await device.DisposeAsync();
        await Until.TrueAsync(
            () =>
            {
                time.Advance(RegisterScan.UsualPause);
                return reading.IsCompleted;
            },
            "the scan ends");
        var block = await reading;
        Assert.Contains("the connection was refused", block.BrokenOff, StringComparison.Ordinal);
        Assert.Equal(125, block.ReadCount);
    }

    [Fact]
    public async Task Read_SeveralRanges_PausesBetweenRequests()
    {
        await using var device = new RegisterDevice();
        device.Set(0, new ushort[300]);
        var time = new FakeTimeProvider();
        await using var scan = Scan(device.Port, time);
        var reading = scan.ReadAsync(RegisterTable.Holding, 0, 300, CancellationToken.None);
        await Until.TrueAsync(() => device.Requests.Count == 1, "the first request");
        var began = time.GetUtcNow();
        await Until.TrueAsync(
            () =>
            {
                if (device.Requests.Count < 3)
                    time.Advance(TimeSpan.FromMilliseconds(1));
                return device.Requests.Count == 3;
            },
            "the third request");
        Assert.True(time.GetUtcNow() - began >= 2 * RegisterScan.UsualPause, "two pauses lie between three requests");
        Assert.Equal(300, (await reading).ReadCount);
    }

    [Fact]
    public async Task ReadAgain_LeavesOutWhatIsNotThere()
    {
        await using var device = new RegisterDevice();
        device.Set(0, 1, 2, 3, 4);
        device.Set(10, 5, 6);
        await using var scan = Scan(device.Port);
        var first = await scan.ReadAsync(RegisterTable.Holding, 0, 12, CancellationToken.None);
        var before = device.Requests.Count;
        device.Set(10, 50);
        var again = await scan.ReadAgainAsync(first, CancellationToken.None);
        Assert.Equal([(1, 3, 0, 4), (1, 3, 10, 2)], device.Requests.Skip(before));
        Assert.Equal((6, (ushort)50, ScannedState.NotThere), (again.ReadCount, again[10], again.StateOf(6)));
    }

    private static async Task<ScannedBlock> ScanAsync(RegisterDevice device, ushort first, int count)
    {
        await using var scan = Scan(device.Port);
        return await scan.ReadAsync(RegisterTable.Holding, first, count, CancellationToken.None);
    }

    private static RegisterScan Scan(int port, TimeProvider? time = null) =>
        new(new ModbusTcpDeviceOptions { Name = "", Host = "127.0.0.1", Port = port, ResponseTimeout = TimeSpan.FromMilliseconds(400) }, 1, time ?? TimeProvider.System);
}
