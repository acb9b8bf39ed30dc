using System.Globalization;
using System.Net;
using System.Text;
using System.Text.Json;

namespace SawEdge.TestSupport;

/// <summary>A real influxd (1.x) on a free loopback port with a folder of its own; can be stopped and started again in the middle of a test.</summary>
public sealed class InfluxServer : IAsyncDisposable
{
    private readonly TempFolder _folder = new();
    private readonly HttpClient _http = new();
    private readonly int _port = Peer.FreePort();
    private readonly bool _authentication;
    private readonly string _data;
    private Peer? _peer;

    private InfluxServer(bool authentication, string? folder)
    {
        _authentication = authentication;
        _data = folder ?? _folder.Path;
    }

    /// <summary>The program it needs, for <see cref="PeerFactAttribute"/>.</summary>
    public const string Program = "influxd";

    /// <summary>Where it listens.</summary>
    public Uri Url => new(string.Create(CultureInfo.InvariantCulture, $"http://127.0.0.1:{_port}"));

    /// <summary>Starts it and creates a database.</summary>
    /// <param name="database">Name of the database.</param>
    /// <param name="user">A user to create, or null: no authentication.</param>
    /// <param name="password">The user's password.</param>
    /// <param name="folder">Where its data lie, for example on a small disk; a folder of its own where not stated.</param>
    public static async Task<InfluxServer> StartAsync(string? database, string? user = null, string? password = null, string? folder = null)
    {
        var server = new InfluxServer(authentication: user is not null, folder);
        try
        {
            await server.StartAgainAsync();
            if (user is not null)
            {
                await server.QueryAsync($"CREATE USER \"{user}\" WITH PASSWORD '{password}' WITH ALL PRIVILEGES");
                server._http.DefaultRequestHeaders.Authorization = new("Basic", Convert.ToBase64String(Encoding.UTF8.GetBytes($"{user}:{password}")));
            }

            if (database is not null)
                await server.QueryAsync($"CREATE DATABASE \"{database}\"");
            return server;
        }
        catch
        {
            await server.DisposeAsync();
            throw;
        }
    }

    /// <summary>Ends it at once, as a power cut would.</summary>
    public async Task KillAsync()
    {
        if (_peer is not null)
            await _peer.DisposeAsync();
        _peer = null;
    }

    /// <summary>Ends it as a service manager does, and waits for that.</summary>
    public async Task StopAsync()
    {
        if (_peer is null)
            return;
        await _peer.SignalAsync("TERM");
        await _peer.ExitsAsync();
        await KillAsync();
    }

    /// <summary>Makes it stand still where it is: connections stay, and nothing answers.</summary>
    public Task FreezeAsync() => _peer?.SignalAsync("STOP") ?? Task.CompletedTask;

    /// <summary>Lets it go on.</summary>
    public Task ThawAsync() => _peer?.SignalAsync("CONT") ?? Task.CompletedTask;

    /// <summary>Starts it again on the same port with the same data.</summary>
    public async Task StartAgainAsync()
    {
        var configuration = _folder.File("influxdb.conf");
        await File.WriteAllTextAsync(configuration, string.Create(CultureInfo.InvariantCulture, $"""
            reporting-disabled = true
            bind-address = "127.0.0.1:{Peer.FreePort()}"
            [meta]
              dir = "{Path.Combine(_data, "meta")}"
            [data]
              dir = "{Path.Combine(_data, "data")}"
              wal-dir = "{Path.Combine(_data, "wal")}"
              query-log-enabled = false
            [monitor]
              store-enabled = false
            [http]
              bind-address = "127.0.0.1:{_port}"
              log-enabled = false
              auth-enabled = {(_authentication ? "true" : "false")}
            """));
        _peer = Peer.Start(Program, ["-config", configuration]);
        await _peer.ListensAsync(_port);

        // It hears before it answers: whoever asks too early is cut off.
        await Until.TrueAsync(AnswersAsync, () => $"the server answers; it printed {_peer.Output}");
    }

    private async Task<bool> AnswersAsync()
    {
        try
        {
            using var answer = await _http.GetAsync(new Uri(Url, "/ping"));
            return answer.IsSuccessStatusCode;
        }
        catch (HttpRequestException)
        {
            return false;
        }
    }

    /// <summary>Asks InfluxQL.</summary>
    /// <returns>The rows of all series, with the tags by which they were grouped; empty where there is none.</returns>
    /// <exception cref="InvalidOperationException">The server refused; the message holds its words.</exception>
    public async Task<IReadOnlyList<IReadOnlyDictionary<string, JsonElement>>> QueryAsync(string query, string? database = null)
    {
        using var content = new FormUrlEncodedContent([new("q", query)]);
        var address = new Uri(Url, database is null ? "/query?epoch=ms" : $"/query?epoch=ms&db={Uri.EscapeDataString(database)}");
        using var response = await _http.PostAsync(address, content);
        var text = await response.Content.ReadAsStringAsync();
        if (response.StatusCode != HttpStatusCode.OK)
            throw new InvalidOperationException($"{query}: {response.StatusCode}: {text}");

        using var document = JsonDocument.Parse(text);
        var result = document.RootElement.GetProperty("results")[0];
        if (result.TryGetProperty("error", out var error))
            throw new InvalidOperationException($"{query}: {error}");
        if (!result.TryGetProperty("series", out var series))
            return [];
        return [.. series.EnumerateArray().SelectMany(Rows)];
    }

    /// <summary>Asks InfluxQL for a single number.</summary>
    /// <returns>The number in the last column of the first row; 0 where there is none.</returns>
    public async Task<double> NumberAsync(string query, string database)
    {
        var rows = await QueryAsync(query, database);
        return rows.Count == 0 ? 0 : rows[0].Last().Value.GetDouble();
    }

    /// <inheritdoc/>
    public async ValueTask DisposeAsync()
    {
        await KillAsync();
        _http.Dispose();
        _folder.Dispose();
    }

    // A series that was grouped by tags names them beside its columns.
    private static IEnumerable<IReadOnlyDictionary<string, JsonElement>> Rows(JsonElement series)
    {
        var columns = series.GetProperty("columns").EnumerateArray().Select(column => column.GetString()!).ToList();
        var tags = series.TryGetProperty("tags", out var given) ? given.EnumerateObject().ToDictionary(tag => tag.Name, tag => tag.Value.Clone(), StringComparer.Ordinal) : [];
        foreach (var row in series.GetProperty("values").EnumerateArray())
        {
            var cells = new Dictionary<string, JsonElement>(tags, StringComparer.Ordinal);
            foreach (var (column, cell) in columns.Zip(row.EnumerateArray()))
                cells[column] = cell.Clone();
            yield return cells;
        }
    }
}
