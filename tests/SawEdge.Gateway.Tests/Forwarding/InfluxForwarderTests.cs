using Microsoft.Extensions.Time.Testing;
using SawEdge.Core;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Forwarding;
using SawEdge.Gateway.Tests.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Forwarding;

/// <summary>The forwarder's manners toward every answer, on a clock of the test's own, against a strict server.</summary>
#pragma warning disable CA1001 // The test framework calls DisposeAsync of IAsyncLifetime.
public sealed class InfluxForwarderTests : IAsyncLifetime
#pragma warning restore CA1001
{
    private readonly StrictServer _server = new();
    private readonly RunningHistory _history = new();
    private readonly FakeTimeProvider _time = new(DateTimeOffset.UtcNow);

    public Task InitializeAsync() => Task.CompletedTask;

    public async Task DisposeAsync()
    {
        await _history.DisposeAsync();
        await _server.DisposeAsync();
        Assert.Equal(0, _server.Wrong);
    }

    [Fact]
    public async Task NothingWrong_EverythingArrivesInOrderInBatches()
    {
        await AppendAsync(0, 95);
        await using var forwarder = Start(batch: 40);

        await ReachAsync(forwarder, 95);

        Assert.Equal(95, _server.Points.Count);
        Assert.Equal([40, 40, 15], _server.Requests.Select(request => request.Lines.Count));
        Assert.Equal(95, await _history.Reader.CursorAsync("main"));
        Assert.Equal([5001], forwarder.Log.Entries.Select(entry => entry.Id));
    }

    [Fact]
    public async Task AfterARestart_GoesOnWhereItWas()
    {
        await AppendAsync(0, 10);
        await using (var first = Start())
            await ReachAsync(first, 10);
        await AppendAsync(10, 5);
        await using var second = Start();

        await ReachAsync(second, 15);

        Assert.Equal([10, 5], _server.Requests.Select(request => request.Lines.Count));
    }

    [Fact]
    public async Task ACorrection_ReplacesThePoint()
    {
        await AppendAsync(0, 1);
        await using var forwarder = Start();
        await ReachAsync(forwarder, 1);
        await _history.AppendAsync(Cycles.Make("saw0", 0) with { Outcome = Core.Cycles.CutOutcome.Interrupted, Material = "other" });

        await ReachAsync(forwarder, 2);

        Assert.Contains("outcome=\"interrupted\"", Assert.Single(_server.Points).Value, StringComparison.Ordinal);
    }

    [Fact]
    public async Task BatchNotFull_WaitsItsTimeAndNoLonger()
    {
        await using var forwarder = Start(batch: 100, wait: TimeSpan.FromHours(1));
        await Until.TrueAsync(() => forwarder.Log.Count(5001) == 1, "it has started");
        await AppendAsync(0, 50);
        await Until.TrueAsync(async () => await _history.Reader.CountAfterAsync(0) == 50, "the cycles are stored");
        Assert.Empty(_server.Requests);

        _time.Advance(TimeSpan.FromMinutes(59));
        Assert.Empty(_server.Requests);
        await AppendAsync(50, 50);
        await forwarder.ReachesAsync(100);

        Assert.Equal(100, Assert.Single(_server.Requests).Lines.Count);
    }

    [Theory]
    [InlineData(429, "30", 30)]
    [InlineData(503, "5", 5)]
    [InlineData(503, "date", 40)]
    public async Task RetryAfter_IsHonoured(int status, string retryAfter, int seconds)
    {
        await AppendAsync(0, 3);
        var header = retryAfter == "date" ? _time.GetUtcNow().AddSeconds(seconds).ToString("R", System.Globalization.CultureInfo.InvariantCulture) : retryAfter;
        var began = _time.GetUtcNow();
        var seen = new List<TimeSpan>();
        _server.Answer = _ =>
        {
            seen.Add(_time.GetUtcNow() - began);
            return seen.Count == 1 ? new StrictServer.Reply(status, "{\"code\":\"x\",\"message\":\"come back later\"}", header) : StrictServer.Stored;
        };
        await using var forwarder = Start(wait: TimeSpan.Zero);
        await Until.TrueAsync(() => forwarder.InTrouble, "it notices");

        await ReachAsync(forwarder, 3, TimeSpan.FromSeconds(0.5));

        // A date is given in whole seconds; the clock of the test moves while the request is on its way.
        Assert.Equal(2, seen.Count);
        Assert.InRange(seen[1].TotalSeconds, seconds - 1, seconds + 5);
        Assert.Contains("come back later", Assert.Single(forwarder.Log.Entries, entry => entry.Id == 5002).Text, StringComparison.Ordinal);
        Assert.Equal(1, forwarder.Log.Count(5004));
    }

    [Theory]
    [InlineData(500)]
    [InlineData(502)]
    [InlineData(503)]
    [InlineData(429)]
    [InlineData(408)]
    [InlineData(0)]
    public async Task TroubleThatPasses_IsSaidOnceAtItsBeginningAndOnceAtItsEnd(int status)
    {
        await AppendAsync(0, 20);
        var refusals = 0;
        _server.Answer = _ => ++refusals <= 6 ? new StrictServer.Reply(status) : StrictServer.Stored;
        await using var forwarder = Start(batch: 10);

        await ReachAsync(forwarder, 20);

        Assert.Equal(20, _server.Points.Count);
        Assert.Equal([5001, 5002, 5004], forwarder.Log.Entries.Select(entry => entry.Id));
        Assert.Empty(await _history.Reader.RefusalsAsync("main"));
    }

    [Theory]
    [InlineData(403)]
    [InlineData(404)]
    [InlineData(301)]
    [InlineData(200)]
    public async Task TroubleToMend_IsSaidOnceWithAdviceAndGoesOnWithoutARestart(int status)
    {
        await AppendAsync(0, 5);
        _server.Answer = _ => new StrictServer.Reply(status, "{\"message\":\"bucket \\\"cuts\\\" not found\"}");
        await using var forwarder = Start();
        await PassAsync(() => _server.Requests.Count >= 5);
        Assert.Equal(0, forwarder.Cursor);

        _server.Answer = _ => StrictServer.Stored;
        await ReachAsync(forwarder, 5);

        Assert.Equal(5, _server.Points.Count);
        Assert.Equal([5001, 5003, 5004], forwarder.Log.Entries.Select(entry => entry.Id));
        Assert.Contains(status == 200 ? "no answer of a write path" : "not found", forwarder.Log.Entries[1].Text, StringComparison.Ordinal);
    }

    [Fact]
    public async Task WrongToken_IsSaidWithoutTheToken()
    {
        await AppendAsync(0, 1);
        await using var forwarder = Start(token: "not-the-right-one");

        await PassAsync(() => forwarder.InTrouble);

        var said = Assert.Single(forwarder.Log.Entries, entry => entry.Id == 5003).Text;
        Assert.Contains("unauthorized access", said, StringComparison.Ordinal);
        Assert.DoesNotContain("not-the-right-one", said, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData(400)]
    [InlineData(422)]
    public async Task BadPointsAmongGood_AreSetAsideWithTheServersReason(int status)
    {
        await AppendAsync(0, 64);
        bool IsBad(string line) => line.Contains("saw0-000007\"", StringComparison.Ordinal) || line.Contains("saw0-000040\"", StringComparison.Ordinal);
        _server.Answer = request => request.Lines.Any(IsBad) ? new StrictServer.Reply(status, "{\"message\":\"field type conflict\"}") : StrictServer.Stored;
        await using var forwarder = Start(batch: 64);
        await ReachAsync(forwarder, 64);

        Assert.Equal(62, _server.Points.Count);
        Assert.Equal(
            [(8L, "saw0-000007", "field type conflict"), (41L, "saw0-000040", "field type conflict")],
            (await _history.Reader.RefusalsAsync("main")).Select(refusal => (refusal.Sequence, refusal.CycleId, refusal.Reason)));
        Assert.Equal([5001, 5005], forwarder.Log.Entries.Select(entry => entry.Id));

        await AppendAsync(64, 1);
        await ReachAsync(forwarder, 65);
        await Until.TrueAsync(() => forwarder.Log.Count(5006) == 1, "it says that everything is taken again");
    }

    [Fact]
    public async Task AllPointsDroppedByTheServersOwnWords_AreSetAsideAtOnce()
    {
        await AppendAsync(0, 64);
        _server.Answer = request => new StrictServer.Reply(400, $"{{\"message\":\"partial write: points beyond retention policy dropped={Math.Min(request.Lines.Count, 32)}\"}}");
        await using var forwarder = Start(batch: 64);
        await ReachAsync(forwarder, 64);

        Assert.Equal([64, 32, 32], _server.Requests.Select(request => request.Lines.Count));
        Assert.Equal(Enumerable.Range(1, 64).Select(sequence => (long)sequence), (await _history.Reader.RefusalsAsync("main")).Select(refusal => refusal.Sequence));
        Assert.Equal(1, forwarder.Log.Count(5005));

        _server.Answer = _ => StrictServer.Stored;
        await AppendAsync(64, 1);
        await ReachAsync(forwarder, 65);
        await Until.TrueAsync(() => forwarder.Log.Count(5006) == 1, "it says that everything is taken again");
    }

    [Fact]
    public async Task TooLarge_HalvesUntilItFitsAndStaysThere()
    {
        await AppendAsync(0, 300);
        _server.Answer = request => request.Lines.Count > 30 ? new StrictServer.Reply(413) : StrictServer.Stored;
        await using var forwarder = Start(batch: 100);

        await ReachAsync(forwarder, 300);

        Assert.Equal(300, _server.Points.Count);
        Assert.Empty(await _history.Reader.RefusalsAsync("main"));
        Assert.Equal(1, forwarder.Log.Count(5007));
        // 100, 50, 25, 25, 50, 25, 25; from then on no request is too large.
        Assert.All(_server.Requests.Skip(7), request => Assert.InRange(request.Lines.Count, 1, 25));
    }

    [Fact]
    public async Task TooLargeAsASinglePoint_IsSetAsideAndOthersStayLarge()
    {
        await AppendAsync(0, 200);
        _server.Answer = request => request.Lines.Any(line => line.Contains("saw0-000003\"", StringComparison.Ordinal)) ? new StrictServer.Reply(413) : StrictServer.Stored;
        await using var forwarder = Start(batch: 100);

        await ReachAsync(forwarder, 200);

        Assert.Equal(199, _server.Points.Count);
        Assert.Single(await _history.Reader.RefusalsAsync("main"));
        Assert.Equal(50, _server.Requests[^1].Lines.Count);
    }

    [Fact]
    public async Task AnswerCutOffInTheMiddle_IsSentAgain()
    {
        await AppendAsync(0, 4);
        var first = true;
        _server.Answer = _ =>
        {
            var cut = first;
            first = false;
            return StrictServer.Stored with { Cut = cut };
        };
        await using var forwarder = Start();

        await ReachAsync(forwarder, 4);

        // The server had stored them the first time; the second time changed nothing.
        Assert.Equal(2, _server.Requests.Count);
        Assert.Equal(4, _server.Points.Count);
    }

    [Fact]
    public async Task NoAnswerInTime_IsSentAgain()
    {
        await AppendAsync(0, 2);
        var never = new TaskCompletionSource();
        _server.Answer = _ => new StrictServer.Reply(204, After: never.Task);
        await using var forwarder = Start(timeout: TimeSpan.FromSeconds(10));
        await PassAsync(() => forwarder.InTrouble);
        _server.Answer = _ => StrictServer.Stored;
        never.SetResult();

        await ReachAsync(forwarder, 2);

        Assert.Contains("no answer within 10 s", Assert.Single(forwarder.Log.Entries, entry => entry.Id == 5002).Text, StringComparison.Ordinal);
        Assert.Equal(2, _server.Points.Count);
    }

    // A line so slow that only a quarter of the batch gets through in time.
    [Fact]
    public async Task BatchThatTimesOutAgainAndAgain_GoesInSmallerParts_AndIsThereOnce()
    {
        await AppendAsync(0, 40);
        var never = new TaskCompletionSource();
        _server.Answer = request => request.Lines.Count > 10 ? new StrictServer.Reply(204, After: never.Task) : StrictServer.Stored;
        await using var forwarder = Start(timeout: TimeSpan.FromSeconds(10));
        await ReachAsync(forwarder, 40);
        never.SetResult();

        Assert.Equal(40, _server.Points.Count);

        // A request may time out before the server has read it.
        var sizes = _server.Requests.Select(request => request.Lines.Count).ToList();
        Assert.Equal([40, 20, 10], sizes.Distinct());
        Assert.InRange(sizes.Count(size => size == 10), 4, 4 * DeliveryPlan.Patience);
        Assert.InRange(sizes.Count(size => size == 40), 1, DeliveryPlan.Patience);
        Assert.InRange(sizes.Count(size => size == 20), 1, DeliveryPlan.Patience);
        Assert.Equal(1, forwarder.Log.Count(5002));
    }

    [Fact]
    public async Task Cancelled_InTheMiddleOfARequest_EndsAtOnceAndLosesNothing()
    {
        await AppendAsync(0, 2);
        var never = new TaskCompletionSource();
        _server.Answer = _ => new StrictServer.Reply(503, After: never.Task);
        await using (Start())
            await PassAsync(() => _server.Requests.Count == 1);

        Assert.Equal(0, await _history.Reader.CursorAsync("main"));
        never.SetResult();
        _server.Answer = _ => StrictServer.Stored;
        await using var again = Start();
        await ReachAsync(again, 2);
        Assert.Equal(2, _server.Points.Count);
    }

    [Fact]
    public async Task OneDestinationDown_HoldsUpNoOther()
    {
        await using var down = new RunningForwarder(_history, Options("down") with { Url = new Uri($"http://127.0.0.1:{Peer.FreePort()}") }, _time);
        await using var up = Start();
        await AppendAsync(0, 50);

        await ReachAsync(up, 50);

        Assert.Equal(50, _server.Points.Count);
        Assert.Equal(0, down.Cursor);
        await PassAsync(() => down.InTrouble);
        Assert.Equal(1, down.Log.Count(5002));
    }

    [Fact]
    public async Task KindsOfALaterVersion_ArePassedOver()
    {
        await AppendAsync(0, 1);
        _history.Ask("INSERT INTO journal(kind, saw, item, at) VALUES('alarm', 'saw0', 1, 0), ('alarm', 'saw0', 2, 0)");
        await using var forwarder = Start();

        await ReachAsync(forwarder, 3);

        Assert.Single(_server.Points);
    }

    private static InfluxOptions Options(string name = "main") => new() { Name = name, Url = new Uri("http://127.0.0.1:1"), Bucket = "cuts", Organization = "plant" };

    private RunningForwarder Start(int batch = 5000, TimeSpan? wait = null, TimeSpan? timeout = null, string? token = null) =>
        new(
            _history,
            Options() with { Url = _server.Url, Token = token ?? _server.Token, BatchSize = batch, MaximumWait = wait ?? TimeSpan.FromSeconds(1), Timeout = timeout ?? TimeSpan.FromHours(10) },
            _time);

    private Task AppendAsync(int first, int count) =>
        _history.Writer.AppendAsync([.. Enumerable.Range(first, count).Select(i => new Gateway.History.FinishedCycle { Record = Cycles.Make("saw0", i) })], CancellationToken.None);

    /// <summary>Lets the forwarder's clock run until something holds.</summary>
    private Task PassAsync(Func<bool> condition, TimeSpan? step = null) => Until.TrueAsync(
        () =>
        {
            _time.Advance(step ?? TimeSpan.FromSeconds(5));
            return condition();
        },
        "what the test waits for");

    private Task ReachAsync(RunningForwarder forwarder, long sequence, TimeSpan? step = null) => PassAsync(
        () =>
        {
            forwarder.ThrowIfEnded();
            return forwarder.Cursor >= sequence;
        },
        step);
}
