using System.Globalization;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Acquisition.Sparkplug;

/// <summary>An edge node that is not ours, told what to do: <c>Peers/edge_node.py</c>.</summary>
internal sealed class EdgeNode : IAsyncDisposable
{
    /// <summary>The interpreter that the distribution's packages belong to.</summary>
    public const string Python = "/usr/bin/python3";

    /// <summary>Where the distribution installs Google's protobuf for Python.</summary>
    public const string Protobuf = "/usr/lib/python3/dist-packages/google/protobuf/__init__.py";

    /// <summary>Where the distribution installs paho-mqtt.</summary>
    public const string Paho = "/usr/lib/python3/dist-packages/paho/mqtt/client.py";

    private readonly Peer _peer;

    private EdgeNode(Peer peer) => _peer = peer;

    /// <summary>Everything it printed.</summary>
    public string Output => _peer.Output;

    private static string Script => Path.Combine(AppContext.BaseDirectory, "Peers", "edge_node.py");

    /// <summary>Starts it and waits until it is connected.</summary>
    /// <param name="port">Port of the broker.</param>
    /// <param name="number">Its birth and death number.</param>
    /// <param name="answers">Whether it is born again when it is asked to.</param>
    /// <param name="node">Its identifier.</param>
    public static async Task<EdgeNode> StartAsync(int port, int number = 0, bool answers = false, string node = "hall-2")
    {
        var peer = Peer.Start(Python, [Script, port.ToString(CultureInfo.InvariantCulture), "Riverbend", node, number.ToString(CultureInfo.InvariantCulture), answers ? "answer" : "silent"]);
        await peer.PrintsAsync("connected");
        return new EdgeNode(peer);
    }

    /// <summary>Encodes payloads.</summary>
    public static async Task<byte[][]> EncodeAsync(params string[] payloads)
    {
        await using var peer = Peer.Start(Python, [Script, "encode"]);
        foreach (var payload in payloads)
            await peer.TellAsync(payload);
        await Until.TrueAsync(() => peer.Output.Split('\n', StringSplitOptions.RemoveEmptyEntries).Length >= payloads.Length, () => $"{payloads.Length} payloads; it printed:\n{peer.Output}");
        return [.. peer.Output.Split('\n', StringSplitOptions.RemoveEmptyEntries).Select(Convert.FromHexString)];
    }

    /// <summary>Tells it what to do; see the script.</summary>
    public Task TellAsync(string order) => _peer.TellAsync(order);

    /// <summary>Waits until it has printed a text.</summary>
    public Task PrintsAsync(string text) => _peer.PrintsAsync(text);

    /// <summary>Ends it at once, as a power cut would: the broker publishes its last will.</summary>
    public Task KillAsync() => _peer.KillAsync();

    public ValueTask DisposeAsync() => _peer.DisposeAsync();
}
