using Microsoft.Extensions.Time.Testing;

namespace SawEdge.Modbus.Tests;

/// <summary>A reader on a scripted device, with a clock that only the test moves.</summary>
internal sealed class ReaderFixture : IAsyncDisposable
{
    private static readonly TimeSpan Limit = TimeSpan.FromMinutes(3);

    public ReaderFixture(params Func<ScriptedDevice.Talk, Task>[] scripts)
    {
        Device = new ScriptedDevice(scripts);
        Reader = new ModbusTcpReader(new ModbusTcpOptions { Host = "127.0.0.1", Port = Device.Port, ResponseTimeout = ResponseTimeout }, Clock);
    }

    public static TimeSpan ResponseTimeout { get; } = TimeSpan.FromSeconds(1);

    public FakeTimeProvider Clock { get; } = new();

    public ScriptedDevice Device { get; }

    public ModbusTcpReader Reader { get; }

    /// <summary>Reads holding registers of unit 1 within the test's own limit of real time.</summary>
    public async Task<ushort[]> ReadAsync(ushort address, int quantity, CancellationToken cancellation = default)
    {
        var into = new ushort[quantity];
        await Reader.ReadRegistersAsync(1, ModbusTable.HoldingRegisters, address, into, cancellation).AsTask().WaitAsync(Limit, CancellationToken.None);
        return into;
    }

    /// <summary>Reads and lets the response timeout pass once the device has the request.</summary>
    public async Task<ModbusTimeoutException> ReadTimesOutAsync(ushort address, int quantity, Task deviceHasIt)
    {
        var reading = ReadAsync(address, quantity);
        await deviceHasIt.WaitAsync(Limit);
        Clock.Advance(ResponseTimeout);
        return await Assert.ThrowsAsync<ModbusTimeoutException>(() => reading);
    }

    /// <summary>What the correct device holds.</summary>
    public static ushort[] Expected(int address, int quantity) => [.. Enumerable.Range(address, quantity).Select(ScriptedDevice.Register)];

    public async ValueTask DisposeAsync()
    {
        await Reader.DisposeAsync();
        await Device.DisposeAsync();
    }
}
