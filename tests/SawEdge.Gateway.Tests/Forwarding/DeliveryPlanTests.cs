using CsCheck;
using SawEdge.Gateway.Forwarding;

namespace SawEdge.Gateway.Tests.Forwarding;

public sealed class DeliveryPlanTests
{
    [Fact]
    public void Plan_NoPoints_HasNothingToSend() => Assert.False(new DeliveryPlan(0).TryNext(out _, out _));

    [Fact]
    public void Heard_TimedOutAgainAndAgain_HalvesDownToA64th_AndNoFurther()
    {
        var plan = new DeliveryPlan(1000);
        for (var i = 0; i < 1000; i++)
            plan.Heard(timedOut: true);
        Assert.True(plan.TryNext(out var start, out var count));
        Assert.Equal((0, 15), (start, count));
        Assert.True(plan.IsTooSlow);
        var sent = 0;
        while (plan.TryNext(out start, out count))
        {
            Assert.Equal(plan.Done, start);
            plan.Settle();
            sent++;
        }

        Assert.Equal((1000, 64), (plan.Done, sent));
    }

    [Fact]
    public void Heard_AnAnswerBetweenTwoTimeOuts_HalvesNothing()
    {
        var plan = new DeliveryPlan(1000);
        for (var i = 0; i < 100; i++)
            plan.Heard(timedOut: i % 3 != 0);
        Assert.True(plan.TryNext(out _, out var count));
        Assert.Equal(1000, count);
        Assert.False(plan.IsTooSlow);
    }

    [Fact]
    public void Split_SinglePoint_IsAnError()
    {
        var plan = new DeliveryPlan(1);
        Assert.True(plan.TryNext(out _, out _));
        Assert.Throws<InvalidOperationException>(plan.Split);
    }

    [Fact]
    public void Plan_AnyPointsBad_ExactlyThoseAreSetAsideInOrderWithFewRequests() =>
        Gen.Bool.Array[1, 300].Sample(
            bad =>
            {
                var plan = new DeliveryPlan(bad.Length);
                var stored = new List<int>();
                var aside = new List<int>();
                var requests = 0;
                while (plan.TryNext(out var start, out var count))
                {
                    requests++;
                    Assert.Equal(plan.Done, start);
                    if (!bad.AsSpan(start, count).Contains(true))
                        stored.AddRange(Enumerable.Range(start, count));
                    else if (count > 1)
                    {
                        plan.Split();
                        continue;
                    }
                    else
                        aside.Add(start);
                    plan.Settle();
                }

                Assert.Equal(bad.Length, plan.Done);
                Assert.Equal(Enumerable.Range(0, bad.Length).Where(i => bad[i]), aside);
                Assert.Equal(Enumerable.Range(0, bad.Length).Where(i => !bad[i]), stored);
                // Each bad point is met once on each level of halving, with one sibling each time.
                var levels = (int)Math.Ceiling(Math.Log2(bad.Length)) + 1;
                Assert.InRange(requests, 1, Math.Max(1, 2 * levels * aside.Count));
            },
            iter: 2000);
}
