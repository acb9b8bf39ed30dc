using System.Globalization;
using System.IO.Compression;
using System.Net;
using System.Net.Sockets;
using System.Security.Cryptography;
using System.Security.Cryptography.X509Certificates;
using SawEdge.Gateway.Api;
using SawEdge.Gateway.Telemetry;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Tests.Configuration;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Api;

/// <summary>The host itself: addresses, TLS, headers, the page's files, and what is there for those who watch it.</summary>
public sealed class ApiServingTests
{
    [Fact]
    public async Task EveryAnswer_CarriesStrictHeaders_AndNoCookie()
    {
        await using var api = await RunningApi.StartAsync();
        foreach (var path in (string[])["/", "/page/none.js", "/api/v1/site", "/api/v1/none", "/api/v1/audit", "/health/live", "/metrics", "/elsewhere"])
        {
            using var answer = await api.Client().GetAsync(path);
            var policy = Assert.Single(answer.Headers.GetValues("Content-Security-Policy"));
            Assert.StartsWith(path == "/" ? "default-src 'self'; script-src 'self'; style-src 'self';" : "default-src 'none';", policy, StringComparison.Ordinal);
            Assert.Contains("frame-ancestors 'none'", policy, StringComparison.Ordinal);
            Assert.DoesNotContain("unsafe", policy, StringComparison.Ordinal);
            Assert.Equal("nosniff", Assert.Single(answer.Headers.GetValues("X-Content-Type-Options")));
            Assert.Equal("DENY", Assert.Single(answer.Headers.GetValues("X-Frame-Options")));
            Assert.Equal("no-referrer", Assert.Single(answer.Headers.GetValues("Referrer-Policy")));
            Assert.Equal("same-origin", Assert.Single(answer.Headers.GetValues("Cross-Origin-Resource-Policy")));
            Assert.False(answer.Headers.Contains("Server"));
            Assert.False(answer.Headers.Contains("Set-Cookie"));
            Assert.False(answer.Headers.Contains("Access-Control-Allow-Origin"));
        }
    }

    [Fact]
    public async Task WhatIsNotThere_OrNotDone_IsAProblem()
    {
        await using var api = await RunningApi.StartAsync();
        using var none = await api.Client().GetAsync("/api/v1/none");
        Assert.Equal((HttpStatusCode.NotFound, "application/problem+json"), (none.StatusCode, none.Content.Headers.ContentType!.MediaType));
        using var put = await api.Client().PutAsync("/api/v1/site", RunningApi.Json("{}"));
        Assert.Equal((HttpStatusCode.MethodNotAllowed, "application/problem+json"), (put.StatusCode, put.Content.Headers.ContentType!.MediaType));
        using var strange = await api.Client().GetAsync("/api/v1/site?x=1");
        Assert.Equal("is not known here; known here: nothing", (await RunningApi.ErrorsAsync(strange))["x"]);
    }

    [Fact]
    public async Task TooLong_IsRefused_AndTheNextIsServed()
    {
        await using var api = await RunningApi.StartAsync();
        using var line = await api.Client().GetAsync("/api/v1/site?x=" + new string('1', 4096));
        Assert.Equal(HttpStatusCode.RequestUriTooLong, line.StatusCode);
        using var headers = new HttpRequestMessage(HttpMethod.Get, "/api/v1/site");
        headers.Headers.Add("X-Long", new string('1', 16 * 1024));
        using var answer = await api.Client().SendAsync(headers);
        Assert.Equal(HttpStatusCode.RequestHeaderFieldsTooLarge, answer.StatusCode);
        using var next = await api.Client().GetAsync("/api/v1/site");
        Assert.Equal(HttpStatusCode.OK, next.StatusCode);
    }

    [Fact]
    public async Task Page_IsServedCompressed_AndNotTwice()
    {
        await using var api = await RunningApi.StartAsync();
        using var page = await api.Client().GetAsync("/");
        Assert.Equal((HttpStatusCode.OK, "text/html; charset=utf-8"), (page.StatusCode, page.Content.Headers.ContentType!.ToString()));
        Assert.Contains("<html", await page.Content.ReadAsStringAsync(), StringComparison.OrdinalIgnoreCase);
        var plain = await api.Client().GetByteArrayAsync("/page/echarts.js");
        foreach (var encoding in (string[])["gzip", "br"])
        {
            HttpResponseMessage answer = null!;

            // The smallest form is made in the background; until then there is another.
            await Until.TrueAsync(async () =>
            {
                using var request = new HttpRequestMessage(HttpMethod.Get, "/page/echarts.js");
                request.Headers.Add("Accept-Encoding", encoding == "br" ? "gzip, deflate, br" : "gzip, br;q=0");
                answer = await api.Client().SendAsync(request);
                return answer.Content.Headers.ContentEncoding.SingleOrDefault() == encoding;
            }, $"echarts.js comes as {encoding}", TimeSpan.FromSeconds(60));
            await using var stream = await answer.Content.ReadAsStreamAsync();
            await using Stream unpacked = encoding == "br" ? new BrotliStream(stream, CompressionMode.Decompress) : new GZipStream(stream, CompressionMode.Decompress);
            using var content = new MemoryStream();
            await unpacked.CopyToAsync(content);
            Assert.Equal(plain, content.ToArray());
            Assert.InRange(answer.Content.Headers.ContentLength!.Value, 1, plain.Length / 2);

            using var again = new HttpRequestMessage(HttpMethod.Get, "/page/echarts.js");
            again.Headers.Add("Accept-Encoding", encoding == "br" ? "gzip, deflate, br" : "gzip, br;q=0");
            again.Headers.IfNoneMatch.Add(answer.Headers.ETag!);
            using var known = await api.Client().SendAsync(again);
            Assert.Equal((HttpStatusCode.NotModified, 0), (known.StatusCode, (await known.Content.ReadAsByteArrayAsync()).Length));
            answer.Dispose();
        }

        foreach (var path in (string[])["/page/../sawedge.json", "/page/%2e%2e/%2e%2e/etc/passwd", "/page/", "/page/app.js/x"])
        {
            using var none = await api.Client().GetAsync(path);
            Assert.True(none.StatusCode is HttpStatusCode.NotFound or HttpStatusCode.BadRequest, $"{path}: {none.StatusCode}");
        }
    }

    [Fact]
    public async Task Health_AndMetrics_AreThereForThoseWhoWatch()
    {
        await using var api = await RunningApi.StartAsync(RunningApi.BehindAnother);
        await api.RaiseAsync();
        Assert.Equal("alive\n", await api.Client().GetStringAsync("/health/live"));
        Assert.Equal("ready\n", await api.Client().GetStringAsync("/health/ready"));
        using var refused = await api.Client().GetAsync("/metrics");
        Assert.Equal(HttpStatusCode.Unauthorized, refused.StatusCode);
        using var answer = await api.Client(api.Token("watch", ApiRole.View)).GetAsync("/metrics");
        Assert.Equal("text/plain; version=0.0.4; charset=utf-8", answer.Content.Headers.ContentType!.ToString());
        var text = await answer.Content.ReadAsStringAsync();
        Assert.Matches("\nsawedge_alarms_open\\{severity=\"[a-z]+\"\\} 1\n", text);
        Assert.Contains("# TYPE sawedge_http_requests_total counter\nsawedge_http_requests_total ", text, StringComparison.Ordinal);
    }

    [Fact]
    public void Metrics_EscapeLabels_AndStandTogether()
    {
        var (a, b) = (new MetricInfo("a_total", "1", "Help\nline.", "saw"), new MetricInfo("b", "1", "B."));
        Metric[] metrics = [new(a, 1.5, "x\"y\\z\n"), new(b, double.NaN), new(a, 2, "n")];
        Assert.Equal("# HELP a_total Help\\nline.\n# TYPE a_total counter\na_total{saw=\"x\\\"y\\\\z\\n\"} 1.5\na_total{saw=\"n\"} 2\n# HELP b B.\n# TYPE b gauge\n", GatewayRoutes.Write(metrics));
    }

    [Fact]
    public async Task Tls_ShowsTheCertificateOfTheFiles_AndSpeaksNothingElse()
    {
        using var folder = new TempFolder();
        using var made = MakeCertificate(folder);
        await using var api = await RunningApi.StartAsync(new HttpOptions { Listen = new Uri("https://127.0.0.1:0"), CertificateFile = folder.File("tls.crt"), KeyFile = folder.File("tls.key") });
        Assert.Equal("https", api.Address.Scheme);
        string? shown = null;
        using var handler = new SocketsHttpHandler { SslOptions = { RemoteCertificateValidationCallback = (_, certificate, _, _) => (shown = certificate?.GetCertHashString(HashAlgorithmName.SHA256)) is not null } };
        using var answer = await api.Client(handler: handler).GetAsync("/api/v1/site");
        Assert.Equal((HttpStatusCode.OK, made.GetCertHashString(HashAlgorithmName.SHA256)), (answer.StatusCode, shown));
        using var plain = new HttpClient { BaseAddress = new UriBuilder(api.Address) { Scheme = "http" }.Uri };
        await Assert.ThrowsAnyAsync<HttpRequestException>(() => plain.GetAsync("/api/v1/site"));

        // Whoever does not trust the certificate gets nothing.
        await Assert.ThrowsAnyAsync<HttpRequestException>(() => api.Client().GetAsync("/api/v1/site"));
    }

    [Fact]
    public async Task AddressInUse_IsSaidOnce()
    {
        using var other = new TcpListener(IPAddress.Loopback, 0);
        other.Start();
        await using var first = await RunningApi.StartAsync();
        var port = ((IPEndPoint)other.LocalEndpoint).Port;
        using var stop = new CancellationTokenSource();
        var log = new Hosting.LogCollector();
        var host = ApiHost.Build(new ApiContext { Options = Sample.Load(Sample.With()).Options() with { Http = new HttpOptions { Listen = new Uri(string.Create(CultureInfo.InvariantCulture, $"http://127.0.0.1:{port}")) } }, Reader = first.History.Reader, Writer = first.History.Writer, Time = TimeProvider.System, Machine = TimeProvider.System, Loggers = log }, null)[0];
        var serving = host.RunAsync(stop.Token);
        await Until.TrueAsync(() => log.Entries.Any(entry => entry.Id == 8001), "it is said");
        Assert.False(serving.IsCompleted);
        Assert.Null(host.Address);
        Assert.Contains("(http.listen)", Assert.Single(log.Entries).Text, StringComparison.Ordinal);
        await stop.CancelAsync();
        await Assert.ThrowsAnyAsync<OperationCanceledException>(() => serving);
    }

    [Fact]
    public async Task AnswerLinks_AreServedByTheSameHost_WithTheirOwnHeaders()
    {
        await using var api = await RunningApi.StartAsync(change: options => options with { Alarms = options.Alarms with { AnswerLinks = new AnswerLinkOptions { Public = new Uri("https://saws.riverbend.example/gateway/") } } });
        using var opened = await api.Client().GetAsync("/gateway/answer/x");
        Assert.Equal(HttpStatusCode.NotFound, opened.StatusCode);
        Assert.Equal(AnswerPage.ContentSecurityPolicy, Assert.Single(opened.Headers.GetValues("Content-Security-Policy")));

        // The links' public address says that others come by a server on this machine.
        using var site = await api.Client().GetAsync("/api/v1/site");
        Assert.Equal(HttpStatusCode.Unauthorized, site.StatusCode);
    }

    private static X509Certificate2 MakeCertificate(TempFolder folder)
    {
        using var key = ECDsa.Create(ECCurve.NamedCurves.nistP256);
        var request = new CertificateRequest("CN=gateway.riverbend.example", key, HashAlgorithmName.SHA256);
        var certificate = request.CreateSelfSigned(TimeProvider.System.GetUtcNow().AddDays(-1), TimeProvider.System.GetUtcNow().AddDays(1));
        File.WriteAllText(folder.File("tls.crt"), certificate.ExportCertificatePem());
        File.WriteAllText(folder.File("tls.key"), key.ExportPkcs8PrivateKeyPem());
        return certificate;
    }
}
