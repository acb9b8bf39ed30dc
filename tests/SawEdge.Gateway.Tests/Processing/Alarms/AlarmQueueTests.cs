using SawEdge.Core.Alarms;
using SawEdge.Gateway.Processing.Alarms;

namespace SawEdge.Gateway.Tests.Processing.Alarms;

public sealed class AlarmQueueTests
{
    [Fact]
    public void TakeAll_NotFull_EverythingInOrder()
    {
        var queue = new AlarmQueue(capacity: 10);
        var offered = Enumerable.Range(0, 10).Select(i => Change(i % 2 == 0, i)).ToList();
        offered.ForEach(queue.Offer);

        var taken = new List<ConditionChange>();
        queue.TakeAll(taken);
        Assert.Equal(offered, taken);
        queue.TakeAll(taken);
        Assert.Equal(10, taken.Count);
    }

    // Whatever comes while the desk is held up: for each rule the end is right, nothing that came is missed, coming and going
    // alternate, and memory stays flat.
    [Fact]
    public void TakeAll_FullForLong_EveryAlarmIsThere_AndTheEndIsRight()
    {
        for (var seed = 0; seed < 2000; seed++)
        {
            var random = new Random(seed);
            var queue = new AlarmQueue(capacity: random.Next(4));
            var levels = new Dictionary<string, bool>();
            var came = new HashSet<string>();
            var first = new Dictionary<string, DateTimeOffset>();
            for (var i = 0; i < 60; i++)
            {
                var rule = $"r{random.Next(3)}";
                var holds = random.Next(3) > 0;
                var change = Change(holds, i, rule);
                queue.Offer(change);
                levels[rule] = holds;
                if (holds && came.Add(rule))
                    first[rule] = change.At;
            }

            var taken = new List<ConditionChange>();
            queue.TakeAll(taken);
            foreach (var (rule, holds) in levels)
            {
                var own = taken.Where(change => change.Rule == rule).ToList();
                Assert.Equal(holds, own[^1].Holds);
                Assert.Equal(came.Contains(rule), own.Exists(change => change.Holds));
                if (came.Contains(rule))
                    Assert.Equal(first[rule], own.First(change => change.Holds).At);
                Assert.Equal(own.OrderBy(change => change.At), own);
            }

            Assert.True(taken.Count <= 3 + (3 * levels.Count), $"seed {seed}: {taken.Count} changes are held");
        }
    }

    [Fact]
    public async Task WaitAsync_EndsForEachOffer_AndIsFalseOnceComplete()
    {
        var queue = new AlarmQueue(capacity: 1);
        var waiting = queue.WaitAsync(CancellationToken.None);
        Assert.False(waiting.IsCompleted);
        queue.Offer(Change(true, 0));
        Assert.True(await waiting);
        queue.Offer(Change(false, 1));
        Assert.True(await queue.WaitAsync(CancellationToken.None));
        queue.Complete();
        Assert.False(await queue.WaitAsync(CancellationToken.None));
    }

    private static ConditionChange Change(bool holds, int second, string rule = "r") =>
        RunningDesk.Change(holds, RunningDesk.Start.AddSeconds(second), rule);
}
