using System.Globalization;
using System.Text.Json;

namespace SawEdge.TestSupport;

/// <summary>A real victoria-metrics on a free loopback port: an independent server that speaks the v2 write path. It takes garbage too, so it is no test of refusals; it keeps numbers, not texts.</summary>
public sealed class VictoriaServer : IAsyncDisposable
{
    private readonly TempFolder _folder = new();
    private readonly HttpClient _http = new();
    private readonly int _port = Peer.FreePort();
    private Peer? _peer;

    private VictoriaServer()
    {
    }

    /// <summary>The program it needs, for <see cref="PeerFactAttribute"/>.</summary>
    public const string Program = "victoria-metrics";

    /// <summary>Where it listens.</summary>
    public Uri Url => new(string.Create(CultureInfo.InvariantCulture, $"http://127.0.0.1:{_port}"));

    /// <summary>Starts it.</summary>
    public static async Task<VictoriaServer> StartAsync()
    {
        var server = new VictoriaServer();
        try
        {
            // A long retention: tests write cuts of any year.
            server._peer = Peer.Start(Program, [$"-storageDataPath={server._folder.File("data")}", $"-httpListenAddr=127.0.0.1:{server._port.ToString(CultureInfo.InvariantCulture)}", "-retentionPeriod=100y"]);
            await server._peer.ListensAsync(server._port);
            return server;
        }
        catch
        {
            await server.DisposeAsync();
            throw;
        }
    }

    /// <summary>Every sample of a metric.</summary>
    /// <param name="metric">Name: measurement, underscore, field.</param>
    /// <returns>For each series its labels and its values by time, ms since 1970. A point written twice is there twice.</returns>
    public async Task<IReadOnlyList<(IReadOnlyDictionary<string, string> Labels, IReadOnlyList<(long Time, double Value)> Samples)>> ExportAsync(string metric)
    {
        // New samples are searchable only after a flush.
        (await _http.GetAsync(new Uri(Url, "/internal/force_flush"))).EnsureSuccessStatusCode().Dispose();
        var text = await _http.GetStringAsync(new Uri(Url, $"/api/v1/export?match[]={Uri.EscapeDataString(metric)}&start=1"));
        var series = new List<(IReadOnlyDictionary<string, string>, IReadOnlyList<(long, double)>)>();
        foreach (var line in text.Split('\n', StringSplitOptions.RemoveEmptyEntries))
        {
            using var document = JsonDocument.Parse(line);
            var labels = document.RootElement.GetProperty("metric").EnumerateObject().ToDictionary(label => label.Name, label => label.Value.GetString()!, StringComparer.Ordinal);
            var times = document.RootElement.GetProperty("timestamps").EnumerateArray().Select(time => time.GetInt64());
            var values = document.RootElement.GetProperty("values").EnumerateArray().Select(value => value.GetDouble());
            series.Add((labels, [.. times.Zip(values)]));
        }

        return series;
    }

    /// <inheritdoc/>
    public async ValueTask DisposeAsync()
    {
        if (_peer is not null)
            await _peer.DisposeAsync();
        _http.Dispose();
        _folder.Dispose();
    }
}
