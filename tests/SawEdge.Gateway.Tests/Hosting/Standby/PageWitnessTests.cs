using System.Net;
using System.Net.Sockets;
using System.Text;
using Microsoft.Extensions.Time.Testing;
using SawEdge.Gateway.Hosting.Standby;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Hosting.Standby;

/// <summary>What the second gateway makes of the first's page, against a server of its own.</summary>
public sealed class PageWitnessTests : IAsyncDisposable
{
    private readonly TcpListener _listener = new(IPAddress.Loopback, 0);
    private readonly FakeTimeProvider _time = new();
    private readonly CancellationTokenSource _over = new();
    private readonly PageWitness _witness;
    private readonly Task _asking;
    private readonly Task _serving;
    private volatile string _answer = "";
    private volatile int _asked;

    public PageWitnessTests()
    {
        _listener.Start();
        _witness = new PageWitness(new Uri($"http://127.0.0.1:{((IPEndPoint)_listener.LocalEndpoint).Port}/"), _time);
        _serving = ServeAsync();
        _asking = _witness.RunAsync(_over.Token);
    }

    [Theory]
    [InlineData("200 OK", "ready: active\n", true)]
    [InlineData("200 OK", "ready: waiting\n", true)]
    [InlineData("200 OK", "ready: standby\n", false)]
    [InlineData("200 OK", "ready\n", false)]
    [InlineData("503 Service Unavailable", "not ready\n", false)]
    [InlineData("302 Found", "ready: active\n", false)]
    public async Task Ask_PresenceIsSilent_IsWhatThePageSays(string status, string words, bool expected)
    {
        _answer = $"HTTP/1.1 {status}\r\nContent-Length: {words.Length}\r\nConnection: close\r\n\r\n{words}";
        Assert.Null(_witness.Ask(isPresenceSilent: true));
        await UntilAnsweredAsync(expected);

        // Of the next silence nothing is known yet.
        Assert.Null(_witness.Ask(isPresenceSilent: false));
        Assert.Null(_witness.Ask(isPresenceSilent: true));
    }

    [Fact]
    public async Task Ask_PageSaysNothingUsable_IsNo()
    {
        // More than anybody reads; no HTTP at all; nobody there.
        _answer = $"HTTP/1.1 200 OK\r\nContent-Length: 1000000\r\nConnection: close\r\n\r\n{new string('x', 100_000)}";
        await UntilAnsweredAsync(false);
        _witness.Ask(isPresenceSilent: false);
        _answer = "\0\0\0\0";
        await UntilAnsweredAsync(false);
        _witness.Ask(isPresenceSilent: false);
        _listener.Stop();
        await UntilAnsweredAsync(false);
    }

    [Fact]
    public async Task Ask_PresenceIsThere_AsksNobody()
    {
        _witness.Ask(isPresenceSilent: false);
        for (var second = 0; second < 60; second++)
            _time.Advance(TimeSpan.FromSeconds(1));
        Assert.Equal(0, _asked);

        _answer = "HTTP/1.1 200 OK\r\nContent-Length: 13\r\nConnection: close\r\n\r\nready: active";
        await UntilAnsweredAsync(true);
        Assert.True(_asked > 0);
    }

    public async ValueTask DisposeAsync()
    {
        await _over.CancelAsync();
        _listener.Stop();
        await _asking.ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
        await _serving.ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
        _witness.Dispose();
        _listener.Dispose();
        _over.Dispose();
    }

    private Task UntilAnsweredAsync(bool expected) => Until.TrueAsync(
        () =>
        {
            _time.Advance(TimeSpan.FromSeconds(1));
            return _witness.Ask(isPresenceSilent: true) == expected;
        },
        () => $"the page's answer is taken as {expected}");

    private async Task ServeAsync()
    {
        while (!_over.IsCancellationRequested)
        {
            using var client = await _listener.AcceptTcpClientAsync(_over.Token);
            _asked++;
            await using var stream = client.GetStream();
            try
            {
                _ = await stream.ReadAsync(new byte[1024], _over.Token);
                await stream.WriteAsync(Encoding.ASCII.GetBytes(_answer), _over.Token);
            }
            catch (IOException)
            {
                // Who asked has heard enough.
            }
        }
    }
}
