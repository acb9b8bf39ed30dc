using System.Buffers.Binary;
using System.Collections.Concurrent;
using SawEdge.Modbus.Tests;

namespace SawEdge.Gateway.Tests.Acquisition.Modbus;

/// <summary>A controller on a real socket: registers that may be missing, units that may be silent, answers that may be anything.</summary>
internal sealed class RegisterDevice : IAsyncDisposable
{
    private readonly ScriptedDevice _device;

    /// <summary>Starts listening.</summary>
    /// <param name="port">The port, or 0 for a free one.</param>
    public RegisterDevice(int port = 0)
    {
        _device = new ScriptedDevice(port, ServeAsync);
    }

    /// <summary>Holding and input registers and bits by table and address; what is not there is refused with exception 02.</summary>
    public ConcurrentDictionary<(byte Function, int Address), ushort> Values { get; } = new();

    /// <summary>Units that do not answer.</summary>
    public ConcurrentDictionary<byte, bool> Silent { get; } = new();

    /// <summary>Comes before the answer of a request; what it returns is sent instead, if it returns anything.</summary>
    public Func<byte[], byte[]?> Before { get; set; } = _ => null;

    public int Port => _device.Port;

    public int Connections => _device.Connections;

    /// <summary>Requests so far: unit, function, address, quantity.</summary>
    public IReadOnlyList<(int Unit, int Function, int Address, int Quantity)> Requests =>
        [.. _device.Requests.Select(request => ((int)request[6], (int)request[7], (request[8] << 8) | request[9], (request[10] << 8) | request[11]))];

    /// <summary>Sets neighbouring holding registers.</summary>
    public void Set(int address, params ushort[] values)
    {
        for (var i = 0; i < values.Length; i++)
            Values[(3, address + i)] = values[i];
    }

    public ValueTask DisposeAsync() => _device.DisposeAsync();

    private async Task ServeAsync(ScriptedDevice.Talk talk)
    {
        while (await talk.NextAsync() is { } request)
        {
            if (Silent.ContainsKey(request[6]))
                continue;
            await talk.SendAsync(Before(request) ?? Answer(request));
        }
    }

    private byte[] Answer(byte[] request)
    {
        var function = request[7];
        var address = BinaryPrimitives.ReadUInt16BigEndian(request.AsSpan(8));
        var quantity = BinaryPrimitives.ReadUInt16BigEndian(request.AsSpan(10));
        var values = new byte[function <= 2 ? (quantity + 7) / 8 : quantity * 2];
        for (var i = 0; i < quantity; i++)
        {
            if (!Values.TryGetValue((function, address + i), out var value))
                return ScriptedDevice.ExceptionAnswer(request, 2);
            if (function > 2)
                BinaryPrimitives.WriteUInt16BigEndian(values.AsSpan(i * 2), value);
            else if (value != 0)
                values[i / 8] |= (byte)(1 << (i % 8));
        }

        return ScriptedDevice.Frame(request, [function, (byte)values.Length, .. values]);
    }
}
