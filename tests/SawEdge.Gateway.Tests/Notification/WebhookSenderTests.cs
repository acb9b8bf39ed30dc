using System.Globalization;
using System.Security.Cryptography;
using System.Text;
using System.Text.Json;
using SawEdge.Core.Alarms;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Notification;
using SawEdge.Gateway.Notification.Webhooks;

namespace SawEdge.Gateway.Tests.Notification;

/// <summary>One try against a receiver that behaves in every way.</summary>
#pragma warning disable CA1001 // The test framework calls DisposeAsync of IAsyncLifetime.
public sealed class WebhookSenderTests : IAsyncLifetime
#pragma warning restore CA1001
{
    private const string Secret = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw";

    private readonly HookReceiver _receiver = new();

    public Task InitializeAsync() => Task.CompletedTask;

    public async Task DisposeAsync() => await _receiver.DisposeAsync();

    [Theory]
    [InlineData(200, "")]
    [InlineData(201, "{\"ok\":true}")]
    [InlineData(204, "")]
    [InlineData(200, "ok <b>fine</b>")]
    public async Task SendAsync_Acknowledged_IsDelivered(int status, string body)
    {
        _receiver.Answer = (_, _) => HookReceiver.Once(status, body);

        Assert.Equal(SendResult.Delivered, await SendAsync());
    }

    [Fact]
    public async Task SendAsync_ARequest_IsSignedJsonWithATokenAndAnIdentity()
    {
        var before = DateTimeOffset.UtcNow.ToUnixTimeSeconds();

        await SendAsync(options => options with { Token = "bearer-token" });

        var request = Assert.Single(_receiver.Requests);
        Assert.Equal("POST /hooks/saws?key=hush HTTP/1.1", request.Line);
        Assert.Equal("application/json; charset=utf-8", request.Headers["Content-Type"]);
        Assert.Equal("Bearer bearer-token", request.Headers["Authorization"]);
        Assert.Equal(Samples.Message().Id, request.Headers["webhook-id"]);
        Assert.InRange(long.Parse(request.Headers["webhook-timestamp"], CultureInfo.InvariantCulture), before, before + 60);
        var signed = Encoding.UTF8.GetBytes($"{request.Headers["webhook-id"]}.{request.Headers["webhook-timestamp"]}.").Concat(request.Body).ToArray();
        Assert.Equal("v1," + Convert.ToBase64String(HMACSHA256.HashData(Convert.FromBase64String(Secret["whsec_".Length..]), signed)), request.Headers["webhook-signature"]);
        using var body = JsonDocument.Parse(request.Body);
        Assert.Equal("alarm.raised", body.RootElement.GetProperty("type").GetString());
    }

    // Published: standard-webhooks/standard-webhooks, libraries/python/tests/test_webhooks.py, test_sign_function.
    [Fact]
    public void Sign_PublishedExample_GivesThePublishedSignature() =>
        Assert.Equal("v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE=", WebhookSignature.Sign(WebhookSignature.Key(Secret)!, "msg_p5jXN8AQM9LWM0D4loKWxJek", 1_614_265_330, "{\"test\": 2432232314}"u8));

    [Fact]
    public void Key_SecretThatIsNoBase64_IsTold()
    {
        Assert.Null(WebhookSignature.Key("whsec_not base64!"));
        Assert.Equal("plain words"u8.ToArray(), WebhookSignature.Key("plain words"));
    }

    [Fact]
    public async Task SendAsync_NoSecret_IsNotSigned()
    {
        await SendAsync(options => options with { Secret = null });

        Assert.DoesNotContain("webhook-signature", Assert.Single(_receiver.Requests).Headers.Keys);
    }

    [Theory]
    [InlineData("<!DOCTYPE html><html><head><title>Guest network: log in</title></head></html>", "")]
    [InlineData("\r\n <html><title>Guest network: log in</title>", "Content-Type: text/plain")]
    [InlineData("<p><title>Guest network: log in</title>", "Content-Type: text/html; charset=utf-8")]
    public async Task SendAsync_APageAnswers_IsNoAcknowledgement(string body, string header)
    {
        _receiver.Answer = (_, _) => HookReceiver.Once(200, body, header.Length == 0 ? [] : [header]);

        var result = await SendAsync();

        Assert.Equal(SendVerdict.Mend, result.Verdict);
        Assert.Contains("web page", result.Words, StringComparison.Ordinal);
        Assert.Contains("'Guest network: log in'", result.Words, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData(301)]
    [InlineData(302)]
    [InlineData(307)]
    [InlineData(308)]
    public async Task SendAsync_RedirectToItself_IsNotFollowedAndSaysWhereTo(int status)
    {
        _receiver.Answer = (_, _) => HookReceiver.Once(status, "", $"Location: {_receiver.Url}");

        var result = await SendAsync();

        Assert.Equal(SendVerdict.Mend, result.Verdict);
        Assert.Contains($"redirects to http://127.0.0.1:{_receiver.Port}/hooks/saws", result.Words, StringComparison.Ordinal);
        Assert.DoesNotContain("hush", result.Words, StringComparison.Ordinal);
        Assert.Single(_receiver.Requests);
    }

    [Fact]
    public async Task SendAsync_NeverAnswers_EndsWithItsTimeout()
    {
        _receiver.Answer = (_, stop) => HookReceiver.Never(stop);

        var result = await SendAsync(options => options with { Timeout = TimeSpan.FromMilliseconds(300) });

        Assert.Equal(new SendResult(SendVerdict.Wait, "no whole answer within 0.3 s."), result);
    }

    [Theory]
    [InlineData("HTTP/1.1 200 OK\r\nContent-Length: 100000\r\n")]
    [InlineData("HTTP/1.1 200 OK\r\n\r\n")]
    public async Task SendAsync_Dribbles_EndsWithItsTimeout(string head)
    {
        _receiver.Answer = (_, stop) => HookReceiver.Dribble(head + string.Concat(Enumerable.Repeat("x-filler: 1\r\n", 1000)), stop);

        var result = await SendAsync(options => options with { Timeout = TimeSpan.FromMilliseconds(500) });

        Assert.Equal(SendVerdict.Wait, result.Verdict);
    }

    [Fact]
    public async Task SendAsync_EndlessAnswer_IsReadToABound()
    {
        _receiver.Answer = (_, stop) => HookReceiver.Endless(stop);

        Assert.Equal(SendVerdict.Delivered, (await SendAsync()).Verdict);
    }

    [Theory]
    [InlineData(500, "Wait")]
    [InlineData(502, "Wait")]
    [InlineData(429, "Wait")]
    [InlineData(408, "Wait")]
    [InlineData(400, "Refused")]
    [InlineData(413, "Refused")]
    [InlineData(422, "Refused")]
    [InlineData(401, "Mend")]
    [InlineData(403, "Mend")]
    [InlineData(404, "Mend")]
    [InlineData(410, "Mend")]
    [InlineData(418, "Mend")]
    public async Task SendAsync_AnError_IsJudgedAndTellsTheReceiversWordsCleaned(int status, string verdict)
    {
        _receiver.Answer = (_, _) => HookReceiver.Once(status, "no\r\nso \u001b[31mred\u202E " + new string('x', 5000));

        var result = await SendAsync();

        Assert.Equal(verdict, result.Verdict.ToString());
        Assert.Contains(string.Create(CultureInfo.InvariantCulture, $"status {status}, 'no so [31mred xxx"), result.Words, StringComparison.Ordinal);
        Assert.InRange(result.Words.Length, 100, 400);
        Assert.DoesNotContain(result.Words, char.IsControl);
    }

    [Theory]
    [InlineData(429, "30", 30, 30)]
    [InlineData(503, "120", 120, 120)]
    [InlineData(503, "date", 50, 61)]
    public async Task SendAsync_RetryAfter_IsHanded(int status, string header, int from, int to)
    {
        var value = header == "date" ? DateTimeOffset.UtcNow.AddSeconds(60).ToString("R", CultureInfo.InvariantCulture) : header;
        _receiver.Answer = (_, _) => HookReceiver.Once(status, "", $"Retry-After: {value}");

        Assert.InRange((await SendAsync()).RetryAfter!.Value.TotalSeconds, from, to);
    }

    [Fact]
    public async Task SendAsync_Reset_IsTriedAgain()
    {
        _receiver.Answer = (_, _) => HookReceiver.Reset();

        var result = await SendAsync();

        Assert.Equal(SendVerdict.Wait, result.Verdict);
        Assert.StartsWith("no answer: ", result.Words, StringComparison.Ordinal);
    }

    [Fact]
    public async Task SendAsync_NobodyThere_IsTriedAgain()
    {
        await _receiver.DisposeAsync();

        Assert.Contains("refused", (await SendAsync()).Words, StringComparison.Ordinal);
    }

    [Fact]
    public async Task SendAsync_Cancelled_Throws()
    {
        _receiver.Answer = (_, stop) => HookReceiver.Never(stop);
        using var cancel = new CancellationTokenSource(TimeSpan.FromMilliseconds(100));

        await Assert.ThrowsAnyAsync<OperationCanceledException>(() => SendAsync(cancellation: cancel.Token));
    }

    [Fact]
    public async Task SendAsync_BadSecret_IsToldAndNothingIsSentUnsigned()
    {
        var result = await SendAsync(options => options with { Secret = "whsec_&&" });

        Assert.Equal(SendVerdict.Mend, result.Verdict);
        Assert.Empty(_receiver.Requests);
    }

    [Fact]
    public void Body_OfAnAlarm_HoldsTheContractsWordsAndWhatPeopleRead()
    {
        using var json = JsonDocument.Parse(WebhookBody.Write(Samples.Message(text: "saw-1: " + Samples.Hostile)));

        var data = json.RootElement.GetProperty("data");
        Assert.Equal("2026-03-02T06:30:00Z", json.RootElement.GetProperty("timestamp").GetString());
        Assert.Equal("Riverbend", data.GetProperty("site").GetString());
        Assert.Equal(Samples.Caution, data.GetProperty("cautions")[0].GetString());
        var alarm = data.GetProperty("alarms")[0];
        Assert.Equal("saw-1", alarm.GetProperty("saw").GetString());
        Assert.Equal(7.31, alarm.GetProperty("value").GetDouble());
        Assert.Equal("kW", alarm.GetProperty("unit").GetString());
        Assert.Equal("7.31 kW", alarm.GetProperty("valueText").GetString());
        Assert.Equal("B", alarm.GetProperty("stateLetter").GetString());
        Assert.Equal("2026-03-02T06:29:00Z", alarm.GetProperty("raisedAt").GetString());
        Assert.Equal("saw-1-000012", alarm.GetProperty("cycleId").GetString());
        Assert.StartsWith("https://", alarm.GetProperty("links").GetProperty("acknowledge").GetString(), StringComparison.Ordinal);
        Assert.False(alarm.TryGetProperty("clearedAt", out _));
    }

    [Theory]
    [InlineData("{{\"text\": {title}, \"n\": {alarm}, \"v\": {value_number}, \"k\": {clear}}}", false)]
    [InlineData("{{\"text\": {title}, \"n\": {alarm}, \"v\": {value_number}, \"u\": {unit}}}", true)]
    [InlineData("{{\"text\": \"*{severity}* {title}\", \"n\": {alarms}, \"v\": {limit_number}, \"u\": \"{unit}\\\"\"}}", true)]
    public void Template_WithHostileNames_StaysJson(string source, bool known)
    {
        var body = new BodyTemplate(AlarmTemplate.Parse(source)).Write(Samples.Message(text: Samples.Hostile));

        using var json = JsonDocument.Parse(body);
        Assert.Equal(4, json.RootElement.EnumerateObject().Count());
        Assert.Contains("<script>alert(1)</script> \"'\\", json.RootElement.GetProperty("text").GetString(), StringComparison.Ordinal);
        Assert.Equal(known ? JsonValueKind.String : JsonValueKind.Null, json.RootElement.EnumerateObject().Last().Value.ValueKind);
    }

    [Fact]
    public void Template_EachName_IsFilled()
    {
        foreach (var name in WebhookOptions.BodyNames)
        {
            using var json = JsonDocument.Parse(new BodyTemplate(AlarmTemplate.Parse($"{{{{\"x\": {{{name}}}}}}}")).Write(Samples.Message()));
            Assert.True(json.RootElement.GetProperty("x").ToString() is { Length: > 0 }, name);
        }
    }

    private async Task<SendResult> SendAsync(Func<WebhookOptions, WebhookOptions>? change = null, CancellationToken cancellation = default)
    {
        var options = new WebhookOptions { Name = "hook", Url = _receiver.Url, Secret = Secret, Timeout = TimeSpan.FromSeconds(20) };
        await using var sender = new WebhookSender(change?.Invoke(options) ?? options, TimeProvider.System);
        return await sender.SendAsync(Samples.Message(), cancellation);
    }
}
