using System.Globalization;

namespace SawEdge.TestSupport;

/// <summary>
/// A real MQTT broker on a free loopback port. Its queue limits are set on purpose: by default it keeps 1,000 messages for a
/// client that is behind and drops what comes after without a word, with quality of service 1 too.
/// </summary>
public sealed class MosquittoBroker : IAsyncDisposable
{
    private readonly TempFolder _folder = new();
    private readonly List<string> _settings;
    private Peer? _peer;

    private MosquittoBroker(int port, IEnumerable<string> settings)
    {
        Port = port;
        _settings = [.. settings];
    }

    /// <summary>TCP port on loopback.</summary>
    public int Port { get; }

    /// <summary>Everything it printed since its last start.</summary>
    public string Output => _peer?.Output ?? "";

    /// <summary>Starts a broker that lets everybody in, unless its settings name a file of passwords.</summary>
    /// <param name="port">The port, or null for a free one.</param>
    /// <param name="settings">Further lines of its configuration.</param>
    public static async Task<MosquittoBroker> StartAsync(int? port = null, params string[] settings)
    {
        var broker = new MosquittoBroker(port ?? Peer.FreePort(), [settings.Any(line => line.StartsWith("password_file ", StringComparison.Ordinal)) ? "allow_anonymous false" : "allow_anonymous true", .. settings]);
        await broker.StartAgainAsync();
        return broker;
    }

    /// <summary>Starts a broker that lets in one user.</summary>
    /// <param name="user">User name.</param>
    /// <param name="password">Password.</param>
    /// <param name="settings">Further lines of its configuration.</param>
    public static async Task<MosquittoBroker> StartWithUserAsync(string user, string password, params string[] settings)
    {
        var broker = new MosquittoBroker(Peer.FreePort(), settings);
        await broker.SetPasswordAsync(user, password);
        broker._settings.AddRange(["allow_anonymous false", $"password_file {broker._folder.File("passwords")}"]);
        await broker.StartAgainAsync();
        return broker;
    }

    /// <summary>Starts a broker that speaks TLS and nothing else.</summary>
    /// <param name="authority">The authority whose clients it trusts.</param>
    /// <param name="certificate">The certificate that it shows, and its key.</param>
    /// <param name="wantsCertificate">Whether clients must show one.</param>
    /// <param name="settings">Further lines of its configuration.</param>
    public static Task<MosquittoBroker> StartSecuredAsync(PlantAuthority authority, (string Certificate, string Key) certificate, bool wantsCertificate = false, params string[] settings) => StartAsync(
        null,
        [
            $"cafile {authority.RootFile}",
            $"certfile {certificate.Certificate}",
            $"keyfile {certificate.Key}",
            $"require_certificate {(wantsCertificate ? "true" : "false")}",
            .. settings,
        ]);

    /// <summary>Sets the password of its one user; counts from the next start.</summary>
    public async Task SetPasswordAsync(string user, string password)
    {
        var (exit, output) = await Peer.RunAsync("mosquitto_passwd", ["-b", "-c", _folder.File("passwords"), user, password]);
        if (exit != 0)
            throw new InvalidOperationException(output);
    }

    /// <summary>Writes a file beside its configuration, for a setting to name.</summary>
    /// <returns>The file's path.</returns>
    public string WriteFile(string name, string content)
    {
        File.WriteAllText(_folder.File(name), content);
        return _folder.File(name);
    }

    /// <summary>Adds lines to its configuration; they count from the next start.</summary>
    public void AddSettings(params string[] settings) => _settings.AddRange(settings);

    /// <summary>Starts it again on the same port, after <see cref="KillAsync"/>.</summary>
    public async Task StartAgainAsync()
    {
        var configuration = _folder.File("mosquitto.conf");

        // Some settings may stand there once only.
        string[] usual = ["persistence false", "max_queued_messages 100000", "max_inflight_messages 100"];
        await File.WriteAllLinesAsync(
            configuration,
            [
                string.Create(CultureInfo.InvariantCulture, $"listener {Port} 127.0.0.1"),
                .. usual.Where(line => !_settings.Exists(other => other.StartsWith(line.Split(' ')[0] + " ", StringComparison.Ordinal))),
                "log_type all",

                // Its other stream is held back until a block is full.
                "log_dest stderr",

                // Started by root it would become another user, who cannot read the files of this test.
                $"user {Environment.UserName}",
                .. _settings,
            ]);
        _peer = Peer.Start("mosquitto", ["-c", configuration]);
        await _peer.ListensAsync(Port);
    }

    /// <summary>Ends it at once, as a power cut would.</summary>
    public async Task KillAsync()
    {
        if (_peer is not null)
            await _peer.DisposeAsync();
        _peer = null;
    }

    /// <summary>Publishes with mosquitto_pub, quality of service 1.</summary>
    /// <param name="topic">The topic.</param>
    /// <param name="payload">The payload; null publishes an empty one.</param>
    /// <param name="arguments">Further arguments, for example <c>-r</c> or <c>-u</c>.</param>
    public async Task PublishAsync(string topic, string? payload, params string[] arguments)
    {
        string[] content = payload is null ? ["-n"] : ["-m", payload];
        var (exit, output) = await Peer.RunAsync("mosquitto_pub", ["-h", "127.0.0.1", "-p", Port.ToString(CultureInfo.InvariantCulture), "-q", "1", "-t", topic, .. content, .. arguments]);
        if (exit != 0)
            throw new InvalidOperationException(output);
    }

    /// <inheritdoc/>
    public async ValueTask DisposeAsync()
    {
        await KillAsync();
        _folder.Dispose();
    }
}
