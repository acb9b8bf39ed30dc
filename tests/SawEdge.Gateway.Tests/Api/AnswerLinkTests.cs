using System.Net;
using System.Text;
using Microsoft.Extensions.Logging.Abstractions;
using SawEdge.Core.Alarms;
using SawEdge.Gateway.Api;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Formats;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Tests.History;
using SawEdge.Gateway.Tests.Processing.Alarms;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Api;

/// <summary>The pages behind the links in messages, over real connections, with the real desk behind them.</summary>
public sealed class AnswerLinkTests : IAsyncLifetime, IDisposable
{
    private readonly RunningHistory _history = new();
    private readonly LinkSigner _signer = new(Enumerable.Range(0, 32).Select(i => (byte)i).ToArray());
    private readonly CancellationTokenSource _stop = new();
    private readonly HttpClient _client = new(new HttpClientHandler { AllowAutoRedirect = false, UseCookies = false });
    private RunningDesk _desk = null!;
    private Task _serving = null!;

    public async Task InitializeAsync()
    {
        _desk = new RunningDesk(_history.Reader, _history.Writer, TimeProvider.System);
        _desk.Queue.Offer(RunningDesk.Change(true, TimeProvider.System.GetUtcNow()) with { MayBe = "<script>alert('1')</script> & more", Caution = "Lock out & tag out." });
        await Until.TrueAsync(async () => await _history.Reader.AlarmAsync(1) is not null, "the alarm is raised");
        var options = new AnswerLinkOptions { Listen = new Uri("http://127.0.0.1:0"), Public = new Uri("https://saws.riverbend.example/gateway/") };
        var host = ApiHost.ForLinks(options, "Riverbend", TimeZoneInfo.Utc, _signer, _history.Reader, _history.Writer, TimeProvider.System, NullLoggerFactory.Instance);
        _serving = host.RunAsync(_stop.Token);
        await Until.TrueAsync(() => host.Address is not null, "it listens");
        _client.BaseAddress = host.Address;
    }

    public async Task DisposeAsync()
    {
        await _stop.CancelAsync();
        await Assert.ThrowsAnyAsync<OperationCanceledException>(() => _serving);
        await _desk.DisposeAsync();
        await _history.DisposeAsync();
    }

    public void Dispose()
    {
        _client.Dispose();
        _stop.Dispose();
    }

    [Fact]
    public async Task Opened_ShowsWhatItWouldDo_AndDoesNothing()
    {
        var path = Path(AlarmAction.Acknowledge);
        for (var i = 0; i < 3; i++)
        {
            using var opened = await _client.GetAsync(path);
            Assert.Equal(HttpStatusCode.OK, opened.StatusCode);
            var page = await opened.Content.ReadAsStringAsync();
            Assert.Contains("Acknowledge alarm 1?", page, StringComparison.Ordinal);
            Assert.Contains("<form method=\"post\">", page, StringComparison.Ordinal);
            Assert.Contains("north: 7 kW, limit 5 kW", page, StringComparison.Ordinal);
        }

        using var looked = await _client.SendAsync(new HttpRequestMessage(HttpMethod.Head, path));
        Assert.Equal(HttpStatusCode.OK, looked.StatusCode);
        Assert.Equal(0L, _history.Ask("SELECT count(*) FROM alarm_answers"));
        Assert.Equal(AlarmState.Unacknowledged, (await _history.Reader.AlarmAsync(1))!.State);
    }

    [Fact]
    public async Task Pages_HoldTextsAsTexts_LoadNothing_KeepNothing()
    {
        using var opened = await _client.GetAsync(Path(AlarmAction.Acknowledge));
        var page = await opened.Content.ReadAsStringAsync();
        Assert.DoesNotContain("<script", page, StringComparison.OrdinalIgnoreCase);
        Assert.Contains("&lt;script&gt;alert(&#x27;1&#x27;)&lt;/script&gt; &amp; more", page, StringComparison.Ordinal);
        Assert.Contains("Lock out &amp; tag out.", page, StringComparison.Ordinal);
        Assert.Contains("width=device-width", page, StringComparison.Ordinal);
        var policy = Assert.Single(opened.Headers.GetValues("Content-Security-Policy"));
        Assert.StartsWith("default-src 'none'; style-src 'sha256-", policy, StringComparison.Ordinal);
        Assert.Contains("form-action 'self'; base-uri 'none'; frame-ancestors 'none'", policy, StringComparison.Ordinal);
        Assert.Equal("no-store", opened.Headers.CacheControl!.ToString());
        Assert.Equal("nosniff", Assert.Single(opened.Headers.GetValues("X-Content-Type-Options")));
        Assert.Equal("no-referrer", Assert.Single(opened.Headers.GetValues("Referrer-Policy")));
        Assert.False(opened.Headers.Contains("Set-Cookie"));
        Assert.False(opened.Headers.Contains("Server"));
        Assert.Equal("text/html; charset=utf-8", opened.Content.Headers.ContentType!.ToString());
    }

    [Fact]
    public async Task ButtonPressed_IsDoneOnce_ByTheContact_AndTheSecondTimeSaysSo()
    {
        var path = Path(AlarmAction.Acknowledge);
        using var first = await PostAsync(path);
        Assert.Equal(HttpStatusCode.OK, first.StatusCode);
        Assert.Contains("Done", await first.Content.ReadAsStringAsync(), StringComparison.Ordinal);
        var alarm = (await _history.Reader.AlarmAsync(1))!;
        Assert.Equal((AlarmState.Acknowledged, "shift lead"), (alarm.State, alarm.AcknowledgedBy));

        using var second = await PostAsync(path);
        Assert.Equal(HttpStatusCode.Gone, second.StatusCode);
        Assert.Contains("used before", await second.Content.ReadAsStringAsync(), StringComparison.Ordinal);
        Assert.Equal(1L, _history.Ask("SELECT count(*) FROM alarm_answers"));
        using var opened = await _client.GetAsync(path);
        Assert.Equal(HttpStatusCode.Gone, opened.StatusCode);
        Assert.Contains("by shift lead", await opened.Content.ReadAsStringAsync(), StringComparison.Ordinal);

        // Another link, but nothing left to be acknowledged: told, not done.
        using var other = await PostAsync(Path(AlarmAction.Acknowledge));
        Assert.Equal(HttpStatusCode.Conflict, other.StatusCode);
        Assert.Contains("Not done", await other.Content.ReadAsStringAsync(), StringComparison.Ordinal);
    }

    [Fact]
    public async Task PressedByManyAtOnce_IsDoneOnce()
    {
        var path = Path(AlarmAction.Confirm);
        var answers = await Task.WhenAll(Enumerable.Range(0, 8).Select(_ => PostAsync(path)));
        Assert.Equal(1, answers.Count(answer => answer.StatusCode == HttpStatusCode.OK));
        Assert.Equal(7, answers.Count(answer => answer.StatusCode == HttpStatusCode.Gone));
        Assert.Equal(AlarmVerdict.Confirmed, (await _history.Reader.AlarmAsync(1))!.Verdict);
        foreach (var answer in answers)
            answer.Dispose();
    }

    [Fact]
    public async Task Shelving_NeedsAReason()
    {
        var path = Path(AlarmAction.Shelve);
        using var without = await PostAsync(path, note: " \r\n ");
        Assert.Equal(HttpStatusCode.BadRequest, without.StatusCode);
        Assert.Contains("A reason is needed", await without.Content.ReadAsStringAsync(), StringComparison.Ordinal);
        Assert.Equal(0L, _history.Ask("SELECT count(*) FROM used_links"));

        using var with = await PostAsync(path, note: "transducer\r\nis <b>changed</b>");
        Assert.Equal(HttpStatusCode.OK, with.StatusCode);
        Assert.Equal(AlarmState.Shelved, (await _history.Reader.AlarmAsync(1))!.State);
        Assert.Equal("transduceris <b>changed</b>", _history.Ask("SELECT note FROM alarm_answers"));
    }

    [Theory]
    [InlineData("x")]
    [InlineData("AAAA")]
    [InlineData("%3Cscript%3Ealert(1)%3C%2Fscript%3E")]
    [InlineData("%0d%0aSet-Cookie:%20a=b")]
    public async Task Forged_DoesNotWork_AndSaysSo(string token)
    {
        using var opened = await _client.GetAsync($"/answer/{token}");
        Assert.Equal(HttpStatusCode.NotFound, opened.StatusCode);
        var page = await opened.Content.ReadAsStringAsync();
        Assert.Contains("This link does not work", page, StringComparison.Ordinal);
        Assert.DoesNotContain("<script", page, StringComparison.OrdinalIgnoreCase);
        using var posted = await PostAsync($"/answer/{token}");
        Assert.Equal(HttpStatusCode.NotFound, posted.StatusCode);
    }

    [Fact]
    public async Task EachCharacterChanged_DoesNotWork()
    {
        var token = _signer.Sign(1, AlarmAction.Acknowledge, "shift lead", TimeProvider.System.GetUtcNow().AddHours(1));
        for (var i = 0; i < token.Length; i += 9)
        {
            var forged = token[..i] + (token[i] == 'A' ? 'B' : 'A') + token[(i + 1)..];
            using var posted = await PostAsync($"/answer/{forged}");
            Assert.Equal(HttpStatusCode.NotFound, posted.StatusCode);
        }

        Assert.Equal(0L, _history.Ask("SELECT count(*) FROM alarm_answers"));
    }

    [Fact]
    public async Task Expired_IsGone()
    {
        var path = Path(AlarmAction.Acknowledge, TimeSpan.FromSeconds(-1));
        using var opened = await _client.GetAsync(path);
        Assert.Equal(HttpStatusCode.Gone, opened.StatusCode);
        Assert.Contains("This link has expired", await opened.Content.ReadAsStringAsync(), StringComparison.Ordinal);
        using var posted = await PostAsync(path);
        Assert.Equal(HttpStatusCode.Gone, posted.StatusCode);
        Assert.Equal(0L, _history.Ask("SELECT count(*) FROM alarm_answers"));
    }

    [Fact]
    public async Task AlarmThatIsNotThere_IsNotFound()
    {
        using var opened = await _client.GetAsync(Path(AlarmAction.Acknowledge, alarm: 99));
        Assert.Equal(HttpStatusCode.NotFound, opened.StatusCode);
        Assert.Contains("Alarm 99 is not in this gateway", await opened.Content.ReadAsStringAsync(), StringComparison.Ordinal);
    }

    [Fact]
    public async Task BehindAProxyThatKeepsThePath_WorksAsWell()
    {
        using var opened = await _client.GetAsync("/gateway" + Path(AlarmAction.Acknowledge));
        Assert.Equal(HttpStatusCode.OK, opened.StatusCode);
    }

    [Fact]
    public async Task WhatIsNoForm_OrTooLarge_OrElsewhere_IsRefused()
    {
        using var json = await _client.PostAsync(Path(AlarmAction.Acknowledge), new StringContent("{}", Encoding.UTF8, "application/json"));
        Assert.Equal(HttpStatusCode.BadRequest, json.StatusCode);
        using var large = await PostAsync(Path(AlarmAction.Acknowledge), note: new string('x', 2 * ApiHost.LargestBody));
        Assert.Equal(HttpStatusCode.RequestEntityTooLarge, large.StatusCode);
        using var elsewhere = await _client.GetAsync("/");
        Assert.Equal(HttpStatusCode.NotFound, elsewhere.StatusCode);
        using var put = await _client.PutAsync(Path(AlarmAction.Acknowledge), null);
        Assert.Equal(HttpStatusCode.MethodNotAllowed, put.StatusCode);
        Assert.Equal(0L, _history.Ask("SELECT count(*) FROM alarm_answers"));
    }

    [Fact]
    public async Task TooManyRequests_AreRefused_AndSayWhenToComeAgain()
    {
        var statuses = new List<HttpStatusCode>();
        for (var i = 0; i < 2 * RequestLimits.MostLinks + 1; i++)
        {
            using var opened = await _client.GetAsync("/answer/x");
            statuses.Add(opened.StatusCode);
            if (opened.StatusCode == HttpStatusCode.TooManyRequests)
                Assert.Equal(TimeSpan.FromSeconds(60), opened.Headers.RetryAfter!.Delta);
        }

        // A minute may end meanwhile.
        Assert.InRange(statuses.Count(status => status == HttpStatusCode.TooManyRequests), 1, RequestLimits.MostLinks + 1);
        Assert.All(statuses.Take(RequestLimits.MostLinks), status => Assert.Equal(HttpStatusCode.NotFound, status));
    }

    private string Path(AlarmAction action, TimeSpan? validFor = null, long alarm = 1) =>
        $"/answer/{_signer.Sign(alarm, action, "shift lead", TimeProvider.System.GetUtcNow() + (validFor ?? TimeSpan.FromHours(1)))}";

    private async Task<HttpResponseMessage> PostAsync(string path, string note = "")
    {
        using var form = new FormUrlEncodedContent([KeyValuePair.Create("note", note)]);
        return await _client.PostAsync(path, form);
    }
}

/// <summary>What an address does that cannot be listened on.</summary>
public sealed class ApiHostTests
{
    [Fact]
    public async Task AddressInUse_IsSaidOnce_WithTheSetting()
    {
        await using var history = new RunningHistory();
        using var taken = new System.Net.Sockets.TcpListener(IPAddress.Loopback, 0);
        taken.Start();
        using var log = new Hosting.LogCollector();
        using var stop = new CancellationTokenSource();
        var options = new AnswerLinkOptions { Listen = new Uri($"http://{taken.LocalEndpoint}"), Public = new Uri("https://saws.riverbend.example/") };
        var host = ApiHost.ForLinks(options, "Riverbend", TimeZoneInfo.Utc, new LinkSigner(new byte[32]), history.Reader, history.Writer, TimeProvider.System, log);
        var serving = host.RunAsync(stop.Token);
        await Until.TrueAsync(() => log.Entries.Any(entry => entry.Id == 8001), "it says that it cannot listen");
        Assert.Contains("alarms.answerLinks.listen", log.Entries.Single(entry => entry.Id == 8001).Text, StringComparison.Ordinal);
        Assert.Null(host.Address);
        await stop.CancelAsync();
        await Assert.ThrowsAnyAsync<OperationCanceledException>(() => serving);
    }
}
