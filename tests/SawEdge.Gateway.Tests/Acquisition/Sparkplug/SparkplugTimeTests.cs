using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition.Sparkplug;

namespace SawEdge.Gateway.Tests.Acquisition.Sparkplug;

/// <summary>The times of frames: those of the node, where they can be, and one frame for what belongs together.</summary>
public sealed class SparkplugTimeTests
{
    private readonly HostBench _host = new();

    [Fact]
    public void Time_OfThePayload_IsTheFrames()
    {
        _host.Skew = TimeSpan.FromSeconds(-42);
        _host.Births();
        _host.Advance(200);
        _host.Send("DDATA", "saw-1", Metric.By(12, 1000.0));
        Assert.Equal([-42.0, -41.8], _host.Frames().Select(frame => (frame.Time - HostBench.Start).TotalSeconds), Close);
    }

    /// <summary>A clock that was never set, and one that is years ahead (payload times from 1970 or next year).</summary>
    [Theory]
    [InlineData(-365 * 56, "is 1970-03-16T06:00:00Z, far behind the gateway's clock")]
    [InlineData(365, "is 2027-03-02T06:00:00Z, far ahead of the gateway's clock")]
    public void Time_ThatCannotBe_GivesWayToThatOfArrivalAndThatIsSaidOnce(int days, string reason)
    {
        _host.Skew = TimeSpan.FromDays(days);
        _host.Births();
        for (var i = 0; i < 3; i++)
        {
            _host.Advance(200);
            _host.Send("DDATA", "saw-1", Metric.By(12, i * 1000.0));
        }

        Assert.Equal([0.0, 0.2, 0.4, 0.6], _host.Frames().Select(frame => (frame.Time - HostBench.Start).TotalSeconds), Close);
        Assert.Contains(reason, Assert.Single(_host.Texts(2417)), StringComparison.Ordinal);

        _host.Skew = default;
        _host.Advance(61_000);
        _host.Send("DDATA", "saw-1", Metric.By(12, 5.0));
        Assert.Single(_host.Texts(2418));
    }

    [Fact]
    public void Time_Missing_IsThatOfArrival()
    {
        _host.Births();
        _host.Drain();
        _host.Advance(300);
        _host.Next();
        _host.Receive(HostBench.Topic("DDATA", "saw-1"), Encoded.Payload(null, 2, Metric.By(12, 5.0)));
        Assert.Equal(HostBench.Start.AddMilliseconds(300), Assert.Single(_host.Frames()).Time);
        Assert.Contains("time is missing", Assert.Single(_host.Texts(2417)), StringComparison.Ordinal);
    }

    /// <summary>Chapter 5, Data Publish: several values of one metric in a message, each with a time of its own, in their order (tck-id-operational-behavior-data-publish-dbirth-order).</summary>
    [Fact]
    public void Message_WithSeveralMomentsOfAMetric_IsAFrameForEach()
    {
        _host.Births();
        _host.Advance(1000);
        var metrics = Enumerable.Range(1, 10).SelectMany(i => new[]
        {
            Metric.By(11, 300.0 - i) with { Time = HostBench.Start.AddMilliseconds(100 * i) },
            Metric.By(12, 100.0 * i) with { Time = HostBench.Start.AddMilliseconds(100 * i) },
        });
        _host.Send("DDATA", "saw-1", [.. metrics]);

        var frames = _host.Frames();
        Assert.Equal(Enumerable.Range(0, 11).Select(i => 100.0 * i), frames.Select(frame => (frame.Time - HostBench.Start).TotalMilliseconds));
        Assert.Equal(Enumerable.Range(0, 11).Select(i => 300.0 - i), frames.Select(frame => frame.Number(Signal.HeadPosition)));
        Assert.Equal(Enumerable.Range(1, 10).Select(i => 0.1 * i), frames.Skip(1).Select(frame => frame.Number(Signal.MotorLoad)), Close);
    }

    [Fact]
    public void Message_WithAValueTwiceAtOneMoment_IsTheLatter()
    {
        _host.Births();
        _host.Drain();
        _host.Advance(200);
        _host.Send("DDATA", "saw-1", Metric.By(11, 1.0), Metric.By(11, 2.0));
        Assert.Equal(2, Assert.Single(_host.Frames()).Number(Signal.HeadPosition));
    }

    /// <summary>The metric's clock is another's: an hour behind, or ahead of the message that brings it.</summary>
    [Theory]
    [InlineData(-3600)]
    [InlineData(3600)]
    public void Metric_WithTheTimeOfAnotherClock_IsOfTheMessages(int seconds)
    {
        _host.Births();
        _host.Advance(200);
        _host.Send("DDATA", "saw-1", Metric.By(11, 1.0) with { Time = HostBench.Start.AddSeconds(seconds) });
        Assert.Equal([0.0, 200], _host.Frames().Select(frame => (frame.Time - HostBench.Start).TotalMilliseconds));
    }

    /// <summary>In a birth, the times of the metrics are those of their last change, which may be long ago; the values are those of now.</summary>
    [Fact]
    public void Birth_WithOldMetrics_IsOfNow()
    {
        _host.NodeBirth();
        _host.Send("DBIRTH", "saw-1", [.. HostBench.Metrics().Select(metric => metric with { Time = HostBench.Start.AddHours(-5) })]);
        Assert.Equal(HostBench.Start, Assert.Single(_host.Frames()).Time);
    }

    [Fact]
    public void Burst_OfMessages_IsOneFrameAtItsFirst()
    {
        _host.Births();
        _host.Drain();
        _host.Advance(200);
        _host.Send("DDATA", "saw-1", Metric.By(11, 250.0));
        _host.Advance(5);
        _host.Send("DDATA", "saw-1", Metric.By(12, 1500.0));
        _host.Send("DDATA", "saw-1", Metric.By(13, true));
        _host.Advance(14);
        Assert.Empty(_host.Drain());
        _host.Advance(1);

        var frame = Assert.Single(_host.Drain());
        Assert.Equal(HostBench.Start.AddMilliseconds(200), frame.Time);
        Assert.Equal(250, frame.Number(Signal.HeadPosition));
        Assert.Equal(1.5, frame.Number(Signal.MotorLoad));
        Assert.True(frame.Flag(Signal.Cutting));
    }

    /// <summary>A node whose clock counts in whole seconds and that sends five times a second: no frame has the time of another.</summary>
    [Fact]
    public void Clock_OfWholeSeconds_IsCarriedOnByTheArrival()
    {
        _host.Births();
        for (var i = 1; i <= 15; i++)
        {
            _host.Advance(200);
            _host.Skew = TimeSpan.FromMilliseconds(-(200 * i % 1000));
            _host.Send("DDATA", "saw-1", Metric.By(11, 300.0 - i), Metric.By(12, 100.0 * i));
        }

        var frames = _host.Frames();
        Assert.Equal(Enumerable.Range(0, 16).Select(i => 300.0 - i), frames.Select(frame => frame.Number(Signal.HeadPosition)));
        Assert.Equal(Enumerable.Range(0, 16).Select(i => 200.0 * i), frames.Select(frame => (frame.Time - HostBench.Start).TotalMilliseconds));
    }

    [Fact]
    public void Clock_SetBackAnHour_IsFollowed()
    {
        _host.Births();
        _host.Advance(61_000);
        _host.Skew = TimeSpan.FromHours(-1);
        _host.Send("DDATA", "saw-1", Metric.By(11, 1.0));
        Assert.Equal(HostBench.Start.AddSeconds(61).AddHours(-1), _host.Frames()[^1].Time);
    }

    private static bool Close(double expected, double actual) => Math.Abs(expected - actual) < 1e-6;
}
