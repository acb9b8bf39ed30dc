using System.Net.Http.Headers;
using System.Net.Http.Json;
using System.Text;
using System.Text.Json.Nodes;
using SawEdge.Core.Alarms;
using SawEdge.Gateway.Api;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Formats;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Tests.Configuration;
using SawEdge.Gateway.Tests.History;
using SawEdge.Gateway.Tests.Hosting;
using SawEdge.Gateway.Tests.Processing.Alarms;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Api;

/// <summary>Page and API on a real server with a real history and a real desk behind them; two saws, north and south.</summary>
internal sealed class RunningApi : IAsyncDisposable
{
    private readonly CancellationTokenSource _stop = new();
    private readonly List<HttpClient> _clients = [];
    private readonly List<Task> _serving = [];
    private RunningDesk? _desk;

    private RunningApi()
    {
    }

    public RunningHistory History { get; } = new();

    public LogCollector Log { get; } = new();

    public required Uri Address { get; set; }

    public RunningDesk Desk => _desk!;

    /// <summary>Starts one.</summary>
    /// <param name="http">Where it listens; null: a free port on loopback.</param>
    /// <param name="change">What else is configured.</param>
    /// <param name="clock">The wall clock; the real one unless told.</param>
    public static async Task<RunningApi> StartAsync(HttpOptions? http = null, Func<GatewayOptions, GatewayOptions>? change = null, TimeProvider? clock = null)
    {
        var api = new RunningApi { Address = null! };
        var time = clock ?? TimeProvider.System;
        api._desk = new RunningDesk(api.History.Reader, api.History.Writer, TimeProvider.System);
        var options = Sample.Load(Sample.With(("saws[0].name", "\"north\""), ("saws[1].name", "\"south\""), ("timeZone", "\"UTC\""))).Options() with
        {
            DataFolder = api.History.Folder,
            Http = http ?? new HttpOptions { Listen = new Uri("http://127.0.0.1:0") },
        };
        options = change?.Invoke(options) ?? options;
        var context = new ApiContext { Options = options, Reader = api.History.Reader, Writer = api.History.Writer, Time = time, Machine = time, Loggers = api.Log };
        var hosts = ApiHost.Build(context, options.Alarms.AnswerLinks is null ? null : new LinkSigner(new byte[32]));
        api._serving.AddRange(hosts.Select(host => host.RunAsync(api._stop.Token)));
        await Until.TrueAsync(() => hosts[0].Address is not null || api._serving.Exists(task => task.IsFaulted), "it listens");
        api.Address = hosts[0].Address!;
        return api;
    }

    /// <summary>An address as people reach the gateway from outside: then a token is needed from this machine, too.</summary>
    public static HttpOptions BehindAnother => new() { Listen = new Uri("http://127.0.0.1:0"), Public = new Uri("https://saws.riverbend.example/") };

    /// <summary>A browser or program that uses it.</summary>
    public HttpClient Client(string? token = null, HttpMessageHandler? handler = null)
    {
        var client = new HttpClient(handler ?? new SocketsHttpHandler { AllowAutoRedirect = false, UseCookies = false }) { BaseAddress = Address };
        if (token is not null)
            client.DefaultRequestHeaders.Authorization = new AuthenticationHeaderValue("Bearer", token);
        _clients.Add(client);
        return client;
    }

    /// <summary>Makes a token.</summary>
    public string Token(string name, ApiRole role, DateTimeOffset? expires = null)
    {
        var token = ApiToken.Make();
        Assert.True(TokenRows.Make(History.Folder, name, ApiToken.WordOf(role), ApiToken.Hash(token), expires, new AuditEntry("test", AuditEntry.Command, "token.make", name), TimeProvider.System.GetUtcNow()));
        return token;
    }

    /// <summary>Raises an alarm of north.</summary>
    public async Task<Alarm> RaiseAsync()
    {
        Desk.Queue.Offer(RunningDesk.Change(true, TimeProvider.System.GetUtcNow()));
        await Until.TrueAsync(async () => await History.Reader.AlarmAsync(1) is not null, "the alarm is raised");
        return (await History.Reader.AlarmAsync(1))!;
    }

    /// <summary>Sends JSON.</summary>
    public static StringContent Json(string json) => new(json, Encoding.UTF8, "application/json");

    /// <summary>The JSON of an answer.</summary>
    public static async Task<JsonNode> ReadAsync(HttpResponseMessage response) => (await response.Content.ReadFromJsonAsync<JsonNode>())!;

    /// <summary>What is wrong with which parameter, as an answer says it.</summary>
    public static async Task<IReadOnlyDictionary<string, string>> ErrorsAsync(HttpResponseMessage response)
    {
        Assert.Equal("application/problem+json", response.Content.Headers.ContentType!.MediaType);
        var problem = await ReadAsync(response);
        Assert.Equal((int)response.StatusCode, problem["status"]!.GetValue<int>());
        return problem["errors"]!.AsArray().ToDictionary(error => error!["parameter"]!.GetValue<string>(), error => error!["detail"]!.GetValue<string>());
    }

    public async ValueTask DisposeAsync()
    {
        await _stop.CancelAsync();
        foreach (var serving in _serving)
            await Assert.ThrowsAnyAsync<OperationCanceledException>(() => serving);
        foreach (var client in _clients)
            client.Dispose();
        await Desk.DisposeAsync();
        await History.DisposeAsync();
        _stop.Dispose();
    }
}
