using SawEdge.Gateway.Forwarding;
using SawEdge.Gateway.Tests.History;

namespace SawEdge.Gateway.Tests.Forwarding.Points;

/// <summary>Reasons of stops as tag values: as many as there may be, and the same ones for good.</summary>
public sealed class StopNameTests
{
    [Fact]
    public async Task TagOf_MoreReasonsThanThereMayBe_KeepsTheFirstForGood()
    {
        await using var history = new RunningHistory();
        var names = new StopNames(history.Reader, history.Writer);
        await names.ReadAsync(CancellationToken.None);
        var random = new Random(7);
        string[] faults = [.. Enumerable.Range(0, 2000).Select(_ => $"fault {random.NextInt64(long.MinValue, long.MaxValue)}").Distinct()];
        string[] reasons = [.. Enumerable.Range(0, 2000).Select(i => $"reason {i}")];
        var tags = faults.Concat(reasons).ToDictionary(reason => reason, names.TagOf);
        await names.KeepAsync(CancellationToken.None);

        Assert.Equal(StopNames.MostFaults + StopNames.MostReasons + 2, tags.Values.Distinct().Count());
        Assert.All(faults.Take(StopNames.MostFaults).Concat(reasons.Take(StopNames.MostReasons)), reason => Assert.Equal(reason, tags[reason]));
        Assert.All(faults.Skip(StopNames.MostFaults), reason => Assert.Equal(StopNames.OtherFault, tags[reason]));
        Assert.All(reasons.Skip(StopNames.MostReasons), reason => Assert.Equal(StopNames.OtherReason, tags[reason]));

        // After a start in another order.
        var again = new StopNames(history.Reader, history.Writer);
        await again.ReadAsync(CancellationToken.None);
        Assert.All(tags.Reverse(), tag => Assert.Equal(tag.Value, again.TagOf(tag.Key)));
    }

    [Fact]
    public async Task TagOf_ReasonsThatAreTheSameAsTags_IsOne()
    {
        await using var history = new RunningHistory();
        var names = new StopNames(history.Reader, history.Writer);
        Assert.Equal(names.TagOf("a\\b"), names.TagOf("a/b"));
        Assert.Equal("fault of the guide", names.TagOf("fault of the guide"));
        await names.KeepAsync(CancellationToken.None);
        Assert.Equal(2, (await history.Reader.StopNamesAsync()).Count);
    }
}
