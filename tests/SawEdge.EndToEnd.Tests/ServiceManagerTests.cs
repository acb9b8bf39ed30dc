using System.Net.Sockets;
using System.Text;
using SawEdge.EndToEnd.Tests.Support;
using SawEdge.TestSupport;

namespace SawEdge.EndToEnd.Tests;

/// <summary>What the service manager hears over its socket (sd_notify(3)), where the gateway cannot see the service manager's process.</summary>
public sealed class ServiceManagerTests
{
    [Fact]
    public async Task Run_WithANotifySocket_SaysThatItIsReady_LivesAndEnds()
    {
        using var folder = new GatewayFolder();
        folder.WithDevice("plc", Peer.FreePort()).WithSaw("north", "plc", 1).Write();
        using var socket = new Socket(AddressFamily.Unix, SocketType.Dgram, ProtocolType.Unspecified);
        socket.Bind(new UnixDomainSocketEndPoint(folder.File("notify")));
        await using var gateway = GatewayProcess.Run(folder.Configuration, new Dictionary<string, string> { ["NOTIFY_SOCKET"] = folder.File("notify"), ["WATCHDOG_USEC"] = "3000000" });

        var heard = new List<string>();
        await HearsAsync("READY=1");
        await HearsAsync("WATCHDOG=1");
        var ends = gateway.EndAsync();
        await HearsAsync("STOPPING=1");
        Assert.Equal(0, await ends);

        async Task HearsAsync(string state)
        {
            var buffer = new byte[4096];
            using var patience = new CancellationTokenSource(TimeSpan.FromMinutes(3));
            try
            {
                while (!heard.Contains(state))
                    heard.AddRange(Encoding.UTF8.GetString(buffer, 0, await socket.ReceiveAsync(buffer, patience.Token)).Split('\n'));
            }
            catch (OperationCanceledException)
            {
                Assert.Fail($"'{state}' was not heard, but {string.Join(", ", heard)}; the gateway's log is:\n{gateway.Output}");
            }
        }
    }
}
