using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition.Sparkplug;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Tests.Acquisition.Sparkplug;

/// <summary>
/// The order of a node's messages (Sparkplug 3.0, chapter 5, Host Application Message Ordering), and what is known where one is missing.
/// A value stands only if every message since it came is known to have come.
/// </summary>
public sealed class SparkplugOrderTests
{
    private readonly HostBench _host = new();

    /// <summary>tck-id-topics-ndata-seq-num and tck-id-payloads-sequence-num-incrementing: 0 to 255 and round again.</summary>
    [Fact]
    public void Sequence_RoundAndRound_IsInOrder()
    {
        _host.Births();
        for (var i = 0; i < 1000; i++)
        {
            _host.Advance(100);
            _host.Send("DDATA", "saw-1", Metric.By(12, (double)i));
        }

        Assert.Equal(1001, _host.Frames().Count);
        Assert.Empty(_host.Log.Entries);
    }

    /// <summary>Shared by node and devices (tck-id-message-flow-device-birth-publish-dbirth-payload-seq), those that are no saw among them.</summary>
    [Fact]
    public void Sequence_IsThatOfTheNodeAndAllItsDevices()
    {
        _host.Births();
        for (var i = 0; i < 300; i++)
        {
            _host.Advance(100);
            _host.Send("NDATA", null, new Metric("Voltage", 24.0));
            _host.Send("DBIRTH", "conveyor", new Metric("Speed", 1.0) { Alias = 90 });
            _host.Send("DDATA", "conveyor", Metric.By(90, 1.0));
            _host.Send("DDEATH", "conveyor");
            _host.Send("DDATA", "saw-1", Metric.By(12, (double)i));
        }

        Assert.Equal(301, _host.Frames().Count);
        Assert.Empty(_host.Log.Entries);
    }

    /// <summary>tck-id-operational-behavior-host-reordering-success: what was missing came in time.</summary>
    [Fact]
    public void Messages_TurnedRound_AreTakenInTheirOrder()
    {
        _host.Births();
        _host.Advance(100);
        var first = _host.Next(Metric.By(11, 299.0));
        _host.Advance(100);
        var second = _host.Next(Metric.By(11, 298.0));
        var death = _host.Next();
        _host.Advance(100);
        var third = _host.Next(HostBench.Metrics(297));

        _host.Receive(HostBench.Topic("DBIRTH", "saw-1"), third);
        _host.Receive(HostBench.Topic("DDATA", "saw-1"), second);
        _host.Receive(HostBench.Topic("DDEATH", "saw-1"), death);
        Assert.Single(_host.Frames());
        _host.Advance(1900);
        Assert.Empty(_host.Drain());
        _host.Receive(HostBench.Topic("DDATA", "saw-1"), first);

        var frames = _host.Frames();
        Assert.Equal([299, 298, double.NaN, 297], frames.Select(frame => frame.Number(Signal.HeadPosition)));
        Assert.Equal([100.0, 200], frames.Take(2).Select(frame => (frame.Time - HostBench.Start).TotalMilliseconds));
        Assert.Single(_host.Texts(2415));
        Assert.Empty(_host.Texts(2404));
    }

    /// <summary>tck-id-operational-behavior-host-reordering-start: after the timeout what is missing is given up.</summary>
    [Fact]
    public void Message_Lost_MakesValuesUnknownUntilTheyComeAgain()
    {
        _host.Births();
        _host.Drain();
        _host.Advance(100);
        _host.Next(Metric.By(13, true));
        _host.Advance(100);
        _host.Send("DDATA", "saw-1", Metric.By(11, 299.0));
        _host.Advance(1999);
        Assert.Empty(_host.Drain());
        _host.Advance(1);

        var frames = _host.Frames();
        Assert.Equal(2, frames.Count);
        Assert.All([Signal.HeadPosition, Signal.MotorLoad, Signal.Cutting, Signal.Job], signal => Assert.Equal(SignalQuality.SourceFault, frames[0].QualityOf(signal)));
        Assert.Equal(299, frames[1].Number(Signal.HeadPosition));
        Assert.Equal(SignalQuality.SourceFault, frames[1].QualityOf(Signal.Cutting));
        Assert.Equal(SignalQuality.SourceFault, frames[1].QualityOf(Signal.MotorLoad));
        Assert.True(frames[1].Time > frames[0].Time);
        Assert.Contains("messages were lost (3 came where 2 was due)", Assert.Single(_host.Texts(2404)), StringComparison.Ordinal);

        // The rest comes as it changes; a birth brings all of it.
        _host.Send("DDATA", "saw-1", Metric.By(12, 900.0));
        Assert.Equal(0.9, Assert.Single(_host.Frames()).Number(Signal.MotorLoad));
        _host.Send("DBIRTH", "saw-1", HostBench.Metrics(cutting: true));
        Assert.True(Assert.Single(_host.Frames()).Flag(Signal.Cutting));
    }

    [Fact]
    public void Messages_LostAgainAndAgain_AreSaidOnceAndWhenItIsOver()
    {
        _host.Births();
        for (var i = 0; i < 5; i++)
        {
            _host.Next();
            _host.Send("DDATA", "saw-1", Metric.By(11, 299.0));
            _host.Advance(2000);
        }

        Assert.Single(_host.Texts(2404));
        _host.Advance(61_000);
        _host.Send("DDATA", "saw-1", Metric.By(11, 299.0));
        Assert.Contains("that had happened 5 times", Assert.Single(_host.Texts(2406)), StringComparison.Ordinal);
    }

    /// <summary>
    /// A birth of the node has the number 0 (tck-id-topics-nbirth-seq-num): where 0 is among what is missing, the aliases may be others.
    /// </summary>
    [Fact]
    public void Messages_LostWithABirthPerhaps_MakeANewBirthNecessary()
    {
        _host.Births();
        for (var i = 0; i < 20; i++)
            _host.Send("DDATA", "saw-1", Metric.By(11, (double)i));
        _host.Drain();

        // The node was born anew, and neither its death nor its births came.
        _host.Receive(HostBench.Topic("DDATA", "saw-1"), Encoded.Payload((ulong)HostBench.Start.AddSeconds(5).ToUnixTimeMilliseconds(), 2, Metric.By(11, 7.0)));
        _host.Advance(2000);

        var frames = _host.Frames();
        Assert.DoesNotContain(frames, frame => frame.Number(Signal.HeadPosition) == 7);
        Assert.Equal(SignalQuality.SourceFault, frames[^1].QualityOf(Signal.HeadPosition));
        Assert.Contains("(2 came where 22 was due), and a birth may be among them", Assert.Single(_host.Texts(2405)), StringComparison.Ordinal);
    }

    [Fact]
    public void Message_Late_OrTwice_IsLeftOut()
    {
        _host.Births();
        _host.Drain();
        var lost = _host.Next(Metric.By(12, 1.0));
        _host.Advance(100);
        var next = _host.Next(Metric.By(11, 299.0));
        _host.Receive(HostBench.Topic("DDATA", "saw-1"), next);
        _host.Advance(2000);
        Assert.Equal(2, _host.Frames().Count);

        _host.Receive(HostBench.Topic("DDATA", "saw-1"), lost);
        _host.Receive(HostBench.Topic("DDATA", "saw-1"), next);
        _host.Advance(5000);
        Assert.Empty(_host.Frames());
        _host.Send("DDATA", "saw-1", Metric.By(11, 298.0));
        Assert.Equal(298, Assert.Single(_host.Frames()).Number(Signal.HeadPosition));
        Assert.Single(_host.Texts(2404));
    }

    [Fact]
    public void ReorderTimeout_OfZero_WaitsForNothing()
    {
        var host = new HostBench(new SparkplugHostOptions { ReorderTimeout = TimeSpan.Zero });
        host.Births();
        host.Drain();
        host.Next(Metric.By(13, true));
        host.Send("DDATA", "saw-1", Metric.By(11, 299.0));
        Assert.Equal([double.NaN, 299], host.Frames().Select(frame => frame.Number(Signal.HeadPosition)));
    }

    /// <summary>A flood of messages out of order is held up to a bound.</summary>
    [Fact]
    public void Messages_OutOfOrderWithoutEnd_AreNotKeptWithoutEnd()
    {
        _host.Births();
        _host.Drain();
        _host.Next();
        for (var i = 0; i < 100; i++)
            _host.Send("DDATA", "saw-1", Metric.By(11, (double)i));

        // Given up before its time, because there is no room for more.
        Assert.Single(_host.Texts(2404));
        Assert.Equal(99, _host.Frames()[^1].Number(Signal.HeadPosition));
    }

    /// <summary>What was sent before a birth and comes after it belongs to another order, and its aliases meant something else.</summary>
    [Fact]
    public void Message_FromBeforeTheBirth_IsLeftOut()
    {
        _host.Births();
        var old = _host.Next(Metric.By(12, 9000.0));
        _host.Advance(100);
        _host.Births();
        _host.Drain();
        _host.Receive(HostBench.Topic("DDATA", "saw-1"), old);
        Assert.Empty(_host.Frames());
        _host.Send("DDATA", "saw-1", Metric.By(12, 900.0));
        _host.Advance(5000);
        Assert.Equal(0.9, Assert.Single(_host.Drain()).Number(Signal.MotorLoad));
        Assert.Empty(_host.Log.Entries);
    }

    /// <summary>A clock that was set back after the birth costs a minute, and a new connection counts at once.</summary>
    [Fact]
    public void Clock_SetBackAfterTheBirth_IsBelievedAfterAMinute()
    {
        _host.Births(255);
        _host.Drain();
        _host.Skew = TimeSpan.FromMinutes(-30);
        _host.Send("DDATA", "saw-1", Metric.By(12, 900.0));
        Assert.Empty(_host.Frames());
        _host.Births(0);
        Assert.Equal(0.5, _host.Frames()[^1].Number(Signal.MotorLoad));

        _host.Skew = TimeSpan.FromMinutes(-60);
        _host.Advance(61_000);
        _host.Send("DDATA", "saw-1", Metric.By(12, 900.0));
        Assert.Equal(0.9, Assert.Single(_host.Frames()).Number(Signal.MotorLoad));
    }

    [Fact]
    public void NodeBirth_EndsTheWaiting()
    {
        _host.Births();
        _host.Drain();
        _host.Next();
        _host.Send("DDATA", "saw-1", Metric.By(11, 1.0));
        _host.Births();
        _host.Advance(5000);
        _host.Send("DDATA", "saw-1", Metric.By(12, 900.0));
        Assert.Equal(0.9, _host.Frames()[^1].Number(Signal.MotorLoad));
        Assert.Empty(_host.Texts(2404));
    }
}
