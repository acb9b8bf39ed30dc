using System.Net;
using System.Net.Sockets;
using MQTTnet.Server;

namespace SawEdge.Gateway.Commands.Demo;

/// <summary>A broker inside the process, on loopback, for the virtual saw that publishes.</summary>
internal sealed class EmbeddedBroker : IAsyncDisposable
{
    private readonly MqttServer _server;

    private EmbeddedBroker(MqttServer server, int port)
    {
        _server = server;
        Port = port;
    }

    /// <summary>Its port.</summary>
    public int Port { get; }

    /// <summary>Starts a broker on a free port.</summary>
    public static async Task<EmbeddedBroker> StartAsync()
    {
        var port = FreePort();
        var server = new MqttServerFactory().CreateMqttServer(new MqttServerOptionsBuilder()
            .WithDefaultEndpoint()
            .WithDefaultEndpointBoundIPAddress(IPAddress.Loopback)
            .WithDefaultEndpointBoundIPV6Address(IPAddress.None)
            .WithDefaultEndpointPort(port)
            .Build());
        await server.StartAsync();
        return new EmbeddedBroker(server, port);
    }

    /// <inheritdoc/>
    public async ValueTask DisposeAsync()
    {
        await _server.StopAsync();
        _server.Dispose();
    }

    /// <summary>A port on loopback that is free now: who is given one cannot always be asked which.</summary>
    public static int FreePort()
    {
        using var listener = new TcpListener(IPAddress.Loopback, 0);
        listener.Start();
        return ((IPEndPoint)listener.LocalEndpoint).Port;
    }
}
