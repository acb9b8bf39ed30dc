using System.Globalization;
using System.Net.NetworkInformation;
using SawEdge.TestSupport;

namespace SawEdge.Modbus.Tests.Peers;

/// <summary>Two pseudo terminals joined like the ends of a serial cable. A pseudo terminal has no parity and no speed; bytes pass as they are.</summary>
public sealed class SerialCable : IAsyncDisposable
{
    private readonly Peer _socat;
    private readonly Peer _hands;

    private SerialCable(Peer socat, string near, string far)
    {
        _socat = socat;

        // A pseudo terminal that nobody holds open ends its other side; a cable does not.
        _hands = Peer.Start("sh", ["-c", "exec sleep infinity <\"$1\" 3<\"$2\"", "hands", near, far]);
        Near = near;
        Far = far;
    }

    /// <summary>The end where the reader is.</summary>
    public string Near { get; }

    /// <summary>The end where the units are.</summary>
    public string Far { get; }

    /// <summary>Lays a cable whose ends have names in a folder.</summary>
    public static async Task<SerialCable> LayAsync(TempFolder folder)
    {
        var near = folder.File("near");
        var far = folder.File("far");
        var socat = Peer.Start(ModbusPeers.Socat, [$"pty,raw,echo=0,link={near}", $"pty,raw,echo=0,link={far}"]);
        await Until.TrueAsync(() => File.Exists(near) && File.Exists(far), () => $"both ends are there; it printed {socat.Output}");
        return new SerialCable(socat, near, far);
    }

    /// <summary>Puts a serial server at an end of a cable: whatever comes over its TCP port goes over the line, and back.</summary>
    public static async Task<Peer> ServeAsync(int port, string line)
    {
        var server = Peer.Start(ModbusPeers.Socat, [string.Create(CultureInfo.InvariantCulture, $"TCP-LISTEN:{port},bind=127.0.0.1,reuseaddr"), $"{line},raw,echo=0"]);

        // It takes one connection and no other, so that trying one would use it up.
        await Until.TrueAsync(
            () => IPGlobalProperties.GetIPGlobalProperties().GetActiveTcpListeners().Any(listener => listener.Port == port),
            () => $"the serial server listens; it printed {server.Output}");
        return server;
    }

    /// <summary>Pulls it out: both ends vanish.</summary>
    public async Task PullAsync()
    {
        await _hands.KillAsync();
        await _socat.KillAsync();
        File.Delete(Near);
        File.Delete(Far);
    }

    public async ValueTask DisposeAsync()
    {
        await PullAsync();
        await _hands.DisposeAsync();
        await _socat.DisposeAsync();
    }
}
