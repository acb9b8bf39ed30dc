using SawEdge.Core.Cycles;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Forwarding;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Tests.History;

namespace SawEdge.Gateway.Tests.Forwarding.Points;

/// <summary>Profiles, signals and the gateway's health as lines.</summary>
public sealed class NewPointMapperTests
{
    private static readonly LoadProfilePointMapper Profiles = new("North plant", "gw1");
    private static readonly SignalPointMapper Signals = new("North plant", "gw1");
    private static readonly HealthPointMapper HealthLines = new("North plant", "gw1");

    [Fact]
    public void ToLines_OfAProfile_AreItsBinsInOrderFromTheTimeOfTheCycle()
    {
        var record = Cycles.Make("saw 1", 2);
        var lines = Profiles.ToLines(record, new DepthProfile(ProfileBasis.Depth, 100, [1.5f, 2.5f], [2.25f, float.NaN], [70.1f, 71f])).ToList();

        Assert.Equal(
            [
                "load_profile,bin=01,gateway=gw1,saw=saw\\ 1,site=North\\ plant basis=\"depth\",cycle_id=\"saw 1-000002\",depth_from_mm=0,depth_to_mm=50,elapsed_s=0.75,from_share=0,job=\"J-1\",material=\"C45\",mean_blade_speed_m_min=70.1,mean_load_kw=2.25,outcome=\"completed\",section=\"round 100\",time_s=1.5,to_share=0.5 1772431440000",
                "load_profile,bin=02,gateway=gw1,saw=saw\\ 1,site=North\\ plant basis=\"depth\",cycle_id=\"saw 1-000002\",depth_from_mm=50,depth_to_mm=100,elapsed_s=2.75,from_share=0.5,job=\"J-1\",material=\"C45\",mean_blade_speed_m_min=71,outcome=\"completed\",section=\"round 100\",time_s=2.5,to_share=1 1772431440001",
            ],
            lines);
    }

    [Fact]
    public void ToLines_OfACorrectedProfile_AreTheSamePoints()
    {
        static IEnumerable<string> Identities(IEnumerable<string> lines) => lines.Select(ParsedLine.Of).Select(line => $"{string.Join(',', line.Tags.OrderBy(tag => tag.Key))} {line.Time}");
        var record = Cycles.Make("saw 1", 2);
        var corrected = record with { Job = "other", Blade = "B-17", Outcome = CutOutcome.Aborted, CutStartedAt = record.CutStartedAt!.Value.AddSeconds(3) };
        var first = Identities(Profiles.ToLines(record, Cycles.Profile(1))).ToList();
        Assert.Equal(DepthProfile.DefaultBins, first.Distinct().Count());
        Assert.Equal(first, Identities(Profiles.ToLines(corrected, Cycles.Profile(9))));
    }

    [Fact]
    public void ToLines_OfASample_AreItsSignalsThatHadValues()
    {
        var figures = new SignalFigures[SignalSample.Signals.Count];
        figures[0] = new SignalFigures(90, 100.1f, 50, 150.3f, 50);
        figures[^1] = new SignalFigures(100, float.NaN, 1, float.PositiveInfinity, 2);
        figures[3] = new SignalFigures(100, 0.25f, 0, 1, 1);
        var sample = new SignalSample(Cycles.Start, TimeSpan.FromSeconds(2.5), 100, figures);

        Assert.Equal(
            [
                "signal,gateway=gw1,interval_s=2.5,saw=saw\\ 1,signal=head_position,site=North\\ plant frames=90i,last=50,max=150.3,mean=100.1,min=50 1772431200000",
                "signal,gateway=gw1,interval_s=2.5,saw=saw\\ 1,signal=cycle_active,site=North\\ plant frames=100i,last=1,max=1,mean=0.25,min=0 1772431200000",
                "signal,gateway=gw1,interval_s=2.5,saw=saw\\ 1,signal=blade_deviation,site=North\\ plant frames=100i,last=2,min=1 1772431200000",
            ],
            Signals.ToLines(new SawSample("saw 1", sample)));
    }

    [Fact]
    public void ToLines_OfAReport_AreTheGatewayItsSawsAndItsDestinations()
    {
        var lines = HealthLines.ToLines(Health.Full()).Select(ParsedLine.Of).ToList();
        Assert.Equal([("gateway", ""), ("gateway_saw", "saw 1"), ("gateway_saw", "saw 2"), ("gateway_destination", "influx"), ("gateway_destination", "second")], lines.Select(line => (line.Measurement, line.Tags.GetValueOrDefault("saw") ?? line.Tags.GetValueOrDefault("destination") ?? "")));
        Assert.Equal((600L, 1L, 2L, 3L, 2L, 1L), (lines[0].Fields["frames"], lines[0].Fields["frames_lost"], lines[0].Fields["polls_missed"], lines[0].Fields["request_errors"], lines[0].Fields["saws"], lines[0].Fields["saws_heard"]));
        Assert.DoesNotContain("polls_missed", lines[2].Fields);
        Assert.Equal((7L, 12.5, 1L), (lines[3].Fields["waiting"], lines[3].Fields["lag_s"], lines[3].Fields["trouble"]));
        Assert.Equal(["interval_s"], lines[4].Fields.Keys);
        Assert.All(lines, line => Assert.Equal(Cycles.Start.ToUnixTimeMilliseconds(), line.Time));
    }

    [Fact]
    public void Report_AsItIsStored_ComesBackWhole()
    {
        foreach (var report in (HealthReport[])[Health.Full(), Health.Bare()])
        {
            var read = HealthJson.Read(HealthJson.Write(report));
            Assert.Equal(HealthLines.ToLines(report), HealthLines.ToLines(read));
        }

        Assert.Throws<InvalidDataException>(() => HealthJson.Read("{\"at\":"));
        Assert.Throws<InvalidDataException>(() => HealthJson.Read("null"));
    }
}
