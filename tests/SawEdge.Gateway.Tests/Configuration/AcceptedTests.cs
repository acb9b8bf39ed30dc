using SawEdge.Core.Load;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Configuration;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Configuration;

/// <summary>What good settings become.</summary>
public class AcceptedTests
{
    [Fact]
    public void Load_LeavingEverythingPossibleOut_TakesTheDefaults()
    {
        var options = Sample.Load(Sample.With("", null)).Options();

        Assert.Equal(TimeSpan.FromMilliseconds(100), options.Saws[0].Interval);
        Assert.Equal(0.8, options.Saws[0].Machine.DriveEfficiency);
        Assert.Null(options.Saws[0].Machine.RatedPowerKw);
        Assert.Null(options.Saws[0].Machine.MaximumLoadKw);
        Assert.Equal(new LoadSettings(), options.LoadScore);
        Assert.Equal((TimeSpan.FromSeconds(10), TimeSpan.FromDays(14)), (options.Signals.Every, options.Signals.Keep));
        Assert.Equal(1, Modbus(options).Unit);
        Assert.Equal(new ModbusTcpDeviceOptions { Name = "plc", Host = "10.0.0.5" }, options.ModbusDevices[0]);
        Assert.Equal(new MqttBrokerOptions { Name = "hall", Host = "broker.example", ClientId = "sawedge-hall-2" }, options.MqttBrokers[0]);
        Assert.Equal(new InfluxOptions { Name = "two", Url = new Uri("https://influx.example"), Bucket = "saws", Token = "t" }, options.Influx[0]);
        Assert.Equal(new InfluxOptions { Name = "one", Url = new Uri("http://127.0.0.1:8086"), Version1 = true, Bucket = "saws" }, options.Influx[1]);
    }

    [Fact]
    public void Load_RelativePaths_StartAtTheFolderOfTheFile()
    {
        using var folder = new TempFolder();
        var options = Sample.Load(folder, Sample.With(("jobsFile", "\"lists/jobs.csv\""), ("record", "{ \"folder\": \"/var/recordings\" }"))).Options();
        Assert.Equal(folder.File("data"), options.DataFolder);
        Assert.Equal(Path.Combine(folder.Path, "lists", "jobs.csv"), options.JobsFile);
        Assert.Equal(Path.GetFullPath("/var/recordings"), options.Record?.Folder);
    }

    [Fact]
    public void Load_Recording_HasDefaultsAndUnits()
    {
        using var folder = new TempFolder();
        Assert.Null(Sample.Load(folder, Sample.With()).Options().Record);
        Assert.Equal(
            new RecordOptions { Folder = folder.File("r"), RollBytes = 256_000_000, RollAfter = TimeSpan.FromDays(1), KeepBytes = 10_000_000_000, Compresses = true },
            Sample.Load(folder, Sample.With(("record", "{ \"folder\": \"r\" }"))).Options().Record);
        Assert.Equal(
            new RecordOptions { Folder = folder.File("r"), RollBytes = 20_000_000, RollAfter = TimeSpan.FromHours(1), KeepBytes = 2_000_000_000_000, Compresses = false },
            Sample.Load(folder, Sample.With(("record", "{ \"folder\": \"r\", \"rollSize\": \"20 MB\", \"rollAfter\": \"1 h\", \"keep\": \"2 TB\", \"compress\": false }"))).Options().Record);
    }

    [Fact]
    public void Load_TheLoadScore_IsWhatWasWritten()
    {
        var read = Sample.Load(Sample.With("loadScore", "{ \"falseAlarmsPerMonth\": 0.5, \"dullRise\": \"40 %\" }")).Options().LoadScore;
        Assert.Equal(new LoadSettings { FalseAlarmsPerMonth = 0.5, DullRise = 0.4 }, read);
        Assert.Equal(3.5, Sample.Load(Sample.With("loadScore.threshold", "3.5")).Options().LoadScore.Threshold);
    }

    [Fact]
    public void Load_TheRoomOfTheHistory_IsWhatWasWritten()
    {
        Assert.Equal(new HistoryOptions { BudgetBytes = 20_000_000_000, KeepProfiles = null }, Sample.Load(Sample.With("history", "{}")).Options().History);
        Assert.Equal(new HistoryOptions(), Sample.Load(Sample.With()).Options().History);
        Assert.Equal(new HistoryOptions { BudgetBytes = 1_500_000_000, KeepProfiles = TimeSpan.FromDays(400) }, Sample.Load(Sample.With("history", "{ \"budget\": \"1.5 GB\", \"keepProfiles\": \"400 d\" }")).Options().History);
    }

    [Fact]
    public void Load_WhatIsKeptOfSignals_IsWhatWasWritten()
    {
        Assert.Equal(new SignalOptions { Every = TimeSpan.FromMinutes(1), Keep = TimeSpan.FromDays(400) }, Sample.Load(Sample.With("signals", "{ \"every\": \"1 min\", \"keep\": \"400 days\" }")).Options().Signals);
        Assert.Equal(new SignalOptions(), Sample.Load(Sample.With("signals", "{}")).Options().Signals);
        Assert.Equal(new SignalOptions { Every = null }, Sample.Load(Sample.With("signals", "{ \"enabled\": false }")).Options().Signals);

        // Intervals begin at whole milliseconds.
        Assert.Equal(TimeSpan.FromMilliseconds(1333), Sample.Load(Sample.With("signals.every", "\"4/3 s\"")).Options().Signals.Every);
    }

    [Fact]
    public void Load_OneBladeOnTwoSaws_IsDoubted()
    {
        var loaded = Sample.Load(Sample.With(("saws[0].blade", "\"B-1\""), ("saws[1].blade", "\"B-1\"")));
        Assert.Equal(["warning saws[1].blade: 'B-1' is the blade of saws[0] already; a blade is on one saw at a time, so its life would be counted wrong"], loaded.Lines());
        Assert.Empty(Sample.Load(Sample.With(("saws[0].blade", "\"B-1\""), ("saws[1].blade", "\"B-2\""))).Lines());
    }

    [Fact]
    public void Load_AMachine_IsConvertedToTheModelsUnits()
    {
        var machine = """
            { "ratedPower": "7.5 hp", "maximumLoad": "10 hp", "ratedCurrent": "11 A", "driveEfficiency": "85 %", "bladeLength": "17 ft", "maximumDescent": "24 in/min", "restHeight": "18 in", "approachRate": "3 m/min", "returnRate": "4 m/min",
              "shuttleStroke": "20 in", "strokeTime": "3500 ms", "clampTime": "0 s", "unclampTime": "0.6 s", "capacityHeight": "16 in", "capacityWidth": "20 in", "firstCutOfBarIsTrim": true }
            """;
        var read = Sample.Load(Sample.With("saws[0].machine", machine)).Options().Saws[0].Machine;

        Assert.Equal("saw-1", read.Name);
        Assert.Equal(5.59275, read.RatedPowerKw!.Value, 5);
        Assert.Equal(7.457, read.MaximumLoadKw!.Value, 3);
        Assert.Equal(0.85, read.DriveEfficiency, 12);
        Assert.Equal(5181.6, read.BladeLengthMm!.Value, 9);
        Assert.Equal(609.6, read.MaximumDescentMmMin!.Value, 9);
        Assert.Equal(457.2, read.RestHeightMm!.Value, 9);
        Assert.Equal((3000.0, 4000.0), (read.ApproachMmMin!.Value, read.ReturnMmMin!.Value));
        Assert.Equal(508, read.ShuttleStrokeMm!.Value, 9);
        Assert.Equal((3.5, 0.0, 0.6), (read.IndexStrokeS!.Value, read.ClampS!.Value, read.UnclampS!.Value));
        Assert.Equal(406.4, read.CapacityHeightMm!.Value, 9);
        Assert.Equal(508, read.CapacityWidthMm!.Value, 9);
        Assert.True(read.FirstCutOfBarIsTrim);
    }

    [Theory]
    [InlineData("\"unit\": \"in\"", 25.4, 0)]
    [InlineData("\"unit\": \"0.1 mm\"", 0.1, 0)]
    [InlineData("\"unit\": \"0.001 in\"", 0.0254, 0)]
    [InlineData("\"unit\": \"1/16 in\"", 1.5875, 0)]
    [InlineData("\"scale\": 0.01", 0.01, 0)]
    [InlineData("\"scale\": -0.5, \"unit\": \"in\", \"offset\": \"20 in\"", -12.7, 508)]
    [InlineData("\"offset\": \"-3 mm\"", 1, -3)]
    public void Load_AHeadPositionsUnit_IsWorkedIntoScaleAndOffset(string members, double scale, double offset)
    {
        var mapping = Mapping("head_position", $"{{ \"address\": \"holding 100\", \"type\": \"int32\", {members} }}");
        Assert.Equal(scale, Linear(mapping).Scale, 12);
        Assert.Equal(offset, Linear(mapping).Offset, 12);
    }

    [Theory]
    [InlineData("\"unit\": \"W\", \"maximum\": \"10 hp\"", 0.001, 7.456999)]
    [InlineData("\"unit\": \"percent of rated\", \"maximum\": \"150 percent of rated\"", 0.055, 8.25)]
    [InlineData("\"unit\": \"0.1 % of rated\", \"maximum\": \"8 kW\"", 0.0055, 8)]
    [InlineData("\"unit\": \"A\", \"maximum\": \"22 A\"", 0.5, 11)]
    [InlineData("\"unit\": \"0.1 A\", \"maximum\": \"200 percent of rated\"", 0.05, 11)]
    public void Load_AMotorLoadsUnit_UsesTheRatedValues(string members, double scale, double maximum)
    {
        var mapping = Mapping("motor_load", $"{{ \"address\": \"holding 102\", \"type\": \"uint16\", {members} }}", ("saws[0].machine", "{ \"ratedPower\": \"5.5 kW\", \"ratedCurrent\": \"11 A\" }"));
        Assert.Equal(scale, Linear(mapping).Scale, 12);
        Assert.Equal(maximum, mapping.Maximum!.Value, 5);
    }

    [Fact]
    public void Load_ABladeSpeedInFeetPerMinute_BecomesMetresPerMinute()
    {
        Assert.Equal(0.3048, Linear(Mapping("blade_speed", "{ \"address\": \"holding 150\", \"type\": \"uint16\", \"unit\": \"ft/min\" }")).Scale, 12);
    }

    [Theory]
    [InlineData("uint16", RegisterType.UInt16, 1)]
    [InlineData("int16", RegisterType.Int16, 1)]
    [InlineData("uint32", RegisterType.UInt32, 2)]
    [InlineData("int32", RegisterType.Int32, 2)]
    [InlineData("float32", RegisterType.Float32, 2)]
    [InlineData("uint64", RegisterType.UInt64, 4)]
    [InlineData("int64", RegisterType.Int64, 4)]
    [InlineData("float64", RegisterType.Float64, 4)]
    public void Load_ARegisterType_TakesThatManyRegisters(string type, RegisterType expected, int count)
    {
        var mapping = Mapping("head_position", $"{{ \"address\": \"input 100\", \"type\": \"{type}\", \"order\": \"dcba\" }}");
        Assert.Equal((expected, count, WordOrder.Dcba, RegisterTable.Input, (ushort)100), (mapping.Type, mapping.Count, mapping.Order, mapping.Table, mapping.Address));
    }

    [Fact]
    public void Load_Flags_AreBitsOrWholeRegisters()
    {
        var bit = Mapping("blade_running", "{ \"address\": 40201, \"bit\": 15, \"invert\": true }");
        Assert.Equal((RegisterType.Bool, RegisterTable.Holding, (ushort)200, (int?)15, true), (bit.Type, bit.Table, bit.Address, bit.Bit, bit.Invert));
        var word = Mapping("blade_running", "{ \"address\": \"holding 200\", \"type\": \"uint16\" }");
        Assert.Equal((RegisterType.UInt16, (int?)null), (word.Type, word.Bit));
        var coil = Mapping("blade_running", "{ \"address\": \"discrete 200\" }");
        Assert.Equal((RegisterType.Bool, RegisterTable.DiscreteInput, (int?)null), (coil.Type, coil.Table, coil.Bit));
    }

    [Fact]
    public void Load_Texts_AreAsciiOrCodes()
    {
        var job = Mapping("job", "{ \"address\": \"holding 110\", \"type\": \"ascii\", \"registers\": 8, \"order\": \"badc\" }");
        Assert.Equal((RegisterType.Ascii, 8, 8, WordOrder.Badc), (job.Type, job.Length, job.Count, job.Order));
        var mode = Mapping("mode", "{ \"address\": \"holding 104\", \"type\": \"int16\", \"texts\": { \"-1\": \"manual\", \"2\": \"automatic\" } }");
        Assert.Equal(new Dictionary<long, string> { [-1] = "manual", [2] = "automatic" }, mode.Texts);
    }

    [Fact]
    public void Load_ASelectorOfOneBit_IsATextOfTwo()
    {
        var bit = Mapping("mode", "{ \"address\": \"holding 104\", \"bit\": 7, \"texts\": { \"0\": \"manual\", \"1\": \"automatic\" } }");
        Assert.Equal((RegisterType.Bool, (int?)7, 2), (bit.Type, bit.Bit, bit.Texts!.Count));
        var coil = Mapping("mode", "{ \"address\": \"coil 9\", \"texts\": { \"0\": \"manual\", \"1\": \"automatic\" } }");
        Assert.Equal((RegisterType.Bool, RegisterTable.Coil, (int?)null), (coil.Type, coil.Table, coil.Bit));
    }

    [Fact]
    public void Load_AStatusWordWithFlagsAndACode_SharesItsRegister()
    {
        var text = Sample.With(
            ("saws[0].signals.cutting", "{ \"address\": \"holding 200\", \"bit\": 0 }"),
            ("saws[0].signals.cycle_active", "{ \"address\": \"holding 200\", \"bit\": 0 }"),
            ("saws[0].signals.blade_running", "{ \"address\": \"holding 201\", \"bit\": 4 }"),
            ("saws[0].signals.fault_code", "{ \"address\": \"holding 200\", \"type\": \"uint32\" }"));
        Assert.Empty(Sample.Load(text).Findings);
    }

    [Fact]
    public void Load_AnMqttSaw_KeepsTopicsMembersAndConversions()
    {
        var options = Sample.Load(Sample.With(
            ("brokers[0].version", "\"3.1.1\""),
            ("brokers[0].maximumPayload", "\"200 kB\""),
            ("saws[1].timeMember", "\"t.s\""),
            ("saws[1].signals.head_position.unit", "\"cm\""),
            ("saws[1].signals.part_count", "{ \"member\": \"n\", \"minimum\": 0, \"maximum\": 65535 }"))).Options();

        Assert.False(options.MqttBrokers[0].Version5);
        Assert.Equal(200_000, options.MqttBrokers[0].MaximumPayloadBytes);
        var source = Assert.IsType<MqttSourceOptions>(options.Saws[1].Source);
        Assert.Equal(("hall", "saw-2/frame", "t.s"), (source.Broker, source.FrameTopic, source.TimeMember));
        Assert.Equal(
            [
                new MqttMapping { Signal = Signal.HeadPosition, Member = "head", Conversion = ValueConversion.Linear(10) },
                new MqttMapping { Signal = Signal.MotorLoad, Member = "load" },
                new MqttMapping { Signal = Signal.Cutting, Topic = "saw-2/cutting" },
                new MqttMapping { Signal = Signal.PartCount, Member = "n", Minimum = 0, Maximum = 65535 },
            ],
            source.Signals);
    }

    [Fact]
    public void Load_ARetentionPolicy_FollowsTheDatabase()
    {
        Assert.Equal("saws/year", Sample.Load(Sample.With("influx[1].retentionPolicy", "\"year\"")).Options().Influx[1].Bucket);
    }

    [Fact]
    public void Load_Points_AreWhatIsNamed_AndAllButSignalsUnlessTold()
    {
        Assert.Equal(PointChoice.Usual, Sample.Load(Sample.With()).Options().Influx[0].Points);
        Assert.Equal(PointChoice.Cycles | PointChoice.Signals, Sample.Load(Sample.With("influx[1].points", "[\"signals\", \"cycles\", \"cycles\"]")).Options().Influx[1].Points);
        foreach (var (word, choice, _) in PointChoices.All)
            Assert.Equal(choice, Sample.Load(Sample.With("influx[0].points", $"[\"{word}\"]")).Options().Influx[0].Points);
    }

    [Theory]
    [InlineData("Säge 1")]
    [InlineData("A")]
    [InlineData("hall.2_saw-3")]
    public void Load_NamesOfAnyScript_AreGood(string name) => Assert.Equal(name, Sample.Load(Sample.With("saws[0].name", $"\"{name}\"")).Options().Saws[0].Name);

    private static RegisterMapping Mapping(string signal, string json, params (string, string?)[] more)
    {
        var options = Sample.Load(Sample.With([($"saws[0].signals.{signal}", json), .. more])).Options();
        Assert.True(SignalInfo.TryFind(signal, out var info));
        return Modbus(options).Signals.Single(mapping => mapping.Signal == info.Signal);
    }

    private static LinearConversion Linear(RegisterMapping mapping) => Assert.IsType<LinearConversion>(mapping.Conversion);

    private static ModbusSourceOptions Modbus(GatewayOptions options) => Assert.IsType<ModbusSourceOptions>(options.Saws[0].Source);
}
