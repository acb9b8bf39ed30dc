using SawEdge.Gateway.Forwarding;

namespace SawEdge.Gateway.Tests.Forwarding;

public sealed class DeliveryRulesTests
{
    // Meanings of the codes: RFC 9110 section 15, RFC 6585 (429). What the v2 write path answers with them (400 bad line,
    // 401, 404 no bucket, 413 too large, 422 refused, 429 and 503 with Retry-After): its public API description.
    [Theory]
    [InlineData(204, 10, Verdict.Accepted)]
    [InlineData(200, 10, Verdict.Mend)]
    [InlineData(202, 1, Verdict.Mend)]
    [InlineData(0, 10, Verdict.Wait)]
    [InlineData(0, 1, Verdict.Wait)]
    [InlineData(408, 10, Verdict.Wait)]
    [InlineData(429, 10, Verdict.Wait)]
    [InlineData(500, 10, Verdict.Wait)]
    [InlineData(502, 1, Verdict.Wait)]
    [InlineData(503, 10, Verdict.Wait)]
    [InlineData(504, 10, Verdict.Wait)]
    [InlineData(507, 10, Verdict.Wait)]
    [InlineData(400, 10, Verdict.Split)]
    [InlineData(413, 10, Verdict.Split)]
    [InlineData(422, 2, Verdict.Split)]
    [InlineData(400, 1, Verdict.SetAside)]
    [InlineData(413, 1, Verdict.SetAside)]
    [InlineData(422, 1, Verdict.SetAside)]
    [InlineData(301, 10, Verdict.Mend)]
    [InlineData(308, 1, Verdict.Mend)]
    [InlineData(401, 10, Verdict.Mend)]
    [InlineData(402, 1, Verdict.Mend)]
    [InlineData(403, 1, Verdict.Mend)]
    [InlineData(404, 1, Verdict.Mend)]
    [InlineData(405, 10, Verdict.Mend)]
    [InlineData(418, 10, Verdict.Mend)]
    public void Judge_EveryAnswer_LosesNothing(int status, int points, object verdict) => Assert.Equal(verdict, DeliveryRules.Judge(status, points));

    // The words are those of influxd 1.x, which SendingAgainTests hears from a real one.
    [Theory]
    [InlineData(400, "partial write: points beyond retention policy dropped=10", Verdict.SetAside)]
    [InlineData(422, "partial write: field type conflict: input field \"a dropped=3\" is type string dropped=10", Verdict.SetAside)]
    [InlineData(400, "partial write: points beyond retention policy dropped=9", Verdict.Split)]
    [InlineData(400, "partial write: points beyond retention policy dropped=100", Verdict.Split)]
    [InlineData(400, "partial write: points beyond retention policy dropped=99999999999999", Verdict.Split)]
    [InlineData(400, "unable to parse 'cycle notes=\"dropped=10", Verdict.Split)]
    [InlineData(413, "partial write: too much dropped=10", Verdict.Split)]
    [InlineData(503, "partial write: dropped=10", Verdict.Wait)]
    [InlineData(204, "partial write: dropped=10", Verdict.Accepted)]
    public void Judge_OnlyWhereTheServerSaysThatAllWereDropped_SetsAsideWhole(int status, string words, object verdict) => Assert.Equal(verdict, DeliveryRules.Judge(new ServerAnswer(status, words), 10));

    [Theory]
    [InlineData(null, null)]
    [InlineData(0, 1)]
    [InlineData(1, 1)]
    [InlineData(17, 17)]
    [InlineData(600, 600)]
    [InlineData(86400, 600)]
    public void WaitFor_WhatTheServerAsks_IsHonouredWithinBounds(int? asked, int? waited)
    {
        var answer = new ServerAnswer(503, "", asked is null ? null : TimeSpan.FromSeconds(asked.Value));
        Assert.Equal(waited is null ? null : TimeSpan.FromSeconds(waited.Value), DeliveryRules.WaitFor(answer));
    }

    [Theory]
    [InlineData(10, 10, 0.0, 0.0)]
    [InlineData(11, 10, 0.0, 0.0)]
    [InlineData(3, 10, 0.0, 5.0)]
    [InlineData(3, 10, 4.5, 0.5)]
    [InlineData(3, 10, 5.0, 0.0)]
    [InlineData(3, 10, 1e6, 0.0)]
    [InlineData(3, 10, -3600.0, 5.0)]
    public void Fill_BySizeAndAge_IsNeverLongerThanTheLongestWait(long waiting, int full, double ageSeconds, double waitSeconds) =>
        Assert.Equal(TimeSpan.FromSeconds(waitSeconds), DeliveryRules.Fill(waiting, full, TimeSpan.FromSeconds(ageSeconds), TimeSpan.FromSeconds(5)));

    [Fact]
    public void BatchLimit_TooLarge_IsTheLargestThatWasTakenAndGrowsBackSlowly()
    {
        var limit = new BatchLimit(1000);
        limit.TooLarge(taken: 250);
        Assert.Equal(250, limit.Current);

        for (var i = 0; i < BatchLimit.TakenBeforeGrowth - 1; i++)
            limit.Taken(250);
        limit.Taken(249);
        Assert.Equal(250, limit.Current);
        limit.Taken(250);
        Assert.Equal(500, limit.Current);

        for (var i = 0; i < 3 * BatchLimit.TakenBeforeGrowth; i++)
            limit.Taken(limit.Current);
        Assert.Equal(1000, limit.Current);
    }

    [Fact]
    public void BatchLimit_NothingTaken_IsOne()
    {
        var limit = new BatchLimit(1000);
        limit.TooLarge(taken: 0);
        Assert.Equal(1, limit.Current);
    }
}
