using System.Net;
using System.Net.Http.Headers;
using System.Net.NetworkInformation;
using System.Net.Sockets;
using System.Text.Json.Nodes;
using Microsoft.Extensions.Time.Testing;
using SawEdge.Gateway.Api;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Api;

/// <summary>Who may do what, over real connections.</summary>
public sealed class ApiAccessTests
{
    private const string Period = "from=2026-03-02T00:00:00Z&to=2026-03-03T00:00:00Z";

    // Every endpoint: what a request looks like that reaches it, and the least role.
    private static readonly (string Method, string Route, string Path, string? Body, ApiRole Role)[] Endpoints =
    [
        ("GET", "/openapi.json", "/openapi.json", null, ApiRole.View),
        ("GET", "/site", "/site", null, ApiRole.View),
        ("GET", "/saws", "/saws", null, ApiRole.View),
        ("GET", "/saws/{name}", "/saws/north", null, ApiRole.View),
        ("GET", "/live", "/live", null, ApiRole.View),
        ("GET", "/cycles", "/cycles", null, ApiRole.View),
        ("GET", "/cycles/{id}", "/cycles/none", null, ApiRole.View),
        ("GET", "/oee", $"/oee?{Period}", null, ApiRole.View),
        ("GET", "/timeline", $"/timeline?saw=north&{Period}", null, ApiRole.View),
        ("GET", "/traces", "/traces?saw=north", null, ApiRole.View),
        ("GET", "/stops", $"/stops?{Period}", null, ApiRole.View),
        ("POST", "/stops/reasons", "/stops/reasons", "{}", ApiRole.Operate),
        ("DELETE", "/stops/reasons/{id}", "/stops/reasons/9", null, ApiRole.Operate),
        ("GET", "/scrap", $"/scrap?{Period}", null, ApiRole.View),
        ("POST", "/scrap", "/scrap", "{}", ApiRole.Operate),
        ("DELETE", "/scrap/{id}", "/scrap/9", null, ApiRole.Operate),
        ("GET", "/alarms", "/alarms", null, ApiRole.View),
        ("GET", "/alarms/{number}", "/alarms/9", null, ApiRole.View),
        ("GET", "/alarms/health", "/alarms/health", null, ApiRole.View),
        ("POST", "/alarms/{number}/acknowledge", "/alarms/9/acknowledge", "{}", ApiRole.Operate),
        ("POST", "/alarms/{number}/reset", "/alarms/9/reset", "{}", ApiRole.Operate),
        ("POST", "/alarms/{number}/shelve", "/alarms/9/shelve", "{}", ApiRole.Operate),
        ("POST", "/alarms/{number}/unshelve", "/alarms/9/unshelve", "{}", ApiRole.Operate),
        ("POST", "/alarms/{number}/comment", "/alarms/9/comment", "{}", ApiRole.Operate),
        ("POST", "/alarms/{number}/confirm", "/alarms/9/confirm", "{}", ApiRole.Operate),
        ("POST", "/alarms/{number}/reject", "/alarms/9/reject", "{}", ApiRole.Operate),
        ("GET", "/blades", "/blades", null, ApiRole.View),
        ("GET", "/blades/{saw}", "/blades/north", null, ApiRole.View),
        ("POST", "/blades/changes", "/blades/changes", "{}", ApiRole.Operate),
        ("GET", "/jobs", "/jobs", null, ApiRole.View),
        ("GET", "/export", "/export", null, ApiRole.View),
        ("GET", "/export/{table}", $"/export/cycles?{Period}", null, ApiRole.View),
        ("GET", "/audit", "/audit", null, ApiRole.Administer),
    ];

    [Fact]
    public async Task EveryRole_AtEveryEndpoint_GetsWhatItMay_AndNoEndpointIsForgotten()
    {
        await using var api = await RunningApi.StartAsync(RunningApi.BehindAnother);
        var tokens = Enum.GetValues<ApiRole>().ToDictionary(role => role, role => api.Token($"t-{role}", role));
        foreach (var (method, _, path, body, needed) in Endpoints)
        {
            Assert.Equal(HttpStatusCode.Unauthorized, await AskAsync(api.Client(), method, path, body));
            foreach (var (role, token) in tokens)
            {
                var status = await AskAsync(api.Client(token), method, path, body);
                if (role < needed)
                    Assert.Equal((path, HttpStatusCode.Forbidden), (path, status));
                else
                    Assert.True(status is HttpStatusCode.OK or HttpStatusCode.BadRequest or HttpStatusCode.NotFound or HttpStatusCode.Conflict, $"{method} {path} as {role}: {status}");
            }
        }

        using var document = await api.Client(tokens[ApiRole.View]).GetAsync("/api/v1/openapi.json");
        var paths = (await RunningApi.ReadAsync(document))["paths"]!.AsObject();
        var mapped = paths.SelectMany(path => path.Value!.AsObject().Select(operation => (Operation: $"{operation.Key.ToUpperInvariant()} {path.Key["/api/v1".Length..]}", Role: operation.Value!["description"]!.GetValue<string>())));
        Assert.Equal(
            Endpoints.Select(endpoint => ($"{endpoint.Method} {endpoint.Route}", $"Role: {ApiToken.WordOf(endpoint.Role)}.")).Order(),
            mapped.Order());
    }

    [Theory]
    [InlineData("sawedge_AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA")]
    [InlineData("sawedge_")]
    [InlineData("x")]
    [InlineData("' OR 1=1 --")]
    [InlineData("Größe")]
    public async Task Forged_IsRefused_AndNotRepeatedInTheLog(string token)
    {
        await using var api = await RunningApi.StartAsync();
        using var request = new HttpRequestMessage(HttpMethod.Get, "/api/v1/site");
        request.Headers.TryAddWithoutValidation("Authorization", $"Bearer {token}");
        using var client = new HttpClient(new SocketsHttpHandler { RequestHeaderEncodingSelector = (_, _) => System.Text.Encoding.UTF8 }) { BaseAddress = api.Address };
        using var answer = await client.SendAsync(request);

        // Here a token would not even be needed: whoever sends one is held to it.
        Assert.Equal(HttpStatusCode.Unauthorized, answer.StatusCode);
        Assert.Equal("Bearer", Assert.Single(answer.Headers.WwwAuthenticate).Scheme);
        Assert.Contains("none of this gateway's", (await RunningApi.ReadAsync(answer))["detail"]!.GetValue<string>(), StringComparison.Ordinal);
        if (token.Length > 3)
            Assert.DoesNotContain(api.Log.Entries, entry => entry.Text.Contains(token, StringComparison.Ordinal));
    }

    [Fact]
    public async Task OtherSchemes_AndTwoTokens_AreRefused()
    {
        await using var api = await RunningApi.StartAsync();
        var token = api.Token("office", ApiRole.View);
        foreach (var written in (string[])["Basic YTpi", token, $"Bearer {token} {token}", $"Bearer {token},Bearer {token}", "Bearer"])
        {
            using var request = new HttpRequestMessage(HttpMethod.Get, "/api/v1/site");
            request.Headers.TryAddWithoutValidation("Authorization", written);
            using var answer = await api.Client().SendAsync(request);
            Assert.Equal((written, HttpStatusCode.Unauthorized), (written, answer.StatusCode));
        }

        Assert.Equal(HttpStatusCode.OK, await AskAsync(api.Client(token), "GET", "/site", null));
    }

    [Fact]
    public async Task RevokedAndExpired_AreRefusedAtTheNextRequest_AndSaidSo()
    {
        var clock = new FakeTimeProvider(TimeProvider.System.GetUtcNow());
        await using var api = await RunningApi.StartAsync(RunningApi.BehindAnother, clock: clock);
        var (lost, old) = (api.Token("lost", ApiRole.Administer), api.Token("old", ApiRole.View, clock.GetUtcNow().AddHours(1)));
        Assert.Equal(HttpStatusCode.OK, await AskAsync(api.Client(lost), "GET", "/audit", null));
        Assert.Equal(HttpStatusCode.OK, await AskAsync(api.Client(old), "GET", "/saws", null));

        Assert.True(TokenRows.Revoke(api.History.Folder, "lost", new AuditEntry("test", AuditEntry.Command, "token.revoke", "lost"), clock.GetUtcNow()));
        using var revoked = await api.Client(lost).GetAsync("/api/v1/site");
        Assert.Equal((HttpStatusCode.Unauthorized, "This token was revoked."), (revoked.StatusCode, (await RunningApi.ReadAsync(revoked))["detail"]!.GetValue<string>()));

        clock.Advance(TimeSpan.FromHours(1));
        using var expired = await api.Client(old).GetAsync("/api/v1/site");
        Assert.Equal(HttpStatusCode.Unauthorized, expired.StatusCode);
        Assert.StartsWith("This token expired on", (await RunningApi.ReadAsync(expired))["detail"]!.GetValue<string>(), StringComparison.Ordinal);
    }

    [Fact]
    public async Task Stream_OfATokenThatIsRevoked_EndsWithinAMinute()
    {
        var clock = new FakeTimeProvider(TimeProvider.System.GetUtcNow());
        await using var api = await RunningApi.StartAsync(RunningApi.BehindAnother, clock: clock);
        using var kept = await FollowAsync(api.Token("kept", ApiRole.View));
        using var lost = await FollowAsync(api.Token("lost", ApiRole.View));
        Assert.True(TokenRows.Revoke(api.History.Folder, "lost", new AuditEntry("test", AuditEntry.Command, "token.revoke", "lost"), clock.GetUtcNow()));

        var (end, other) = (lost.ReadToEndAsync(), kept.ReadToEndAsync());
        await Until.TrueAsync(
            () =>
            {
                clock.Advance(TimeSpan.FromSeconds(5));
                return end.IsCompletedSuccessfully;
            },
            "the stream of the revoked token ends");
        Assert.False(other.IsCompleted);

        async Task<StreamReader> FollowAsync(string token)
        {
            var answer = await api.Client(token).GetAsync(new Uri("/api/v1/live", UriKind.Relative), HttpCompletionOption.ResponseHeadersRead);
            return new StreamReader(await answer.EnsureSuccessStatusCode().Content.ReadAsStreamAsync());
        }
    }

    [Fact]
    public async Task Tokens_AreNowhere_InHistoryAuditAndLog()
    {
        await using var api = await RunningApi.StartAsync(RunningApi.BehindAnother);
        var token = api.Token("office", ApiRole.Operate);
        await AskAsync(api.Client(token), "GET", "/site", null);
        await AskAsync(api.Client(token), "POST", "/stops/reasons", $$"""{ "saw": "north", "from": "2026-03-02T06:00:00Z", "to": "2026-03-02T07:00:00Z", "reason": "repair", "class": "down" }""");
        await AskAsync(api.Client(token + "x"), "GET", "/site", null);
        Assert.NotEmpty(api.Log.Entries);
        Assert.DoesNotContain(api.Log.Entries, entry => entry.Text.Contains(token[ApiToken.Prefix.Length..], StringComparison.Ordinal));
        Assert.Equal(0L, api.History.Ask("SELECT count(*) FROM audit WHERE who || origin || subject || detail LIKE '%sawedge_%'"));
        foreach (var file in Directory.GetFiles(api.History.Folder, "history.db*"))
        {
            await using var stream = new FileStream(file, FileMode.Open, FileAccess.Read, FileShare.ReadWrite | FileShare.Delete);
            using var reader = new StreamReader(stream, System.Text.Encoding.Latin1);
            Assert.DoesNotContain(token[ApiToken.Prefix.Length..], await reader.ReadToEndAsync(), StringComparison.Ordinal);
        }

        // What is kept is the hash, and it is not the token either.
        Assert.Equal(32L, api.History.Ask("SELECT length(hash) FROM api_tokens"));
    }

    [Fact]
    public async Task ManyWrongTokens_HaveToWait_AndTheLogSaysItOnce()
    {
        await using var api = await RunningApi.StartAsync();
        var client = api.Client(ApiToken.Make());
        var statuses = new List<HttpStatusCode>();
        for (var i = 0; i < (2 * ApiGate.MostWrong) + 1; i++)
            statuses.Add(await AskAsync(client, "GET", "/site", null));

        // The test may run over the end of a minute, in which the count begins anew.
        Assert.Contains(HttpStatusCode.TooManyRequests, statuses);
        Assert.All(statuses.Take(ApiGate.MostWrong), status => Assert.Equal(HttpStatusCode.Unauthorized, status));
        Assert.InRange(api.Log.Entries.Count(entry => entry.Id == 8004), 1, 2);
        Assert.Equal(HttpStatusCode.OK, await AskAsync(api.Client(api.Token("right", ApiRole.View)), "GET", "/site", null));
    }

    [Fact]
    public async Task AtTheMachine_LooksAndOperates_ButSeesNoAuditTrail()
    {
        await using var api = await RunningApi.StartAsync();
        using var site = await api.Client().GetAsync("/api/v1/site");
        Assert.Equal("operate", (await RunningApi.ReadAsync(site))["role"]!.GetValue<string>());
        Assert.Equal(HttpStatusCode.BadRequest, await AskAsync(api.Client(), "POST", "/scrap", "{}"));
        Assert.Equal(HttpStatusCode.Unauthorized, await AskAsync(api.Client(), "GET", "/audit", null));
        Assert.Equal(HttpStatusCode.OK, await AskAsync(api.Client(api.Token("boss", ApiRole.Administer)), "GET", "/audit", null));
    }

    [Fact]
    public async Task AtTheMachine_WhereTheConfigurationSaysSo_OnlyLooks()
    {
        await using var api = await RunningApi.StartAsync(new HttpOptions { Listen = new Uri("http://127.0.0.1:0"), OperateOnLoopback = false });
        Assert.Equal(HttpStatusCode.OK, await AskAsync(api.Client(), "GET", "/saws", null));
        Assert.Equal(HttpStatusCode.Unauthorized, await AskAsync(api.Client(), "POST", "/scrap", "{}"));
    }

    // A server on the same machine that passes requests on makes all of them come from loopback.
    [Theory]
    [InlineData("X-Forwarded-For", "203.0.113.9")]
    [InlineData("Forwarded", "for=203.0.113.9")]
    [InlineData("Via", "1.1 proxy")]
    [InlineData("X-Real-IP", "203.0.113.9")]
    [InlineData("Host", "saws.riverbend.example")]
    [InlineData("Host", "127.0.0.1.attacker.example")]
    public async Task PassedOn_OrUnderAnotherName_NeedsAToken(string header, string value)
    {
        await using var api = await RunningApi.StartAsync();
        foreach (var token in (string?[])[null, api.Token("office", ApiRole.View)])
        {
            using var request = new HttpRequestMessage(HttpMethod.Get, "/api/v1/site");
            if (header == "Host")
                request.Headers.Host = value;
            else
                request.Headers.Add(header, value);
            using var answer = await api.Client(token).SendAsync(request);
            Assert.Equal(token is null ? HttpStatusCode.Unauthorized : HttpStatusCode.OK, answer.StatusCode);
        }
    }

    [Theory]
    [InlineData("Sec-Fetch-Site", "cross-site")]
    [InlineData("Sec-Fetch-Site", "same-site")]
    [InlineData("Origin", "https://attacker.example")]
    [InlineData("Origin", "null")]
    public async Task PagesOfOthers_CanChangeNothing(string header, string value)
    {
        await using var api = await RunningApi.StartAsync();
        await api.RaiseAsync();
        using var request = new HttpRequestMessage(HttpMethod.Post, "/api/v1/alarms/1/acknowledge") { Content = RunningApi.Json("{}") };
        request.Headers.Add(header, value);
        using var answer = await api.Client().SendAsync(request);
        Assert.Equal(HttpStatusCode.Forbidden, answer.StatusCode);
        Assert.False(answer.Headers.Contains("Access-Control-Allow-Origin"));
        Assert.Equal(0L, api.History.Ask("SELECT count(*) FROM alarm_answers"));

        // Nor by a form, which needs no permission of the other side.
        using var form = await api.Client().PostAsync("/api/v1/alarms/1/acknowledge", new StringContent("{}", System.Text.Encoding.UTF8, "text/plain"));
        Assert.Equal(HttpStatusCode.UnsupportedMediaType, form.StatusCode);
        Assert.Equal(0L, api.History.Ask("SELECT count(*) FROM audit"));
    }

    [Fact]
    public async Task OwnPage_MayChange()
    {
        await using var api = await RunningApi.StartAsync();
        await api.RaiseAsync();
        using var request = new HttpRequestMessage(HttpMethod.Post, "/api/v1/alarms/1/acknowledge") { Content = RunningApi.Json("{}") };
        request.Headers.Add("Sec-Fetch-Site", "same-origin");
        request.Headers.Add("Origin", api.Address.GetLeftPart(UriPartial.Authority));
        using var answer = await api.Client().SendAsync(request);
        Assert.Equal(HttpStatusCode.OK, answer.StatusCode);
    }

    [Fact]
    public async Task FromTheNetwork_NeedsAToken_AndThePageItselfDoesNot()
    {
        // Where a machine has no address but loopback there is nobody to come from the network.
        var outside = NetworkInterface.GetAllNetworkInterfaces().Where(card => card.OperationalStatus == OperationalStatus.Up)
            .SelectMany(card => card.GetIPProperties().UnicastAddresses.Select(unicast => unicast.Address))
            .FirstOrDefault(address => address.AddressFamily == AddressFamily.InterNetwork && !IPAddress.IsLoopback(address));
        if (outside is null)
            return;
        await using var api = await RunningApi.StartAsync(new HttpOptions { Listen = new Uri("http://0.0.0.0:0") });
        api.Address = new UriBuilder(api.Address) { Host = outside.ToString() }.Uri;
        Assert.Equal(HttpStatusCode.Unauthorized, await AskAsync(api.Client(), "GET", "/site", null));
        Assert.Equal(HttpStatusCode.OK, await AskAsync(api.Client(api.Token("office", ApiRole.View)), "GET", "/site", null));
        using var metrics = await api.Client().GetAsync("/metrics");
        Assert.Equal(HttpStatusCode.Unauthorized, metrics.StatusCode);
        using var page = await api.Client().GetAsync("/");
        Assert.Equal(HttpStatusCode.OK, page.StatusCode);
        using var alive = await api.Client().GetAsync("/health/live");
        Assert.Equal(HttpStatusCode.OK, alive.StatusCode);
    }

    private static async Task<HttpStatusCode> AskAsync(HttpClient client, string method, string path, string? body)
    {
        using var request = new HttpRequestMessage(new HttpMethod(method), $"/api/v1{path}") { Content = body is null ? null : RunningApi.Json(body) };
        using var answer = await client.SendAsync(request, HttpCompletionOption.ResponseHeadersRead);
        if (answer.StatusCode is HttpStatusCode.Unauthorized or HttpStatusCode.Forbidden or HttpStatusCode.BadRequest or HttpStatusCode.NotFound)
            Assert.Equal("application/problem+json", answer.Content.Headers.ContentType!.MediaType);
        return answer.StatusCode;
    }
}
