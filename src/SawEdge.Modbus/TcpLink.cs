using System.Globalization;
using System.Net.Sockets;

namespace SawEdge.Modbus;

/// <summary>Makes TCP connections, with messages that say what to check.</summary>
internal sealed class TcpLink
{
    private readonly ModbusTcpOptions _options;
    private readonly TimeProvider _time;
    private readonly string _service;

    /// <summary>Prepares to connect.</summary>
    /// <param name="options">Where to.</param>
    /// <param name="time">Paces the timeout.</param>
    /// <param name="service">What should listen there, for messages.</param>
    /// <exception cref="ArgumentException">An option is out of its range.</exception>
    public TcpLink(ModbusTcpOptions options, TimeProvider time, string service)
    {
        ArgumentException.ThrowIfNullOrWhiteSpace(options.Host);
        ArgumentOutOfRangeException.ThrowIfLessThan(options.Port, 1);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(options.Port, ushort.MaxValue);
        ArgumentOutOfRangeException.ThrowIfLessThanOrEqual(options.ConnectTimeout, TimeSpan.Zero);
        ArgumentOutOfRangeException.ThrowIfLessThanOrEqual(options.ResponseTimeout, TimeSpan.Zero);
        ArgumentOutOfRangeException.ThrowIfLessThan(options.Pause, TimeSpan.Zero);
        ArgumentOutOfRangeException.ThrowIfLessThan(options.KeepAliveTime, TimeSpan.FromSeconds(1));
        ArgumentOutOfRangeException.ThrowIfLessThan(options.KeepAliveInterval, TimeSpan.FromSeconds(1));
        ArgumentOutOfRangeException.ThrowIfLessThan(options.KeepAliveRetries, 1);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(options.KeepAliveRetries, 127);
        _options = options;
        _time = time;
        _service = service;
        Endpoint = string.Create(CultureInfo.InvariantCulture, $"{(options.Host.Contains(':', StringComparison.Ordinal) ? $"[{options.Host}]" : options.Host)}:{options.Port}");
    }

    /// <summary>Host and port.</summary>
    public string Endpoint { get; }

    /// <summary>Connects.</summary>
    /// <exception cref="ModbusConnectionException">The device cannot be reached.</exception>
    public async ValueTask<Socket> OpenAsync(ReadRequest? request, CancellationToken cancellation)
    {
        var socket = new Socket(SocketType.Stream, ProtocolType.Tcp) { NoDelay = true };
        using var timeout = new CancellationTokenSource(_options.ConnectTimeout, _time);
        using var either = CancellationTokenSource.CreateLinkedTokenSource(cancellation, timeout.Token);
        try
        {
            await socket.ConnectAsync(_options.Host, _options.Port, either.Token);
            KeepAlive(socket);
            return socket;
        }
        catch (SocketException e)
        {
            socket.Dispose();
            throw new ModbusConnectionException(Endpoint, request, Explain(e), e);
        }
        catch (OperationCanceledException e) when (!cancellation.IsCancellationRequested)
        {
            socket.Dispose();
            var text = string.Create(CultureInfo.InvariantCulture, $"no connection within {_options.ConnectTimeout.TotalSeconds:0.###} s. Check the address, the cable, the device's power, and firewalls on the way.");
            throw new ModbusConnectionException(Endpoint, request, text, e);
        }
        catch
        {
            socket.Dispose();
            throw;
        }
    }

    private void KeepAlive(Socket socket)
    {
        socket.SetSocketOption(SocketOptionLevel.Socket, SocketOptionName.KeepAlive, true);
        socket.SetSocketOption(SocketOptionLevel.Tcp, SocketOptionName.TcpKeepAliveTime, (int)_options.KeepAliveTime.TotalSeconds);
        socket.SetSocketOption(SocketOptionLevel.Tcp, SocketOptionName.TcpKeepAliveInterval, (int)_options.KeepAliveInterval.TotalSeconds);
        socket.SetSocketOption(SocketOptionLevel.Tcp, SocketOptionName.TcpKeepAliveRetryCount, _options.KeepAliveRetries);
    }

    private string Explain(SocketException e) => e.SocketErrorCode switch
    {
        SocketError.ConnectionRefused =>
            $"the connection was refused: nothing listens there, or the device has no connection left. Check that {_service} is switched on, the port, and how many clients it allows.",
        SocketError.HostNotFound or SocketError.NoData or SocketError.TryAgain =>
            "the host name is not known. Check its spelling and the name server, or use the address.",
        SocketError.HostUnreachable or SocketError.NetworkUnreachable =>
            "there is no way to this address. Check the cable, the address and mask, and the route.",
        SocketError.TimedOut =>
            "the device does not take the connection. Check the address, the cable, the device's power, and firewalls on the way.",
        _ =>
            $"the connection failed ({e.Message}). Check the address, the network and the device's power.",
    };
}
