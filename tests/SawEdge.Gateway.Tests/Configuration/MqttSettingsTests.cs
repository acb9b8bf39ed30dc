using SawEdge.Core.Signals;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Tests.Configuration;

/// <summary>What the settings of MQTT saws become.</summary>
public class MqttSettingsTests
{
    [Fact]
    public void Topics_WithTheSawsName_AreThoseOfTheSaw()
    {
        var loaded = Sample.Load(Sample.With(
            ("saws[1].topic", "\"plant/{saw}/frame\""),
            ("saws[1].signals.cutting.topic", "\"plant/{saw}/cutting\""),
            ("brokers[0].presenceTopic", "\"plant/gateways/hall-2\"")));
        Assert.Empty(loaded.Lines());
        var source = Assert.IsType<MqttSourceOptions>(loaded.Options().Saws[1].Source);
        Assert.Equal(("plant/saw-2/frame", "plant/{saw}/frame"), (source.FrameTopic, source.FrameTemplate));
        var cutting = source.Signals.Single(mapping => mapping.Signal == Signal.Cutting);
        Assert.Equal(("plant/saw-2/cutting", "plant/{saw}/cutting"), (cutting.Topic, cutting.Template));
        Assert.Equal("plant/gateways/hall-2", loaded.Options().MqttBrokers[0].PresenceTopic);
        Assert.Equal(1883, loaded.Options().MqttBrokers[0].Port);
    }

    [Theory]
    [InlineData(null, null)]
    [InlineData("plant/saw-2", null)]
    [InlineData("{saw}", "+")]
    [InlineData("a/{saw}/b/{saw}", "a/+/b/+")]
    [InlineData("a/cell-{saw}", null)]
    [InlineData("{saw}/x{saw}", null)]
    public void FilterOf_Template_HasAWildcardWhereTheNameIsAWholeLevel(string? template, string? filter) => Assert.Equal(filter, SawTopic.FilterOf(template));

    [Theory]
    [InlineData("dd.MM.yyyy HH:mm:ss.fff", "Europe/Berlin", null)]
    [InlineData("M/d/yyyy h:mm:ss tt", "America/Chicago", null)]
    [InlineData("yyyy-MM-dd HH:mm:sszzz", null, null)]
    [InlineData("yyMMddHHmmss", "UTC", null)]
    [InlineData("dd.MM.yyyy HH:mm:ss", null, "error saws[1].timeFormat: holds no zone, so nobody can know which moment is meant; write \"timeZone\" as well")]
    [InlineData("dd.MM.yyyy HH:mm", "UTC", "error saws[1].timeFormat: 'dd.MM.yyyy HH:mm' is no pattern of a whole time; write year")]
    [InlineData("dd.MM. HH:mm:ss", "UTC", "error saws[1].timeFormat: 'dd.MM. HH:mm:ss' is no pattern of a whole time; write year")]
    [InlineData("dd.MM.yyyy hh:mm:ss", "UTC", "error saws[1].timeFormat: 'dd.MM.yyyy hh:mm:ss' is no pattern of a whole time; write year")]
    [InlineData("%", "UTC", "error saws[1].timeFormat: '%' is no pattern of a whole time; write year")]
    [InlineData("yesterday", "UTC", "error saws[1].timeFormat: 'yesterday' is no pattern of a whole time; write year")]
    public void TimeFormat_MustHoldAWholeTime(string format, string? zone, string? mistake)
    {
        var loaded = Sample.Load(Sample.With(("saws[1].timeMember", "\"t\""), ("saws[1].timeFormat", $"\"{format}\""), ("saws[1].timeZone", zone is null ? null : $"\"{zone}\"")));
        if (mistake is not null)
        {
            Assert.StartsWith(mistake, Assert.Single(loaded.Lines()), StringComparison.Ordinal);
            return;
        }

        Assert.Empty(loaded.Lines());
        var source = Assert.IsType<MqttSourceOptions>(loaded.Options().Saws[1].Source);
        Assert.Equal((format, zone), (source.TimeFormat, source.TimeZone?.Id));
    }
}
