using SawEdge.Core.Signals;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Tests.Configuration;

/// <summary>Signals that follow from others, and conversions that are no factor.</summary>
public sealed class DerivedSignalTests
{
    private const string Motor = "{ \"ratedPower\": \"5.5 kW\", \"ratedCurrent\": \"11 A\", \"noLoadCurrent\": \"4.4 A\", \"wheelDiameter\": \"480 mm\", \"gearRatio\": 24, \"ratedSpeed\": \"1440 rpm\", \"ratedFrequency\": \"50 Hz\" }";

    /// <summary>At 50 Hz the wheel makes 1440 / 24 = 60 turns a minute, each pi * 0.48 m.</summary>
    [Theory]
    [InlineData("Hz", 50, 60 * Math.PI * 0.48)]
    [InlineData("0.01 Hz", 2500, 30 * Math.PI * 0.48)]
    [InlineData("rpm", 720, 30 * Math.PI * 0.48)]
    [InlineData("m/min", 90.5, 90.5)]
    public void Load_ABladeSpeedFromTheMotor_IsTheWheelsCircumferenceTimesItsTurns(string unit, double raw, double expected) =>
        Assert.Equal(expected, Number(Signal.BladeSpeed, "blade_speed", $"{{ \"address\": \"holding 150\", \"type\": \"uint16\", \"unit\": \"{unit}\", \"maximum\": \"200 m/min\" }}").Apply(raw), 9);

    [Theory]
    [InlineData("\"unit\": \"0.1 A\"", 110, 5.5)]
    [InlineData("\"unit\": \"0.1 A\"", 44, 0)]
    [InlineData("\"unit\": \"A\", \"offset\": \"-1 A\"", 12, 5.5)]
    [InlineData("\"unit\": \"A\", \"offset\": \"0.2 kW\"", 11, 5.7)]
    [InlineData("\"unit\": \"percent of rated\"", 50, 2.75)]
    public void Load_ALoadInAmperes_IsTheActivePartOfTheCurrent(string members, double raw, double expected) =>
        Assert.Equal(expected, Number(Signal.MotorLoad, "motor_load", $"{{ \"address\": \"holding 102\", \"type\": \"uint16\", {members} }}").Apply(raw), 9);

    [Fact]
    public void Load_ALimitInAmperes_GoesTheSameWay()
    {
        var mapping = Mapping(Signal.MotorLoad, "motor_load", "{ \"address\": \"holding 102\", \"type\": \"uint16\", \"unit\": \"A\", \"maximum\": \"11 A\" }");
        Assert.Equal(5.5, mapping.Maximum!.Value, 9);
    }

    [Fact]
    public void Load_AHeadByPoints_IsBelievedBetweenThem()
    {
        var mapping = Mapping(Signal.HeadPosition, "head_position", "{ \"address\": \"holding 100\", \"type\": \"uint16\", \"points\": [ { \"raw\": 400, \"is\": \"18 in\" }, { \"raw\": 2000, \"is\": \"200 mm\" }, { \"raw\": 3600, \"is\": \"0 mm\" } ] }");
        Assert.Equal((0, 457.2), (mapping.Minimum!.Value, mapping.Maximum!.Value));
        Assert.Equal(100, mapping.Conversion.Apply(2800), 9);
    }

    [Fact]
    public void Load_AHeadByACylinder_LiesOnTheTableAtItsStroke()
    {
        var way = Number(Signal.HeadPosition, "head_position", "{ \"address\": \"holding 100\", \"type\": \"uint16\", \"unit\": \"0.1 mm\", \"cylinder\": { \"pivotToBase\": \"900 mm\", \"pivotToRod\": \"700 mm\", \"closed\": \"640 mm\", \"strokeAtTable\": \"35 mm\", \"pivotToCut\": \"1.2 m\" } }");
        Assert.Equal(0, way.Apply(350), 9);
        Assert.True(way.Apply(500) > 10, "the head comes up where the cylinder extends");
    }

    [Fact]
    public void Load_ACuttingBitFromConditions_IsASignalOfTheSaw()
    {
        var saw = Sample.Load(Sample.With(
            ("saws[0].signals.cutting", null),
            ("saws[0].signals.blade_running", "{ \"address\": \"coil 4\" }"),
            ("saws[0].derived", "{ \"cutting\": { \"when\": [ \"blade_running\", \"motor_load above 1.5 hp\", \"mode is automatic\" ], \"offDelay\": \"2 s\" } }"))).Options().Saws[0];
        Assert.Contains(Signal.Cutting, saw.MappedSignals);
        var rule = Assert.Single(saw.Derived);
        Assert.Equal((Signal.Cutting, TimeSpan.Zero, TimeSpan.FromSeconds(2)), (rule.Signal, rule.OnDelay, rule.OffDelay));
        Assert.Equal(new(Signal.BladeRunning, ConditionKind.IsSet), rule.When[0]);
        Assert.Equal(1.1185, rule.When[1].Limit, 4);
        Assert.Equal(new(Signal.Mode, ConditionKind.Is, 0, "automatic"), rule.When[2]);
    }

    public static TheoryData<string, string, string> Wrong => new()
    {
        { "saws[0].derived", "{ \"cutting\": { \"when\": [ \"motor_load above 1 kW\" ] } }", "error saws[0].derived.cutting: signals.cutting is stated as well; keep what the controller tells or what follows from other signals" },
        { "saws[0].derived", "{ \"cycle_active\": { \"when\": [ \"blade_running\" ] } }", "error saws[0].derived.cycle_active.when[0]: blade_running is not mapped; map it under \"signals\", or leave the condition out" },
        { "saws[0].derived", "{ \"cycle_active\": { \"when\": [] } }", "error saws[0].derived.cycle_active.when: is empty; write at least one condition, for example [ \"blade_running\", \"motor_load above 1.2 kW\" ]" },
        { "saws[0].derived", "{ \"cycle_active\": { \"when\": [ \"motor_lod above 1 kW\" ] } }", "error saws[0].derived.cycle_active.when[0]: 'motor_lod' is no signal; did you mean 'motor_load'?" },
        { "saws[0].derived", "{ \"cycle_active\": { \"when\": [ \"motor_load above 1\" ] } }", "error saws[0].derived.cycle_active.when[0]: '1' has no unit; write for example 5.5 kW or 80 percent of rated" },
        { "saws[0].derived", "{ \"cycle_active\": { \"when\": [ \"motor_load > 1 kW\" ] } }", "error saws[0].derived.cycle_active.when[0]: 'motor_load > 1 kW' is no condition; write for example \"blade_running\", \"not blade_running\", \"motor_load above 1.2 kW\" or \"mode is automatic\"" },
        { "saws[0].derived", "{ \"cycle_active\": { \"when\": [ \"motor_load\" ] } }", "error saws[0].derived.cycle_active.when[0]: motor_load is a number; write \"motor_load above ...\" or \"motor_load below ...\"" },
        { "saws[0].derived", "{ \"cycle_active\": { \"when\": [ \"cutting above 1\" ] } }", "error saws[0].derived.cycle_active.when[0]: cutting is a yes or no; write \"cutting\" or \"not cutting\"" },
        { "saws[0].derived", "{ \"cycle_active\": { \"when\": [ \"mode above 1\" ] } }", "error saws[0].derived.cycle_active.when[0]: mode is a text; write \"mode is ...\" or \"mode is not ...\"" },
        { "saws[0].derived", "{ \"cycle_active\": { \"when\": [ \"motor_load above 20 percent of rated\" ] } }", "error saws[0].derived.cycle_active.when[0]: percent of rated needs machine.ratedPower of this saw, for example \"5.5 kW\"" },
        { "saws[0].signals.blade_speed", "{ \"address\": \"holding 150\", \"type\": \"uint16\", \"unit\": \"0.1 Hz\" }", "error saws[0].signals.blade_speed.unit: a frequency needs machine.wheelDiameter, machine.gearRatio, machine.ratedSpeed and machine.ratedFrequency of this saw, for example \"480 mm\", 28, \"1450 rpm\" and \"50 Hz\"" },
        { "saws[0].signals.head_position.points", "[ { \"raw\": 10, \"is\": \"0 mm\" } ]", "error saws[0].signals.head_position.points: is empty; write at least two points: [ { \"raw\": 512, \"is\": ... }, { \"raw\": 3800, \"is\": ... } ]" },
        { "saws[0].signals.head_position.points", "[ { \"raw\": 10, \"is\": \"0 mm\" }, { \"raw\": 10, \"is\": \"5 mm\" } ]", "error saws[0].signals.head_position.points[1]: does not go on from the point before: raw values must rise, and what they stand for must rise or fall throughout" },
        { "saws[0].signals.head_position.points", "[ { \"raw\": 10, \"is\": \"0 mm\" }, { \"raw\": 20, \"is\": \"5 kW\" } ]", "error saws[0].signals.head_position.points[1].is: '5 kW' is no length; write for example 100 mm or 4 in" },
        { "saws[0].machine", "{ \"ratedPower\": \"5.5 kW\", \"ratedCurrent\": \"11 A\", \"noLoadCurrent\": \"14 A\" }", "error saws[0].machine.noLoadCurrent: must be below ratedCurrent; is one of the two in another unit?" },
        { "saws[0].signals.head_position.cylinder", "{ \"pivotToBase\": \"900 mm\", \"pivotToRod\": \"100 mm\", \"closed\": \"100 mm\", \"strokeAtTable\": \"35 mm\", \"pivotToCut\": \"1.2 m\" }", "error saws[0].signals.head_position.cylinder.strokeAtTable: the cylinder would be too long or too short to reach from pin to pin there; measure the three lengths anew" },
        { "saws[1].signals.cutting.values", "[]", "error saws[1].signals.cutting.values: is empty; write the raw values that mean yes, for example [ \"CUT\", 3 ]" },
        { "saws[1].like", "\"saw-9\"", "error saws[1].like: there is no 'saw-9' in saws; did you mean 'saw-1'?" },
        { "saws[1].like", "\"saw-2\"", "error saws[1].like: goes round in a circle (saw-2, saw-2); write the members of one of them out" },
    };

    [Theory]
    [MemberData(nameof(Wrong))]
    public void Load_OneMistake_HasOneFinding(string path, string json, string finding) => Assert.Equal([finding], Sample.Load(Sample.With(path, json)).Lines());

    [Fact]
    public void Load_PointsBesideAUnit_AreTooMuch() => Assert.Equal(
        ["error saws[0].signals.head_position.unit: points say all there is to say; keep points or this"],
        Sample.Load(Sample.With(("saws[0].signals.head_position.points", "[ { \"raw\": 1, \"is\": \"0 mm\" }, { \"raw\": 2, \"is\": \"5 mm\" } ]"), ("saws[0].signals.head_position.unit", "\"in\""))).Lines());

    [Fact]
    public void Load_ASawLikeAnother_TakesOverWhatItDoesNotState()
    {
        var saws = Sample.Load(Sample.With(("saws[1]", "{ \"name\": \"saw-2\", \"like\": \"saw-1\", \"unit\": 7, \"signals\": { \"motor_load\": { \"address\": \"holding 202\" }, \"job\": null } }"), ("brokers", null))).Options().Saws;
        var (first, second) = ((ModbusSourceOptions)saws[0].Source, (ModbusSourceOptions)saws[1].Source);
        Assert.Equal(("plc", 1, 7), (second.Device, first.Unit, second.Unit));
        Assert.Equal(first.Signals.Single(signal => signal.Signal == Signal.MotorLoad) with { Address = 202 }, second.Signals.Single(signal => signal.Signal == Signal.MotorLoad));
        Assert.DoesNotContain(second.Signals, signal => signal.Signal == Signal.Job);
        Assert.Equal(first.Signals.Count - 1, second.Signals.Count);
    }

    [Fact]
    public void Load_AStateAsText_MeansYesByItsValues()
    {
        var saw = Sample.Load(Sample.With("saws[1].signals.cutting.values", "[ \"CUT\", 3, true ]")).Options().Saws[1];
        Assert.Equal(["CUT", "3", "true"], ((MqttSourceOptions)saw.Source).Signals.Single(signal => signal.Signal == Signal.Cutting).Values);
    }

    private static RegisterMapping Mapping(Signal signal, string name, string json)
    {
        var options = Sample.Load(Sample.With(($"saws[0].signals.{name}", json), ("saws[0].machine", Motor))).Options();
        return ((ModbusSourceOptions)options.Saws[0].Source).Signals.Single(mapping => mapping.Signal == signal);
    }

    private static ValueConversion Number(Signal signal, string name, string json) => Mapping(signal, name, json).Conversion;
}
