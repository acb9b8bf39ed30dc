using System.Net;
using System.Net.Sockets;

namespace SawEdge.Modbus.Tests;

/// <summary>A device that answers twenty registers to everything, on a thread of its own and without allocating.</summary>
internal sealed class EchoingDevice : IAsyncDisposable
{
    private readonly TcpListener _listener = new(IPAddress.Loopback, 0);
    private readonly Task _serving;
    private Socket? _client;

    public EchoingDevice()
    {
        _listener.Start();
        _serving = Task.Factory.StartNew(Serve, CancellationToken.None, TaskCreationOptions.LongRunning, TaskScheduler.Default);
    }

    public int Port => ((IPEndPoint)_listener.LocalEndpoint).Port;

    public async ValueTask DisposeAsync()
    {
        _listener.Dispose();
        _client?.Dispose();
        await _serving;
    }

    private void Serve()
    {
        var request = new byte[12];
        var answer = new byte[49];
        answer[5] = 43;
        answer[6] = 1;
        answer[7] = 3;
        answer[8] = 40;
        answer[9] = 1;
        answer[10] = 2;
        try
        {
            _client = _listener.AcceptSocket();
            _client.NoDelay = true;
            while (_client.Receive(request) == request.Length)
            {
                answer[0] = request[0];
                answer[1] = request[1];
                _client.Send(answer);
            }
        }
        catch (Exception e) when (e is SocketException or ObjectDisposedException)
        {
            // The test is over.
        }
    }
}
