using Microsoft.Extensions.Time.Testing;
using SawEdge.Gateway.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.History;

/// <summary>What is said of a disk that fails, and of one that fails now and then.</summary>
public sealed class WritingTroubleTests
{
    private readonly FakeTimeProvider _time = new();
    private readonly CollectedLog _log = new();
    private readonly WritingTrouble _trouble;

    public WritingTroubleTests() => _trouble = new WritingTrouble(_log.For<HistoryWriter>(), "data", _time);

    [Fact]
    public void Failed_ManyTimes_IsSaidOnce_AndItsEnd()
    {
        for (var i = 0; i < 100; i++)
            Fail(1);
        Assert.True(_trouble.Is);
        _trouble.Ended();
        Assert.False(_trouble.Is);
        Assert.Equal([4001, 4002], Ids());
        Assert.EndsWith("after 00:01:40; nothing was lost.", _log.Entries[1].Text, StringComparison.Ordinal);
    }

    [Fact]
    public void Failed_NowAndThen_IsSaidOnceInTenMinutes_WithHowOften()
    {
        for (var i = 0; i < 130; i++)
        {
            Fail(1);
            _trouble.Ended();
            _time.Advance(TimeSpan.FromSeconds(9));
        }

        // 0, 10 and 20 minutes; between them each sixtieth time only.
        Assert.Equal([4001, 4002, 4001, 4002, 4001, 4002], Ids());
        Assert.Contains("It came and went 59 times since this was said last.", _log.Entries[2].Text, StringComparison.Ordinal);
    }

    [Fact]
    public void Failed_SoonAfter_ButLasting_IsSaid()
    {
        Fail(1);
        _trouble.Ended();
        for (var i = 0; i < 11; i++)
            Fail(1);
        Assert.Equal([4001, 4002, 4001], Ids());
        Assert.Equal(11, (int)WritingTrouble.Lasting.TotalSeconds + 1);
        _trouble.Ended();
        Assert.Equal([4001, 4002, 4001, 4002], Ids());
    }

    private void Fail(int seconds)
    {
        _trouble.Failed("disk I/O error");
        _time.Advance(TimeSpan.FromSeconds(seconds));
    }

    private List<int> Ids() => [.. _log.Entries.Select(entry => entry.Id)];
}
