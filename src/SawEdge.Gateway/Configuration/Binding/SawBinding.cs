using SawEdge.Core.Cutting;
using SawEdge.Gateway.Configuration.Reading;
using DerivedFlags = System.Collections.Generic.IReadOnlyList<(SawEdge.Core.Signals.SignalInfo Info, SawEdge.Gateway.Configuration.Reading.Setting<SawEdge.Gateway.Configuration.Binding.DerivedDraft?> Draft)>;

namespace SawEdge.Gateway.Configuration.Binding;

/// <summary>What is fixed about a saw, before its name is known.</summary>
internal sealed record MachineData(SawMachine Machine, DriveRating Drive);

/// <summary>Declares a saw.</summary>
internal static class SawBinding
{
    private static readonly NumberType UnitNumber = new(whole: true, 0, 255, "1");

    /// <summary>What is fixed about a saw.</summary>
    public static readonly ObjectType<MachineData> Machine = new("machine", "What is fixed about the saw. Whatever is left out is learned or left out of the results, never guessed silently.", BindMachine);

    /// <summary>One saw.</summary>
    public static ObjectType<SawOptions> Type { get; } = new("saw", "One saw: what it is and where its signals come from.", Bind);

    private static SawOptions Bind(ConfigObject o)
    {
        var name = o.Required("name", ValueTypes.Name("saw-1"), "Name of the saw, unique: letters, digits, blanks and - _ . with a letter or digit at both ends.");
        o.OneLike("saw-1", "Another saw of the file: whatever that one states and this one does not is taken over, members of objects one by one; null takes a member out. Where it is stated, nothing else but the name must be.");
        var blade = o.Optional("blade", ValueTypes.Text("blade-7"), "The blade on the saw, where the controller does not say.");
        var group = o.Optional("group", ValueTypes.Name("bay-1"), "The group that it belongs to, for example a bay: rules and contacts can be about groups.");
        var interval = o.Default("interval", ValueTypes.Time("10 ms", "60 s", ("10 ms", "2 s")), "100 ms", "Time between two readings of the signals.");
        var machine = o.Optional("machine", Machine, "What is fixed about the saw.");
        var data = machine.Value ?? new MachineData(new SawMachine { Name = "" }, DriveRating.None);
        var derived = o.Optional("derived", DerivedBinding.Type, "Flags that the controller does not tell and that follow from what it does tell: cutting from load and a running blade, for example.");
        var flags = derived.Value;
        var source = o.Variants<SourceOptions>(
            "source",
            "Where the signals come from.",
            null,
            [
                new("modbus", "Registers and bits of a Modbus device.", saw => BindModbus(saw, data.Drive, flags, interval)),
                new("mqtt", "Messages of an MQTT broker.", saw => BindMqtt(saw, name.Value, data.Drive, flags)),
                new("sparkplug", "Metrics of a Sparkplug B edge node or device at an MQTT broker.", saw => SparkplugBinding.Bind(saw, data.Drive, flags)),
                new("recording", "Columns of recordings that another logger wrote: for replay only.", saw => RecordingBinding.Bind(saw, data.Drive, flags)),
            ]);
        return new SawOptions { Machine = data.Machine with { Name = name }, Source = source!, Blade = blade, Group = group, Interval = interval, Derived = DerivedBinding.Resolve(o, flags, data.Drive) };
    }

    private static ModbusSourceOptions BindModbus(ConfigObject o, DriveRating drive, DerivedFlags? derived, Setting<TimeSpan> interval)
    {
        var device = o.Required("device", ValueTypes.Name("saw-1-plc"), "Name of the device, one of \"devices\".");
        var unit = o.Default("unit", UnitNumber, "1", "Unit identifier: tells the units behind one address apart. Most devices answer to 1 or to any.");
        var signals = o.Required("signals", ModbusSignals.Type, "What is read where.");
        SignalTable.Check(o, signals, derived);
        var mappings = new List<RegisterMapping>();
        foreach (var (info, setting) in signals.Value ?? [])
        {
            if (setting.Value is not { } signal)
                continue;
            var register = signal.Register with { Signal = info.Signal, Every = PollRates.Resolve(o, info, signal.Every, interval) };
            if (signal.Conversion is { } conversion)
            {
                var (way, minimum, maximum) = conversion.Resolve(o, drive);
                register = register with { Conversion = way, Minimum = minimum, Maximum = maximum };
            }

            // A mapping with a mistake would only cause follow-up findings.
            if (setting.IsGood)
                mappings.Add(register);
        }

        PollRates.CheckAll(o, signals, mappings);
        return new ModbusSourceOptions { Device = device, Unit = (byte)unit, Signals = mappings };
    }

    private static MqttSourceOptions BindMqtt(ConfigObject o, string? name, DriveRating drive, DerivedFlags? derived)
    {
        var broker = o.Required("broker", ValueTypes.Name("hall"), "Name of the broker, one of \"brokers\".");
        var topic = o.Optional("topic", MqttSignals.Topic, "Topic of the JSON payload that holds a whole frame; left out where each signal has its own topic. {saw} in it stands for the saw's name.");
        var time = o.Optional("timeMember", MqttSignals.MemberPath, "Member of the payload that holds the time (RFC 3339 text, or a number of seconds, milliseconds, microseconds or nanoseconds since 1970). Left out: the time of arrival.");
        var (zone, format) = PayloadTimeBinding.Bind(o, time);
        var hold = o.OptionalValue("holdFor", ValueTypes.Time("100 ms", "24 h"), "How long the value of a signal's own topic is used after it came. Left out: as long as the broker is there, for controllers that publish what has changed.");
        var signals = o.Required("signals", MqttSignals.Type, "What is found where.");
        SignalTable.Check(o, signals, derived);
        var mappings = new List<MqttMapping>();
        foreach (var (info, setting) in signals.Value ?? [])
        {
            if (setting.Value is not { } signal)
                continue;
            if (signal.Member.IsStated && !topic.IsStated)
                o.Error(signal.Member, "a member needs the saw's topic; write \"topic\" beside \"signals\", or give the signal a topic of its own");
            var placed = signal.Mapping with { Signal = info.Signal, Topic = SawTopic.Of(signal.Mapping.Topic, name), Template = SawTopic.TemplateOf(signal.Mapping.Topic) };
            var mapping = ValueMembers.Resolve(o, placed, signal.Conversion, drive);
            if (setting.IsGood)
                mappings.Add(mapping);
        }

        if (topic.IsStated && (signals.Value ?? []).All(signal => signal.Mapping.Value?.Member.IsStated != true))
            o.Warning(topic, "no signal has a member, so nothing is read from this topic");
        if (time.IsStated && !topic.IsStated)
            o.Error(time, "belongs to the payload of the saw's topic; write \"topic\" or leave timeMember out");
        if (hold.IsStated && (signals.Value ?? []).All(signal => signal.Mapping.Value?.Mapping.Topic is null))
            o.Error(hold, "belongs to signals with topics of their own; leave it out");
        return new MqttSourceOptions { Broker = broker, FrameTopic = SawTopic.Of(topic.Value, name), FrameTemplate = SawTopic.TemplateOf(topic.Value), TimeMember = time, TimeZone = zone, TimeFormat = format, HoldFor = hold, Signals = mappings };
    }

    private static MachineData BindMachine(ConfigObject o)
    {
        // The usual ranges are common practice, no source: they only ask whether the unit is right.
        var power = o.OptionalValue("ratedPower", new QuantityType<double>(QuantityKind.Power, "0.05 kW", "1000 kW", value => value) { Usual = ("0.2 kW", "100 kW") }, "Rated power of the blade motor.");
        var limit = o.OptionalValue("maximumLoad", new QuantityType<double>(QuantityKind.Power, "0.05 kW", "3000 kW", value => value), "Hard limit of the motor load: above it a finding is told at once, while the cut still runs. Left out: 150 % of the rated power.");
        var current = o.OptionalValue("ratedCurrent", new QuantityType<double>(QuantityKind.Current, "0.1 A", "5000 A", value => value), "Rated current of the blade motor; needed where the load is read in amperes.");
        var noLoad = o.OptionalValue("noLoadCurrent", new QuantityType<double>(QuantityKind.Current, "0.05 A", "5000 A", value => value), "Current of the blade motor that runs without load. Stated, a load in amperes is taken as the active part of the current; left out, as proportional to it.");
        var wheel = o.OptionalValue("wheelDiameter", ValueTypes.Length("50 mm", "5 m", ("200 mm", "2 m")), "Diameter of the driving wheel where the blade lies; needed where the blade speed is read in Hz or rpm.");
        var gear = o.OptionalValue("gearRatio", new NumberType(whole: false, 0.01, 1000, "28"), "Turns of the motor for one turn of the driving wheel; 1 where the wheel's own turns are read.");
        var turns = o.OptionalValue("ratedSpeed", new QuantityType<double>(QuantityKind.Turns, "10 rpm", "30000 rpm", value => value), "Rated turns of the blade motor, as on its plate; needed where the blade speed is read in Hz. The slip is taken as that at rated load.");
        var frequency = o.OptionalValue("ratedFrequency", new QuantityType<double>(QuantityKind.Frequency, "5 Hz", "1000 Hz", value => value), "Frequency at which the motor makes its rated turns.");
        var efficiency = o.Default("driveEfficiency", new QuantityType<double>(QuantityKind.Share, "1 %", "100 %", value => value) { Usual = ("50 %", "100 %") }, "80 %", "Share of the motor's power that reaches the blade (80 %: common practice, no source).");
        var blade = o.OptionalValue("bladeLength", ValueTypes.Length("300 mm", "100 m", ("1 m", "20 m")), "Length of the blade loop.");
        var descent = o.OptionalValue("maximumDescent", ValueTypes.Rate("0.1 mm/min", "20000 mm/min", ("10 mm/min", "2000 mm/min")), "Greatest descent rate of the head while cutting.");
        var rest = o.OptionalValue("restHeight", ValueTypes.Length("10 mm", "10 m", ("50 mm", "2 m")), "Height of the head at rest, above the table.");
        var approach = o.OptionalValue("approachRate", ValueTypes.Rate("1 mm/min", "100000 mm/min"), "Rapid rate of the head down to the stock.");
        var back = o.OptionalValue("returnRate", ValueTypes.Rate("1 mm/min", "100000 mm/min"), "Rate of the head back up.");
        var stroke = o.OptionalValue("shuttleStroke", ValueTypes.Length("1 mm", "50 m"), "Greatest length by which the shuttle moves the bar in one stroke.");
        var strokeTime = o.OptionalValue("strokeTime", ValueTypes.Seconds("0 s", "10 min"), "Time of one shuttle stroke.");
        var clamp = o.OptionalValue("clampTime", ValueTypes.Seconds("0 s", "10 min"), "Time to clamp.");
        var unclamp = o.OptionalValue("unclampTime", ValueTypes.Seconds("0 s", "10 min"), "Time to unclamp.");
        var height = o.OptionalValue("capacityHeight", ValueTypes.Length("10 mm", "10 m", ("50 mm", "2 m")), "Greatest height of stock.");
        var width = o.OptionalValue("capacityWidth", ValueTypes.Length("10 mm", "10 m", ("50 mm", "3 m")), "Greatest width of stock.");
        var trim = o.Default("firstCutOfBarIsTrim", ValueTypes.Flag, "false", "Whether the first cut of a bar is a trim cut, where the part counter does not tell.");

        // Half a loop runs through the cut and half of it back, so a loop is longer than two widths.
        if (blade.Value <= 2 * width.Value)
            o.Error(blade, "a blade loop is longer than twice capacityWidth; is one of the two in another unit?");
        if (rest.Value < height.Value)
            o.Warning(rest, "is below capacityHeight, so the head at rest would stand in the highest stock; are both above the table?");

        if (limit.Value < power.Value)
            o.Warning(limit, "is below ratedPower, so that a heavy cut would be called an overload; is one of the two in another unit?");

        if (noLoad.Value >= current.Value)
            o.Error(noLoad, "must be below ratedCurrent; is one of the two in another unit?");
        if (noLoad.IsStated && !current.IsStated)
            o.Error(noLoad, "goes with ratedCurrent; write both, for example \"ratedCurrent\": \"11.5 A\"");

        var machine = new SawMachine
        {
            Name = "",
            RatedPowerKw = power,
            MaximumLoadKw = limit,
            DriveEfficiency = efficiency,
            BladeLengthMm = blade,
            MaximumDescentMmMin = descent,
            RestHeightMm = rest,
            ApproachMmMin = approach,
            ReturnMmMin = back,
            ShuttleStrokeMm = stroke,
            IndexStrokeS = strokeTime,
            ClampS = clamp,
            UnclampS = unclamp,
            CapacityHeightMm = height,
            CapacityWidthMm = width,
            FirstCutOfBarIsTrim = trim,
        };
        return new MachineData(machine, new DriveRating { PowerKw = power, CurrentA = current, NoLoadA = noLoad, WheelMm = wheel, GearRatio = gear, Rpm = turns, Hz = frequency });
    }
}
