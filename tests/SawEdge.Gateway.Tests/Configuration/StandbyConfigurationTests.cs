using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Tests.Configuration;

public sealed class StandbyConfigurationTests
{
    private const string Good = """{ "role": "second", "broker": "hall", "topic": "plant/hall-2b", "other": "plant/hall-2" }""";

    [Fact]
    public void Load_Standby_IsRead()
    {
        var standby = Sample.Load(Sample.With(("standby", Good))).Options().Standby;
        Assert.Equal(new StandbyOptions { IsFirst = false, Broker = "hall", Topic = "plant/hall-2b", Other = "plant/hall-2", After = TimeSpan.FromSeconds(10) }, standby);
    }

    [Fact]
    public void Load_WithoutIt_GatewayWatchesAlone() => Assert.Null(Sample.Load(Sample.With()).Options().Standby);

    [Fact]
    public void Load_OtherPage_IsForTheSecondAlone()
    {
        var stated = Good.Replace(" }", """, "otherPage": "http://hall-2:8080" }""", StringComparison.Ordinal);
        Assert.Equal(new Uri("http://hall-2:8080"), Sample.Load(Sample.With(("standby", stated))).Options().Standby!.OtherPage);
        Assert.Equal(
            ["error standby.otherPage: is for the second gateway alone: the first watches as long as it runs, whatever the second does"],
            Sample.Load(Sample.With(("standby", stated.Replace("second", "first", StringComparison.Ordinal)))).Lines());
    }

    [Theory]
    [InlineData("standby.other", "\"plant/hall-2b\"", "error standby.other: is the topic of this gateway; write that of the other one")]
    [InlineData("standby.broker", "\"hal\"", "error standby.broker: there is no broker 'hal'; did you mean 'hall'?")]
    [InlineData("standby.topic", "\"plant/+\"", "error standby.topic: 'plant/+' holds a wildcard; the gateway's own topic is written in full")]
    [InlineData("brokers[0].presenceTopic", "\"plant/hall-2b\"", "error standby.topic: is the presenceTopic of broker 'hall' already, which another connection writes; give the two gateways topics of their own here")]
    [InlineData("brokers[0].presenceTopic", "\"plant/hall-2\"", "error standby.other: is the presenceTopic of broker 'hall' already, which another connection writes; give the two gateways topics of their own here")]
    public void Load_Mistake_IsSaidWithItsPlace(string path, string value, string expected) =>
        Assert.Equal([expected], Sample.Load(Sample.With(("standby", Good), (path, value))).Lines());
}
