using Microsoft.Extensions.Time.Testing;
using SawEdge.TestSupport;

namespace SawEdge.Modbus.Tests;

/// <summary>An RTU reader on a scripted device, with a clock that only the test moves.</summary>
internal sealed class RtuFixture : IAsyncDisposable
{
    private static readonly TimeSpan Limit = TimeSpan.FromMinutes(3);

    public RtuFixture(params Func<ScriptedDevice.Talk, Task>[] scripts)
    {
        Device = new ScriptedDevice(scripts);
        Reader = new ModbusRtuReader(new ModbusTcpOptions { Host = "127.0.0.1", Port = Device.Port, ResponseTimeout = ResponseTimeout }, Clock);
    }

    public static TimeSpan ResponseTimeout { get; } = TimeSpan.FromSeconds(1);

    public FakeTimeProvider Clock { get; } = new();

    public ScriptedDevice Device { get; }

    public ModbusRtuReader Reader { get; }

    /// <summary>Reads holding registers of a unit; the clock stands still.</summary>
    public async Task<ushort[]> ReadAsync(ushort address, int quantity, byte unit = 1, CancellationToken cancellation = default)
    {
        var into = new ushort[quantity];
        await Reader.ReadRegistersAsync(unit, ModbusTable.HoldingRegisters, address, into, cancellation).AsTask().WaitAsync(Limit, CancellationToken.None);
        return into;
    }

    /// <summary>Reads after trouble: the clock moves until the silence that is due is over and the device has been asked.</summary>
    public async Task<ushort[]> ReadAfterTroubleAsync(ushort address, int quantity, byte unit = 1)
    {
        var asked = Device.Requests.Count;
        var reading = ReadAsync(address, quantity, unit);
        await Until.TrueAsync(
            () =>
            {
                if (Device.Requests.Count > asked || reading.IsCompleted)
                    return true;
                Clock.Advance(TimeSpan.FromMilliseconds(5));
                return false;
            },
            "the device is asked again");
        return await reading;
    }

    /// <summary>Reads and lets the response timeout pass once the device is as far as the test wants it.</summary>
    public async Task<T> ReadFailsAsync<T>(ushort address, int quantity, Task deviceIsThere, byte unit = 1)
        where T : ModbusException
    {
        var reading = ReadAsync(address, quantity, unit);
        await deviceIsThere.WaitAsync(Limit);
        Clock.Advance(ResponseTimeout);
        return await Assert.ThrowsAsync<T>(() => reading);
    }

    public async ValueTask DisposeAsync()
    {
        await Reader.DisposeAsync();
        await Device.DisposeAsync();
    }
}
