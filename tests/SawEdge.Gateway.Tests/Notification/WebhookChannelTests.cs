using System.Globalization;
using Microsoft.Extensions.Time.Testing;
using SawEdge.Core.Alarms;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Tests.History;

namespace SawEdge.Gateway.Tests.Notification;

/// <summary>A channel of webhooks from the journal to a receiver, on a clock of the test's own.</summary>
#pragma warning disable CA1001 // The test framework calls DisposeAsync of IAsyncLifetime.
public sealed class WebhookChannelTests : IAsyncLifetime
#pragma warning restore CA1001
{
    private readonly HookReceiver _receiver = new();
    private readonly RunningHistory _history = new();
    private readonly FakeTimeProvider _time = new(DateTimeOffset.UtcNow);

    public Task InitializeAsync() => Task.CompletedTask;

    public async Task DisposeAsync()
    {
        await _history.DisposeAsync();
        await _receiver.DisposeAsync();
    }

    [Fact]
    public async Task NothingWrong_EachNoticeOfTheChannelIsOneRequestInOrder()
    {
        await StoreAsync(1, 2, 3);
        await RunningChannel.StoreAsync(_history, [], Samples.Notice(channel: "other", alarms: 1).Notice);
        await using var channel = Start();

        await channel.ReachesAsync(await LastAsync());

        Assert.Equal(3, _receiver.Requests.Count);
        for (var i = 0; i < 3; i++)
            Assert.Contains(string.Create(CultureInfo.InvariantCulture, $"\"number\":{i + 1},"), _receiver.Requests[i].Text, StringComparison.Ordinal);
        Assert.Equal(3, _receiver.Requests.Select(request => request.Headers["webhook-id"]).Distinct().Count());
        Assert.Equal([7001], channel.Log.Entries.Select(entry => entry.Id));
    }

    [Fact]
    public async Task NewNotice_LeavesAtOnceWithoutTheClockMoving()
    {
        await using var channel = Start();
        await StoreAsync(1);

        await channel.ReachesAsync(await LastAsync());

        Assert.Single(_receiver.Requests);
    }

    [Fact]
    public async Task AfterARestart_NothingIsSentTwice()
    {
        await StoreAsync(1, 2);
        await using (var first = Start())
            await first.ReachesAsync(await LastAsync());
        await StoreAsync(3);
        await using var second = Start();

        await second.ReachesAsync(await LastAsync());

        Assert.Equal(3, _receiver.Requests.Count);
    }

    [Theory]
    [InlineData(0, 7002)]
    [InlineData(500, 7002)]
    [InlineData(429, 7002)]
    [InlineData(302, 7003)]
    [InlineData(401, 7003)]
    [InlineData(410, 7003)]
    [InlineData(200, 7003)]
    public async Task Trouble_IsSaidOnceAtItsBeginningAndItsEndAndTheSameIdentityIsTriedAgain(int status, int said)
    {
        var failures = 0;
        _receiver.Answer = (_, _) => ++failures > 4 ? HookReceiver.Once(204) : status == 0 ? HookReceiver.Reset() : HookReceiver.Once(status, "<!doctype html>");
        await StoreAsync(1);
        await using var channel = Start();
        await channel.UntilAsync(() => channel.InTrouble, () => "it notices");

        await channel.ReachesAsync(await LastAsync(), Faster);

        Assert.Equal(5, _receiver.Requests.Count);
        Assert.Single(_receiver.Requests.Select(request => request.Headers["webhook-id"]).Distinct());
        Assert.Equal([7001, said, 7004], channel.Log.Entries.Select(entry => entry.Id));
        Assert.False(channel.InTrouble);
    }

    [Fact]
    public async Task RetryAfter_IsHonoured()
    {
        var began = _time.GetUtcNow();
        var seen = new List<TimeSpan>();
        _receiver.Answer = (_, _) =>
        {
            seen.Add(_time.GetUtcNow() - began);
            return seen.Count == 1 ? HookReceiver.Once(503, "", "Retry-After: 90") : HookReceiver.Once(204);
        };
        await StoreAsync(1);
        await using var channel = Start();
        await channel.UntilAsync(() => channel.InTrouble, () => "it notices");

        await channel.ReachesAsync(await LastAsync(), () => _time.Advance(TimeSpan.FromSeconds(1)));

        Assert.InRange(seen[1].TotalSeconds, 90, 110);
    }

    [Fact]
    public async Task Refused_IsSetAsideWithTheReceiversWordsAndTheRestGoesOn()
    {
        _receiver.Answer = (request, _) => request.Text.Contains("\"number\":2,", StringComparison.Ordinal) ? HookReceiver.Once(422, "unknown saw") : HookReceiver.Once(204);
        await StoreAsync(1, 2, 3);
        await using var channel = Start();

        await channel.ReachesAsync(await LastAsync());

        var refusal = Assert.Single(await _history.Reader.RefusalsAsync("hook"));
        Assert.Contains("status 422, 'unknown saw'", refusal.Reason, StringComparison.Ordinal);
        Assert.Equal(3, _receiver.Requests.Count);
        Assert.Equal([7001, 7005, 7006], channel.Log.Entries.Select(entry => entry.Id));
    }

    [Fact]
    public async Task OneMessageThatAlwaysFails_HoldsUpNoOther()
    {
        _receiver.Answer = (request, _) => request.Text.Contains("\"number\":1,", StringComparison.Ordinal) ? HookReceiver.Once(500, "cannot read this") : HookReceiver.Once(204);
        await StoreAsync(1, 2, 3);
        await using var channel = Start();

        await channel.UntilAsync(() => _receiver.Requests.Count(request => !request.Text.Contains("\"number\":1,", StringComparison.Ordinal)) == 2, () => "the others are there", Faster);

        // While it keeps others in between it is tried again, and set aside in the end.
        for (var number = 4; number < 30 && channel.Cursor < 4; number++)
        {
            await StoreAsync(number);
            var expected = number - 1;
            await channel.UntilAsync(() => _receiver.Requests.Count(request => !request.Text.Contains("\"number\":1,", StringComparison.Ordinal)) == expected, () => "the next is there", Faster);
            _time.Advance(TimeSpan.FromMinutes(3));
        }

        await channel.ReachesAsync(await LastAsync(), Faster);
        Assert.Contains("while others were taken", Assert.Single(await _history.Reader.RefusalsAsync("hook")).Reason, StringComparison.Ordinal);
    }

    [Fact]
    public async Task DownForTooLong_IsSetAsideAndNewMessagesAreTried()
    {
        _receiver.Answer = (_, _) => HookReceiver.Once(500, "down");
        await StoreAsync(1);
        await using var channel = Start();
        await channel.UntilAsync(() => channel.InTrouble, () => "it notices");

        await channel.ReachesAsync(await LastAsync(), () => _time.Advance(TimeSpan.FromHours(1)));

        // Where the clock goes on by an hour before the answer is there, the last attempt had none.
        Assert.Matches("not delivered within 3 days: (it cannot take messages now \\(status 500, 'down'\\)|no whole answer)", Assert.Single(await _history.Reader.RefusalsAsync("hook")).Reason);
    }

    [Fact]
    public async Task Webhooks_AreNeverMergedAndSayThatTheyWaited()
    {
        _receiver.Answer = (_, _) => HookReceiver.Once(503);
        await StoreAsync(1, 2);
        await using var channel = Start();
        await channel.UntilAsync(() => channel.InTrouble, () => "it notices");
        _time.Advance(TimeSpan.FromMinutes(30));
        _receiver.Answer = (_, _) => HookReceiver.Once(204);
        var before = _receiver.Requests.Count;

        await channel.ReachesAsync(await LastAsync(), Faster);

        Assert.All(_receiver.Requests.Skip(before + 1), request => Assert.Contains("held up", request.Text, StringComparison.Ordinal));
        Assert.Equal(2, _receiver.Requests.Select(request => request.Headers["webhook-id"]).Distinct().Count());
    }

    private void Faster() => _time.Advance(TimeSpan.FromSeconds(5));

    private RunningChannel Start() => new(_history, new WebhookOptions { Name = "hook", Url = _receiver.Url, Timeout = TimeSpan.FromHours(1) }, _time);

    private async Task<long> LastAsync() => await _history.Reader.LastSequenceAsync();

    private Task StoreAsync(params int[] numbers) => RunningChannel.StoreAsync(
        _history,
        [.. numbers.Select(number => Occurrences.Event(Samples.Overload(number)))],
        [.. numbers.Select(number => Samples.Notice(channel: "hook", alarms: number).Notice)]);
}
