using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition.Mqtt;
using SawEdge.Gateway.Acquisition.Sparkplug;
using SawEdge.Gateway.Configuration;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Acquisition.Sparkplug;

/// <summary>Births, data and deaths, by the clauses of the Sparkplug 3.0 specification (GitHub eclipse-sparkplug/sparkplug@e45b610), chapters 4 to 6.</summary>
public sealed class SparkplugSessionTests
{
    private readonly HostBench _host = new();

    [Fact]
    public void Birth_OfTheDevice_IsAFrameWithItsPresentValues()
    {
        _host.Births();

        var frame = Assert.Single(_host.Drain());
        Assert.Equal(HostBench.Start, frame.Time);
        Assert.Equal(300, frame.Number(Signal.HeadPosition));
        Assert.Equal(0.5, frame.Number(Signal.MotorLoad));
        Assert.False(frame.Flag(Signal.Cutting));
        Assert.Equal("J-1", frame.Text(Signal.Job));
        Assert.Empty(_host.Log.Entries);
    }

    /// <summary>tck-id-payloads-alias-data-cmd-requirement: data come with the alias alone; and report what changed (tck-id-operational-behavior-data-publish-dbirth-change).</summary>
    [Fact]
    public void Data_ByAlias_ChangeWhatTheyBringAndTheRestStands()
    {
        _host.Births();
        _host.Advance(200);
        _host.Send("DDATA", "saw-1", Metric.By(12, 4200.0));
        _host.Advance(200);
        _host.Send("DDATA", "saw-1", Metric.By(13, true), Metric.By(15, 2U));

        var frames = _host.Frames();
        Assert.Equal([0.0, 200, 400], frames.Select(frame => (frame.Time - HostBench.Start).TotalMilliseconds));
        Assert.Equal([0.5, 4.2, 4.2], frames.Select(frame => frame.Number(Signal.MotorLoad)));
        Assert.Equal([false, false, true], frames.Select(frame => frame.Flag(Signal.Cutting)!.Value));
        Assert.All(frames, frame => Assert.Equal(300, frame.Number(Signal.HeadPosition)));
        Assert.Empty(_host.Log.Entries);
    }

    [Fact]
    public void Data_ByName_AreUsedAsWell()
    {
        _host.Births();
        _host.Advance(200);
        _host.Send("DDATA", "saw-1", new Metric("Drive/Power", 4200.0, SparkplugDataType.Unknown), new Metric("Never Wanted", 1.0));

        Assert.Equal(4.2, _host.Frames()[^1].Number(Signal.MotorLoad));
        Assert.Empty(_host.Log.Entries);
    }

    [Fact]
    public void Data_WithoutAMappedMetric_AreNoFrame()
    {
        _host.Births();
        _host.Drain();
        _host.Advance(200);
        _host.Send("DDATA", "saw-1", Metric.By(15, 7U));
        Assert.Empty(_host.Frames());
    }

    /// <summary>Data by their types as they were born: a negative Int16 is one although the data bring no type (tck-id-payloads-metric-datatype-not-req).</summary>
    [Fact]
    public void Data_WithoutType_AreReadByTheTypeOfTheBirth()
    {
        _host.NodeBirth();
        _host.Send("DBIRTH", "saw-1", new Metric("Head/Position", 5U, SparkplugDataType.Int16) { Alias = 1 });
        _host.Advance(200);
        _host.Send("DDATA", "saw-1", Metric.By(1, unchecked((uint)-7)));
        Assert.Equal(-7, _host.Frames()[^1].Number(Signal.HeadPosition));
    }

    [Fact]
    public void Data_WithANull_TakeTheValueAway()
    {
        _host.Births();
        _host.Advance(200);
        _host.Send("DDATA", "saw-1", new Metric(null, null, SparkplugDataType.Unknown) { Alias = 12, IsNull = true });
        Assert.Equal(SignalQuality.NotRead, _host.Frames()[^1].QualityOf(Signal.MotorLoad));
        Assert.Empty(_host.Log.Entries);
    }

    [Fact]
    public void Data_ThatAreHistorical_AreNotWhatIsNow()
    {
        _host.Births();
        _host.Drain();
        _host.Advance(200);
        _host.Send("DDATA", "saw-1", new Metric(null, 9999.0, SparkplugDataType.Unknown) { Alias = 12, IsHistorical = true });
        Assert.Empty(_host.Frames());
        _host.Send("DDATA", "saw-1", Metric.By(13, true));
        Assert.Equal(0.5, Assert.Single(_host.Frames()).Number(Signal.MotorLoad));
    }

    [Fact]
    public void Data_OfAnAliasThatWasNeverBorn_AreLeftOutAndThatIsSaidOnce()
    {
        _host.Births();
        _host.Drain();
        for (var i = 0; i < 100; i++)
            _host.Send("DDATA", "saw-1", Metric.By(99, 1.0));
        Assert.Empty(_host.Frames());
        Assert.Contains("sends the alias 99, which was not in its birth", Assert.Single(_host.Texts(2407)), StringComparison.Ordinal);

        _host.Advance(61_000);
        _host.Send("DDATA", "saw-1", Metric.By(12, 1000.0));
        Assert.Contains("100 values were left out", Assert.Single(_host.Texts(2408)), StringComparison.Ordinal);
        Assert.Equal(1, Assert.Single(_host.Frames()).Number(Signal.MotorLoad));
    }

    [Fact]
    public void Data_BeforeABirth_AreLeftOutAndThatIsSaidOnce()
    {
        for (var i = 0; i < 5; i++)
            _host.Send("DDATA", "saw-1", Metric.By(12, 1.0), new Metric("Drive/Power", 1.0));
        Assert.Empty(_host.Frames());
        Assert.Contains("data of Riverbend/hall-2/saw-1 come, but its birth was not seen", Assert.Single(_host.Texts(2402)), StringComparison.Ordinal);

        _host.Births();
        Assert.Single(_host.Drain());
        _host.Advance(61_000);
        _host.Send("DDATA", "saw-1", Metric.By(12, 1.0));
        Assert.Contains("5 messages before that were left out", Assert.Single(_host.Texts(2403)), StringComparison.Ordinal);
    }

    /// <summary>A gateway that began in the middle of a session: the birth of a device is whole in itself.</summary>
    [Fact]
    public void DeviceBirth_InTheMiddleOfASession_IsTaken()
    {
        _host.Next();
        _host.Next();
        _host.Send("DBIRTH", "saw-1", HostBench.Metrics());
        _host.Advance(200);
        _host.Send("DDATA", "saw-1", Metric.By(12, 1000.0));
        Assert.Equal([0.5, 1.0], _host.Frames().Select(frame => frame.Number(Signal.MotorLoad)));
        Assert.Empty(_host.Log.Entries);
    }

    /// <summary>tck-id-operational-behavior-edge-node-termination-host-action-ndeath-devices-tags-stale.</summary>
    [Fact]
    public void NodeDeath_OfThisBirth_MakesAllSignalsBadOnce()
    {
        _host.Births(7);
        _host.Drain();
        _host.Advance(1500);
        _host.Death(7);
        _host.Death(7);

        var frame = Assert.Single(_host.Frames());
        Assert.Equal(HostBench.Start.AddMilliseconds(1500), frame.Time);
        Assert.All([Signal.HeadPosition, Signal.MotorLoad, Signal.Cutting, Signal.Job], signal => Assert.Equal(SignalQuality.SourceFault, frame.QualityOf(signal)));
        Assert.Contains("says that it is gone", Assert.Single(_host.Texts(2415)), StringComparison.Ordinal);

        // What comes without a new birth is of no use.
        _host.Send("DDATA", "saw-1", Metric.By(12, 1.0));
        Assert.Empty(_host.Frames());
    }

    /// <summary>Chapter 5, Edge Node Session Establishment: the will of an earlier connection may come after the birth over a new one; tck-id-topics-nbirth-bdseq-matching.</summary>
    [Fact]
    public void NodeDeath_OfAnEarlierBirth_IsNothing()
    {
        _host.Births(255);
        _host.Births(0);
        _host.Drain();
        _host.Death(255);
        Assert.Empty(_host.Frames());

        _host.Advance(200);
        _host.Send("DDATA", "saw-1", Metric.By(12, 1000.0));
        Assert.Equal(1, Assert.Single(_host.Frames()).Number(Signal.MotorLoad));
        _host.Death(0);
        Assert.Equal(SignalQuality.SourceFault, Assert.Single(_host.Frames()).QualityOf(Signal.MotorLoad));
    }

    /// <summary>tck-id-topics-nbirth-bdseq-included is broken: whose death it is cannot be told, and gone is the safer reading.</summary>
    [Fact]
    public void NodeDeath_OfABirthWithoutANumber_Counts()
    {
        _host.Receive(HostBench.Topic("NBIRTH", null), Encoded.Payload(1, 0));
        _host.Receive(HostBench.Topic("DBIRTH", "saw-1"), Encoded.Payload(1, 1, HostBench.Metrics()));
        _host.Death(3);
        Assert.Equal(SignalQuality.SourceFault, _host.Frames()[^1].QualityOf(Signal.MotorLoad));
    }

    /// <summary>tck-id-payloads-sequence-num-zero-nbirth is broken: the order goes on from there.</summary>
    [Fact]
    public void NodeBirth_WithAnotherNumberThanZero_BeginsTheOrderThere()
    {
        _host.Receive(HostBench.Topic("NBIRTH", null), Encoded.Payload(1, 254));
        _host.Receive(HostBench.Topic("DBIRTH", "saw-1"), Encoded.Payload(1, 255, HostBench.Metrics()));
        _host.Advance(200);
        _host.Send("DDATA", "saw-1", Metric.By(12, 1000.0));
        Assert.Equal([0.5, 1.0], _host.Frames().Select(frame => frame.Number(Signal.MotorLoad)));
        Assert.Empty(_host.Texts(2404));
    }

    /// <summary>A node that is born a thousand times in a row, each time with other faults, fills no log.</summary>
    [Fact]
    public void Births_WithoutEnd_AreNotSaidWithoutEnd()
    {
        for (var i = 0; i < 1000; i++)
        {
            _host.NodeBirth((ulong)i % 256);
            _host.Send("DBIRTH", "saw-1", i % 2 == 0 ? HostBench.Metrics()[1..] : [new Metric("Job", new byte[1], SparkplugDataType.Bytes) { Alias = 1 }, new Metric("x", 1.0) { Alias = 1 }]);
            _host.Death((ulong)i % 256);
            _host.Advance(100);
        }

        Assert.InRange(_host.Log.Entries.Count, 1, 6);
    }

    [Fact]
    public void NodeDeath_WithoutANumber_Counts()
    {
        _host.Births();
        _host.Death(null);
        Assert.Equal(SignalQuality.SourceFault, _host.Frames()[^1].QualityOf(Signal.MotorLoad));
    }

    /// <summary>tck-id-operational-behavior-edge-node-termination-host-action-ddeath-devices-tags-stale: at the time in the payload.</summary>
    [Fact]
    public void DeviceDeath_MakesItsSignalsBadAndNoOthers()
    {
        var host = new HostBench(null, HostBench.Saw(), HostBench.Saw("saw-2", "saw-2"));
        host.Births();
        host.Send("DBIRTH", "saw-2", HostBench.Metrics());
        host.Drain(0);
        host.Drain(1);
        host.Skew = TimeSpan.FromSeconds(-0.2);
        host.Advance(1000);
        host.Send("DDEATH", "saw-1");

        var frame = Assert.Single(host.Frames());
        Assert.Equal(HostBench.Start.AddMilliseconds(800), frame.Time);
        Assert.Equal(SignalQuality.SourceFault, frame.QualityOf(Signal.HeadPosition));
        Assert.Empty(host.Drain(1));

        host.Advance(1000);
        host.Send("DBIRTH", "saw-1", HostBench.Metrics());
        host.Send("DDATA", "saw-2", new Metric(null, 2000.0, SparkplugDataType.Unknown) { Alias = 12 });
        Assert.Equal(300, Assert.Single(host.Frames(0)).Number(Signal.HeadPosition));
        Assert.Equal(2, Assert.Single(host.Drain(1)).Number(Signal.MotorLoad));
    }

    /// <summary>Chapter 4, payload of NBIRTH: devices stay stale until births of their own.</summary>
    [Fact]
    public void NodeBirth_Anew_MakesItsDevicesWaitForBirthsOfTheirOwn()
    {
        _host.Births();
        _host.Advance(1000);
        _host.NodeBirth();
        _host.Send("DDATA", "saw-1", Metric.By(12, 1.0));
        Assert.Equal([SignalQuality.Good, SignalQuality.SourceFault], _host.Frames().Select(frame => frame.QualityOf(Signal.MotorLoad)));

        _host.Send("DBIRTH", "saw-1", HostBench.Metrics(watts: 750));
        Assert.Equal(0.75, Assert.Single(_host.Frames()).Number(Signal.MotorLoad));
    }

    /// <summary>An alias is that of the latest birth: born anew, a device may number its metrics otherwise.</summary>
    [Fact]
    public void Birth_WithOtherAliases_TakesThePlaceOfTheOnesBefore()
    {
        _host.Births();
        _host.Send("DBIRTH", "saw-1", new Metric("Head/Position", 250.0) { Alias = 12 }, new Metric("Drive/Power", 600.0) { Alias = 11 });
        _host.Advance(200);
        _host.Send("DDATA", "saw-1", Metric.By(12, 240.0));

        var frame = _host.Frames()[^1];
        Assert.Equal(240, frame.Number(Signal.HeadPosition));
        Assert.Equal(0.6, frame.Number(Signal.MotorLoad));
        Assert.Equal(SignalQuality.NotRead, frame.QualityOf(Signal.Job));
    }

    /// <summary>tck-id-payloads-alias-uniqueness is broken: which of the two is meant cannot be told.</summary>
    [Fact]
    public void Birth_WithAnAliasTwice_MakesItUseless()
    {
        _host.NodeBirth();
        _host.Send("DBIRTH", "saw-1", new Metric("Head/Position", 250.0) { Alias = 12 }, new Metric("Drive/Power", 600.0) { Alias = 12 });
        _host.Drain();
        _host.Send("DDATA", "saw-1", Metric.By(12, 240.0));
        Assert.Empty(_host.Frames());
        Assert.Contains("gives the alias 12 to more than one metric", Assert.Single(_host.Texts(2419)), StringComparison.Ordinal);
    }

    [Fact]
    public void Node_WithMetricsOfItsOwn_IsASaw()
    {
        var host = new HostBench(null, HostBench.Saw(device: null));
        host.NodeBirth(0, HostBench.Metrics());
        host.Send("DBIRTH", "something", new Metric("Drive/Power", 9.0) { Alias = 30 });
        host.Advance(200);
        host.Send("NDATA", null, Metric.By(12, 1000.0));
        host.Send("DDATA", "something", Metric.By(30, 8.0));
        Assert.Equal([0.5, 1.0], host.Frames().Select(frame => frame.Number(Signal.MotorLoad)));
        Assert.Empty(host.Log.Entries);

        host.Death(0);
        Assert.Equal(SignalQuality.SourceFault, Assert.Single(host.Frames()).QualityOf(Signal.MotorLoad));
    }

    [Fact]
    public void Broker_Lost_MakesAllSignalsBadAndBirthsNecessary()
    {
        _host.Births();
        _host.Drain();
        _host.Advance(500);
        _host.Listener.BrokerLost();
        var frame = Assert.Single(_host.Drain());
        Assert.Equal(SignalQuality.SourceFault, frame.QualityOf(Signal.HeadPosition));
        Assert.Equal(HostBench.Start.AddMilliseconds(500), frame.Time);

        _host.Send("DDATA", "saw-1", Metric.By(12, 1.0));
        Assert.Empty(_host.Frames());
        Assert.Single(_host.Texts(2402));
    }

    [Fact]
    public void Birth_WithoutAMappedMetric_SaysWhichAndWhatThereIs()
    {
        _host.NodeBirth();
        _host.Send("DBIRTH", "saw-1", new Metric("head/position", 1.0), new Metric("Drive/Power", 1.0), new Metric("Cutting", false, SparkplugDataType.Boolean));
        _host.NodeBirth();
        _host.Send("DBIRTH", "saw-1", new Metric("head/position", 1.0), new Metric("Drive/Power", 1.0), new Metric("Cutting", false, SparkplugDataType.Boolean));
        Assert.Equal(
            "Saw saw-1: the birth of Riverbend/hall-2/saw-1 does not hold 'Head/Position' (head_position), 'Job' (job): no such signals. It holds 'head/position', 'Drive/Power', 'Cutting'.",
            Assert.Single(_host.Texts(2409)));

        _host.Births();
        _host.Advance(61_000);
        _host.Send("DDATA", "saw-1", Metric.By(12, 1.0));
        Assert.Single(_host.Texts(2410));
    }

    [Fact]
    public void Birth_WithDataSetsAndTemplates_SkipsThemWithANote()
    {
        var set = new Encoded.Nested(17, [8, 1]);
        var template = new Encoded.Nested(18, [34, 1, 97]);
        for (var i = 0; i < 2; i++)
        {
            _host.NodeBirth();
            _host.Send("DBIRTH", "saw-1", [.. HostBench.Metrics()[..1], new Metric("Table", set, SparkplugDataType.DataSet), new Metric("Thing", template, SparkplugDataType.Template), new Metric("Job", set, SparkplugDataType.DataSet), new Metric("Drive/Power", null, (SparkplugDataType)77), .. HostBench.Metrics()[2..3]]);
        }

        var frame = _host.Drain()[^1];
        Assert.Equal(300, frame.Number(Signal.HeadPosition));
        Assert.Equal(SignalQuality.Invalid, frame.QualityOf(Signal.Job));
        Assert.Equal(SignalQuality.Invalid, frame.QualityOf(Signal.MotorLoad));
        Assert.Contains("2 metrics of Riverbend/hall-2/saw-1 are data sets or templates, which are not looked into", Assert.Single(_host.Texts(2412)), StringComparison.Ordinal);
        Assert.Equal("Saw saw-1: 'Drive/Power' (motor_load) is of the unknown type 77, 'Job' (job) is a data set, and so no signal: it is marked invalid. A single number, flag or text is needed.", Assert.Single(_host.Texts(2411)));
    }

    [Fact]
    public void Data_ThatCannotBeTheSignal_AreInvalidAndThatIsSaidOnce()
    {
        _host.Births();
        _host.Drain();
        for (var i = 0; i < 10; i++)
        {
            _host.Advance(200);
            _host.Send("DDATA", "saw-1", Metric.By(11, double.NaN));
        }

        Assert.All(_host.Frames(), frame => Assert.Equal(SignalQuality.Invalid, frame.QualityOf(Signal.HeadPosition)));
        Assert.Equal("Saw saw-1: head_position is 'NaN' (of type Double), which is marked invalid; right is a number. Further ones are counted.", Assert.Single(_host.Texts(2413)));
        _host.Advance(61_000);
        _host.Send("DDATA", "saw-1", Metric.By(11, 5.0));
        Assert.Contains("10 values were marked invalid", Assert.Single(_host.Texts(2414)), StringComparison.Ordinal);
    }

    [Fact]
    public void Retained_Messages_AreOldNews()
    {
        _host.Births();
        _host.Drain();
        var bytes = _host.Next(Metric.By(12, 1.0));
        _host.Receive(HostBench.Topic("DDATA", "saw-1"), bytes, MessageMarks.Retained);
        Assert.Empty(_host.Frames());
        Assert.Contains("the broker had kept it", Assert.Single(_host.Texts(2400)), StringComparison.Ordinal);

        // It was not counted among those that came: this is the one.
        _host.Receive(HostBench.Topic("DDATA", "saw-1"), bytes);
        Assert.Single(_host.Frames());
    }

    [Fact]
    public void HostilePayloads_AreSaidOnceAndDoNoHarm()
    {
        _host.Births();
        _host.Drain();
        var topic = HostBench.Topic("DDATA", "saw-1");
        _host.Receive(topic, [0x12, 0xFF, 0xFF, 0xFF, 0xFF, 0x0F]);
        _host.Receive(topic, new byte[10 * 1024 * 1024]);
        _host.Receive(topic, Encoded.Payload(1, null, Metric.By(12, 1.0)));
        _host.Receive(topic, Encoded.Payload(1, 256, Metric.By(12, 1.0)));
        _host.Receive(topic, Encoded.Payload(1, ulong.MaxValue, Metric.By(12, 1.0)));
        _host.Receive(topic, []);
        Assert.Empty(_host.Frames());
        Assert.Equal("Node Riverbend/hall-2: a message on spBv1.0/Riverbend/DDATA/hall-2/saw-1 is left out; it breaks off, or is no Protocol Buffers message. Further ones are counted.", Assert.Single(_host.Log.Entries).Text);

        _host.Advance(61_000);
        _host.Send("DDATA", "saw-1", Metric.By(12, 1000.0));
        Assert.Equal(1, Assert.Single(_host.Frames()).Number(Signal.MotorLoad));
        Assert.Contains("6 were left out", Assert.Single(_host.Texts(2401)), StringComparison.Ordinal);
    }

    [Fact]
    public void Complete_SaysThatNoFrameFollows()
    {
        _host.Births();
        _host.Send("DDATA", "saw-1", Metric.By(12, 1000.0));
        _host.Listener.Complete();
        _host.Send("DDATA", "saw-1", Metric.By(12, 2000.0));
        Assert.Equal([0.5, 1.0], _host.Frames().Select(frame => frame.Number(Signal.MotorLoad)));
    }

    [Fact]
    public void Receive_InTheSteadyState_AllocatesNothing()
    {
        _host.Births();
        _host.Frames();
        var messages = Enumerable.Range(0, 256).Select(_ => _host.Next(Metric.By(12, 1000.0), Metric.By(11, 5.0), Metric.By(13, true), Metric.By(14, "J-1"), new Metric("Something", 1.0))).ToArray();
        var topic = HostBench.Topic("DDATA", "saw-1");
        var frames = new List<int>();
        var allocated = Allocations.Of(
            () =>
            {
                foreach (var message in messages)
                    _host.Receive(topic, message);
            },
            () => frames.Add(_host.Frames().Count));

        // But for the timer that ends the burst, once for all of them.
        Assert.InRange(allocated, 0, 100);
        Assert.All(frames, count => Assert.Equal(256, count));
    }
}
