using System.Buffers.Binary;
using System.Collections.Concurrent;
using System.Net;
using System.Net.Sockets;

namespace SawEdge.Modbus.Tests;

/// <summary>
/// A real TCP server on loopback that does to each connection what a test's script says, valid or not, and keeps every byte
/// that came. The last script serves all further connections.
/// </summary>
public sealed class ScriptedDevice : IAsyncDisposable
{
    private readonly TcpListener _listener;
    private readonly CancellationTokenSource _stop = new();
    private readonly Func<Talk, Task>[] _scripts;
    private readonly ConcurrentQueue<byte[]> _requests = new();
    private readonly ConcurrentBag<Task> _talks = [];
    private readonly Task _accepting;
    private int _connections;

    /// <summary>Starts listening on a free port.</summary>
    public ScriptedDevice(params Func<Talk, Task>[] scripts)
        : this(0, scripts)
    {
    }

    /// <summary>Starts listening on a given port.</summary>
    public ScriptedDevice(int port, params Func<Talk, Task>[] scripts)
    {
        _listener = new TcpListener(IPAddress.Loopback, port);
        _scripts = scripts;
        _listener.Start();
        _accepting = AcceptAsync();
    }

    /// <summary>The port on loopback.</summary>
    public int Port => ((IPEndPoint)_listener.LocalEndpoint).Port;

    /// <summary>Connections taken so far.</summary>
    public int Connections => Volatile.Read(ref _connections);

    /// <summary>Every whole request that came, in order.</summary>
    public IReadOnlyList<byte[]> Requests => [.. _requests];

    /// <summary>A device that answers everything correctly from <see cref="Register"/> and <see cref="Bit"/>.</summary>
    public static async Task Correct(Talk talk)
    {
        while (await talk.NextAsync() is { } request)
            await talk.SendAsync(CorrectAnswer(request));
    }

    /// <summary>What a register of the correct device holds.</summary>
    public static ushort Register(int address) => (ushort)((address * 7) + 3);

    /// <summary>What a bit of the correct device holds.</summary>
    public static bool Bit(int address) => address % 3 == 0;

    /// <summary>The correct device's answer to a request.</summary>
    public static byte[] CorrectAnswer(byte[] request)
    {
        var function = request[7];
        var address = BinaryPrimitives.ReadUInt16BigEndian(request.AsSpan(8));
        var quantity = BinaryPrimitives.ReadUInt16BigEndian(request.AsSpan(10));
        var values = new byte[function <= 2 ? (quantity + 7) / 8 : quantity * 2];
        for (var i = 0; i < quantity; i++)
        {
            if (function > 2)
                BinaryPrimitives.WriteUInt16BigEndian(values.AsSpan(i * 2), Register(address + i));
            else if (Bit(address + i))
                values[i / 8] |= (byte)(1 << (i % 8));
        }

        return Frame(request, [function, (byte)values.Length, .. values]);
    }

    /// <summary>An exception answer to a request.</summary>
    public static byte[] ExceptionAnswer(byte[] request, byte code) => Frame(request, [(byte)(request[7] | 0x80), code]);

    /// <summary>A frame with the request's transaction and unit around a protocol data unit.</summary>
    public static byte[] Frame(byte[] request, byte[] pdu) =>
        [request[0], request[1], 0, 0, (byte)((pdu.Length + 1) >> 8), (byte)(pdu.Length + 1), request[6], .. pdu];

    /// <inheritdoc/>
    public async ValueTask DisposeAsync()
    {
        await _stop.CancelAsync();
        await _accepting;
        _listener.Dispose();
        await Task.WhenAll(_talks);
        _stop.Dispose();
    }

    private async Task AcceptAsync()
    {
        try
        {
            while (!_stop.IsCancellationRequested)
            {
                var socket = await _listener.AcceptSocketAsync(_stop.Token);
                socket.NoDelay = true;
                var number = Interlocked.Increment(ref _connections);
                _talks.Add(TalkAsync(socket, _scripts[Math.Min(number, _scripts.Length) - 1]));
            }
        }
        catch (OperationCanceledException)
        {
            // The test is over.
        }
    }

    private async Task TalkAsync(Socket socket, Func<Talk, Task> script)
    {
        using (socket)
        {
            try
            {
                await script(new Talk(socket, _requests, _stop.Token));
            }
            catch (Exception e) when (e is OperationCanceledException or SocketException)
            {
                // The client went away or the test is over; what the client made of it is what the test looks at.
            }
        }
    }

    /// <summary>One connection as its script sees it.</summary>
    public sealed class Talk(Socket socket, ConcurrentQueue<byte[]> requests, CancellationToken stop)
    {
        /// <summary>Ends when the test is over.</summary>
        public CancellationToken Stop => stop;

        /// <summary>The next request of so many bytes, or null when the client has closed.</summary>
        public async Task<byte[]?> NextAsync(int length = 12)
        {
            var request = new byte[length];
            for (var have = 0; have < request.Length;)
            {
                var came = await socket.ReceiveAsync(request.AsMemory(have), stop);
                if (came == 0)
                    return null;
                have += came;
            }

            requests.Enqueue(request);
            return request;
        }

        /// <summary>Sends bytes as they are.</summary>
        public async Task SendAsync(byte[] bytes)
        {
            for (var sent = 0; sent < bytes.Length;)
                sent += await socket.SendAsync(bytes.AsMemory(sent), stop);
        }

        /// <summary>Closes with a reset instead of an orderly end.</summary>
        public void Reset() => socket.Close(0);
    }
}
