using System.Buffers.Binary;
using System.Net;
using System.Net.Sockets;
using SawEdge.Simulator.Saws;

namespace SawEdge.Simulator.Modbus;

/// <summary>
/// A Modbus TCP device whose units are virtual saws. Every request is answered from one sample of the saw at that
/// moment, so that the registers of one answer belong together. A unit that is not there, or whose controller is
/// starting up, answers with exception 0B; a stream that is no Modbus is closed.
/// </summary>
public sealed class ModbusTcpServer : IAsyncDisposable
{
    private const int HeaderLength = 7;

    private readonly TcpListener _listener;
    private readonly Dictionary<byte, Unit> _units;
    private readonly int _maximumClients;
    private readonly CancellationTokenSource _stop = new();
    private readonly Lock _lock = new();
    private readonly HashSet<Task> _clients = [];
    private readonly Task _accepting;
    private long _requests;
    private long _connections;

    private ModbusTcpServer(TcpListener listener, Dictionary<byte, Unit> units, int maximumClients)
    {
        _listener = listener;
        _units = units;
        _maximumClients = maximumClients;
        _accepting = AcceptAsync(_stop.Token);
    }

    /// <summary>The port it listens on.</summary>
    public int Port => ((IPEndPoint)_listener.LocalEndpoint).Port;

    /// <summary>Requests answered so far, exceptions included.</summary>
    public long Requests => Interlocked.Read(ref _requests);

    /// <summary>Connections that were taken so far.</summary>
    public long Connections => Interlocked.Read(ref _connections);

    /// <summary>Clients connected now.</summary>
    public int Clients
    {
        get
        {
            lock (_lock)
                return _clients.Count;
        }
    }

    /// <summary>Starts a device.</summary>
    /// <param name="units">The saws by unit identifier, each with its layout.</param>
    /// <param name="port">TCP port, 0 for any free one.</param>
    /// <param name="address">Where to listen; loopback where not stated.</param>
    /// <param name="maximumClients">Connections at a time; a further one is closed at once, as small controllers do.</param>
    /// <exception cref="SocketException">The port cannot be had.</exception>
    public static ModbusTcpServer Start(IReadOnlyDictionary<byte, ModbusUnit> units, int port = 0, IPAddress? address = null, int maximumClients = 32)
    {
        var listener = new TcpListener(address ?? IPAddress.Loopback, port);
        listener.Start();
        return new(listener, units.ToDictionary(unit => unit.Key, unit => new Unit(unit.Value)), maximumClients);
    }

    /// <inheritdoc/>
    public async ValueTask DisposeAsync()
    {
        await _stop.CancelAsync();
        await _accepting;
        _listener.Dispose();
        Task[] clients;
        lock (_lock)
            clients = [.. _clients];
        await Task.WhenAll(clients);
        _stop.Dispose();
    }

    private async Task AcceptAsync(CancellationToken stop)
    {
        while (!stop.IsCancellationRequested)
        {
            TcpClient client;
            try
            {
                client = await _listener.AcceptTcpClientAsync(stop);
            }
            catch (Exception e) when (e is OperationCanceledException or ObjectDisposedException)
            {
                return;
            }
            catch (SocketException)
            {
                // A client that gave up while it was being accepted; the listener itself stands.
                continue;
            }

            client.NoDelay = true;
            lock (_lock)
            {
                if (_clients.Count >= _maximumClients)
                {
                    client.Dispose();
                    continue;
                }

                Interlocked.Increment(ref _connections);
                var serving = ServeAsync(client, stop);
                _clients.Add(serving);
                _ = serving.ContinueWith(Forget, CancellationToken.None, TaskContinuationOptions.None, TaskScheduler.Default);
            }
        }
    }

    private void Forget(Task serving)
    {
        lock (_lock)
            _clients.Remove(serving);
    }

    private async Task ServeAsync(TcpClient client, CancellationToken stop)
    {
        // Leaves the accept loop's lock before anything is read.
        await Task.Yield();
        using (client)
        {
            var stream = client.GetStream();
            var request = new byte[HeaderLength + ModbusAnswer.MaximumPdu];
            var answer = new byte[HeaderLength + ModbusAnswer.MaximumPdu];
            try
            {
                while (true)
                {
                    await stream.ReadExactlyAsync(request.AsMemory(0, HeaderLength), stop);
                    var protocol = BinaryPrimitives.ReadUInt16BigEndian(request.AsSpan(2));
                    var length = BinaryPrimitives.ReadUInt16BigEndian(request.AsSpan(4));
                    // The length counts the unit identifier and 1 to 253 bytes; anything else is no Modbus, and where
                    // the next frame begins cannot be known.
                    if (protocol != 0 || length is < 2 or > ModbusAnswer.MaximumPdu + 1)
                        return;
                    await stream.ReadExactlyAsync(request.AsMemory(HeaderLength, length - 1), stop);
                    var count = Answer(request.AsSpan(0, HeaderLength + length - 1), answer);
                    await stream.WriteAsync(answer.AsMemory(0, count), stop);
                }
            }
            catch (Exception e) when (e is IOException or OperationCanceledException or ObjectDisposedException)
            {
                // The client went away (EndOfStreamException is an IOException), or the server is being stopped.
            }
        }
    }

    private int Answer(ReadOnlySpan<byte> request, Span<byte> answer)
    {
        var pdu = answer[HeaderLength..];
        var count = _units.TryGetValue(request[6], out var unit)
            ? unit.Answer(request[HeaderLength..], pdu)
            : ModbusAnswer.WriteException(request[HeaderLength], ModbusAnswer.TargetFailedToRespond, pdu);
        request[..4].CopyTo(answer);
        BinaryPrimitives.WriteUInt16BigEndian(answer[4..], (ushort)(count + 1));
        answer[6] = request[6];
        Interlocked.Increment(ref _requests);
        return HeaderLength + count;
    }

    /// <summary>One unit's image, filled and read under one lock so that several clients cannot mix two moments.</summary>
    private sealed class Unit(ModbusUnit source)
    {
        private readonly RegisterImage _image = new(source.Layout);
        private readonly Lock _lock = new();

        public int Answer(ReadOnlySpan<byte> request, Span<byte> answer)
        {
            lock (_lock)
            {
                if (!source.Saw.TryRead(out var frame))
                    return ModbusAnswer.WriteException(request[0], ModbusAnswer.TargetFailedToRespond, answer);
                _image.Load(frame);
                return ModbusAnswer.Write(_image, request, answer);
            }
        }
    }
}

/// <summary>One unit of a virtual device.</summary>
/// <param name="Saw">The saw behind it.</param>
/// <param name="Layout">Where its signals lie.</param>
public sealed record ModbusUnit(IFrameSource Saw, RegisterLayout Layout);
