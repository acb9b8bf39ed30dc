using Microsoft.Extensions.Time.Testing;

namespace SawEdge.Modbus.Tests;

/// <summary>The least time between an answer and the next request.</summary>
public sealed class RequestPaceTests
{
    [Fact]
    public async Task WaitAsync_AfterAMark_EndsWhenTheTimeIsOver()
    {
        var clock = new FakeTimeProvider();
        using var pace = new RequestPace(clock);
        Assert.True(pace.WaitAsync(TimeSpan.FromSeconds(1), default).AsTask().IsCompletedSuccessfully);
        for (var i = 0; i < 3; i++)
        {
            pace.Mark();
            clock.Advance(TimeSpan.FromMilliseconds(10));
            var waiting = pace.WaitAsync(TimeSpan.FromMilliseconds(50.5), default).AsTask();
            clock.Advance(TimeSpan.FromMilliseconds(40));
            Assert.False(waiting.IsCompleted);
            clock.Advance(TimeSpan.FromMilliseconds(1));
            await waiting.WaitAsync(TimeSpan.FromMinutes(3));
        }

        clock.Advance(TimeSpan.FromMilliseconds(10));
        Assert.True(pace.WaitAsync(TimeSpan.FromMilliseconds(9), default).AsTask().IsCompletedSuccessfully);
    }

    [Fact]
    public async Task WaitAsync_CallerGivesUp_EndsAndTheNextWaitIsWhole()
    {
        var clock = new FakeTimeProvider();
        using var pace = new RequestPace(clock);
        pace.Mark();
        using var givingUp = new CancellationTokenSource();
        var waiting = pace.WaitAsync(TimeSpan.FromSeconds(1), givingUp.Token).AsTask();
        await givingUp.CancelAsync();
        await Assert.ThrowsAnyAsync<OperationCanceledException>(() => waiting);

        var next = pace.WaitAsync(TimeSpan.FromSeconds(1), default).AsTask();
        Assert.False(next.IsCompleted);
        clock.Advance(TimeSpan.FromSeconds(1));
        await next.WaitAsync(TimeSpan.FromMinutes(3));
    }

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public async Task Readers_WithAPause_SendTheNextRequestOnlyAfterIt(bool isRtu)
    {
        var clock = new FakeTimeProvider();
        await using var device = new ScriptedDevice(isRtu ? RtuDevice.Correct : ScriptedDevice.Correct);
        var options = new ModbusTcpOptions { Host = "127.0.0.1", Port = device.Port, Pause = TimeSpan.FromMilliseconds(200) };
        await using IModbusReader reader = isRtu ? new ModbusRtuReader(options, clock) : new ModbusTcpReader(options, clock);
        await reader.ReadRegistersAsync(1, ModbusTable.HoldingRegisters, 0, new ushort[1], default);
        var next = reader.ReadRegistersAsync(1, ModbusTable.HoldingRegisters, 0, new ushort[1], default).AsTask();
        clock.Advance(TimeSpan.FromMilliseconds(199));
        Assert.Single(device.Requests);
        Assert.False(next.IsCompleted);
        clock.Advance(TimeSpan.FromMilliseconds(1));
        await next.WaitAsync(TimeSpan.FromMinutes(3));
        Assert.Equal(2, device.Requests.Count);
    }

    // The options of the socket are what the system was asked for; a link that dies cannot be made on loopback.
    [Fact]
    public async Task TcpLink_Connected_HasTheKeepAliveThatWasAsked()
    {
        await using var device = new ScriptedDevice(ScriptedDevice.Correct);
        var options = new ModbusTcpOptions { Host = "127.0.0.1", Port = device.Port, KeepAliveInterval = TimeSpan.FromSeconds(5) };
        using var socket = await new TcpLink(options, TimeProvider.System, "Modbus TCP").OpenAsync(null, default);
        Assert.Equal(
            [1, 10, 5, 3],
            [
                (int)socket.GetSocketOption(System.Net.Sockets.SocketOptionLevel.Socket, System.Net.Sockets.SocketOptionName.KeepAlive)!,
                (int)socket.GetSocketOption(System.Net.Sockets.SocketOptionLevel.Tcp, System.Net.Sockets.SocketOptionName.TcpKeepAliveTime)!,
                (int)socket.GetSocketOption(System.Net.Sockets.SocketOptionLevel.Tcp, System.Net.Sockets.SocketOptionName.TcpKeepAliveInterval)!,
                (int)socket.GetSocketOption(System.Net.Sockets.SocketOptionLevel.Tcp, System.Net.Sockets.SocketOptionName.TcpKeepAliveRetryCount)!,
            ]);
    }
}
