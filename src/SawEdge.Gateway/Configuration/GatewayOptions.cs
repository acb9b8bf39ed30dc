using SawEdge.Core.Cutting;
using SawEdge.Core.Signals;

namespace SawEdge.Gateway.Configuration;

/// <summary>The whole configuration, converted once at the start: units are resolved, defaults applied, everything validated.</summary>
public sealed record GatewayOptions
{
    /// <summary>Name of the plant; a tag on everything that leaves.</summary>
    public required string Site { get; init; }

    /// <summary>Name of this gateway; a tag on everything that leaves.</summary>
    public required string Gateway { get; init; }

    /// <summary>Folder of the history; one gateway at a time owns it.</summary>
    public required string DataFolder { get; init; }

    /// <summary>The job list (CSV or JSON), or null.</summary>
    public string? JobsFile { get; init; }

    /// <summary>The saws, in the order of the file; names are unique.</summary>
    public required IReadOnlyList<SawOptions> Saws { get; init; }

    /// <summary>Modbus devices: one connection each, shared by their units.</summary>
    public IReadOnlyList<ModbusDeviceOptions> ModbusDevices { get; init; } = [];

    /// <summary>MQTT brokers: one connection each.</summary>
    public IReadOnlyList<MqttBrokerOptions> MqttBrokers { get; init; } = [];

    /// <summary>InfluxDB destinations; names are unique.</summary>
    public IReadOnlyList<InfluxOptions> Influx { get; init; } = [];

    /// <summary>Where to record every frame as it comes, or null.</summary>
    public string? RecordFolder { get; init; }
}

/// <summary>One saw: what it is, where its signals come from, and which blade and job hold where the controller does not say.</summary>
public sealed record SawOptions
{
    /// <summary>The machine.</summary>
    public required SawMachine Machine { get; init; }

    /// <summary>Name of the saw.</summary>
    public string Name => Machine.Name;

    /// <summary>Where its signals come from.</summary>
    public required SourceOptions Source { get; init; }

    /// <summary>Identity of the blade, where the controller does not say.</summary>
    public string? Blade { get; init; }

    /// <summary>Time between frames that is due; a longer silence than a few of them makes the signals bad.</summary>
    public required TimeSpan Interval { get; init; }
}

/// <summary>Where a saw's signals come from.</summary>
public abstract record SourceOptions;

/// <summary>Registers and bits of one unit of a Modbus device.</summary>
public sealed record ModbusSourceOptions : SourceOptions
{
    /// <summary>Name of the device in <see cref="GatewayOptions.ModbusDevices"/>.</summary>
    public required string Device { get; init; }

    /// <summary>Unit identifier, 0..255.</summary>
    public required byte Unit { get; init; }

    /// <summary>What is read where; a signal at most once.</summary>
    public required IReadOnlyList<RegisterMapping> Signals { get; init; }
}

/// <summary>One connection to a Modbus device.</summary>
public sealed record ModbusDeviceOptions
{
    /// <summary>Name, unique.</summary>
    public required string Name { get; init; }

    /// <summary>Host name or address.</summary>
    public required string Host { get; init; }

    /// <summary>TCP port; 502 is the standard's.</summary>
    public int Port { get; init; } = 502;

    /// <summary>How long to wait for a connection.</summary>
    public TimeSpan ConnectTimeout { get; init; } = TimeSpan.FromSeconds(5);

    /// <summary>How long to wait for an answer.</summary>
    public TimeSpan ResponseTimeout { get; init; } = TimeSpan.FromSeconds(1);

    /// <summary>Registers not asked for that may be read along to join two neighbours into one request.</summary>
    public int MaximumGap { get; init; } = 8;
}

/// <summary>The four tables of the Modbus data model.</summary>
public enum RegisterTable
{
    /// <summary>Coils, function code 1.</summary>
    Coil,

    /// <summary>Discrete inputs, function code 2.</summary>
    DiscreteInput,

    /// <summary>Holding registers, function code 3.</summary>
    Holding,

    /// <summary>Input registers, function code 4.</summary>
    Input,
}

/// <summary>How the words of a register value are put together.</summary>
public enum RegisterType
{
    /// <summary>One bit: a coil or discrete input, or one bit of a register.</summary>
    Bool,

    /// <summary>Unsigned 16 bit.</summary>
    UInt16,

    /// <summary>Signed 16 bit.</summary>
    Int16,

    /// <summary>Unsigned 32 bit.</summary>
    UInt32,

    /// <summary>Signed 32 bit.</summary>
    Int32,

    /// <summary>IEEE 754 single.</summary>
    Float32,

    /// <summary>Unsigned 64 bit.</summary>
    UInt64,

    /// <summary>Signed 64 bit.</summary>
    Int64,

    /// <summary>IEEE 754 double.</summary>
    Float64,

    /// <summary>ASCII text, two characters a register.</summary>
    Ascii,
}

/// <summary>In which order the bytes of a value larger than one register arrive; A is the most significant.</summary>
public enum WordOrder
{
    /// <summary>Most significant word first, most significant byte first: the usual order.</summary>
    Abcd,

    /// <summary>Least significant word first, bytes in order.</summary>
    Cdab,

    /// <summary>Most significant word first, bytes swapped in each word.</summary>
    Badc,

    /// <summary>Everything reversed.</summary>
    Dcba,
}

/// <summary>One signal's place in a Modbus unit and the way from raw to engineering value: value = raw * scale + offset.</summary>
public sealed record RegisterMapping
{
    /// <summary>The signal.</summary>
    public required Signal Signal { get; init; }

    /// <summary>The table.</summary>
    public required RegisterTable Table { get; init; }

    /// <summary>Protocol address, from 0.</summary>
    public required ushort Address { get; init; }

    /// <summary>How the raw value is put together.</summary>
    public required RegisterType Type { get; init; }

    /// <summary>Byte and word order.</summary>
    public WordOrder Order { get; init; } = WordOrder.Abcd;

    /// <summary>The bit, 0 the least significant, where one bit of a register is a flag.</summary>
    public int? Bit { get; init; }

    /// <summary>Whether a flag is turned round.</summary>
    public bool Invert { get; init; }

    /// <summary>Registers of a text.</summary>
    public int Length { get; init; } = 1;

    /// <summary>Factor to the signal's unit; a unit that the user stated is already worked in.</summary>
    public double Scale { get; init; } = 1;

    /// <summary>Offset in the signal's unit.</summary>
    public double Offset { get; init; }

    /// <summary>Least value that is believed, in the signal's unit.</summary>
    public double? Minimum { get; init; }

    /// <summary>Greatest value that is believed, in the signal's unit.</summary>
    public double? Maximum { get; init; }

    /// <summary>Texts for raw whole numbers, for text signals that the controller keeps as a code.</summary>
    public IReadOnlyDictionary<long, string>? Texts { get; init; }
}

/// <summary>One connection to an MQTT broker.</summary>
public sealed record MqttBrokerOptions
{
    /// <summary>Name, unique.</summary>
    public required string Name { get; init; }

    /// <summary>Host name or address.</summary>
    public required string Host { get; init; }

    /// <summary>TCP port.</summary>
    public int Port { get; init; } = 1883;

    /// <summary>Protocol version: 3.1.1 (false) or 5 (true).</summary>
    public bool Version5 { get; init; } = true;

    /// <summary>Client identifier; unique at the broker.</summary>
    public required string ClientId { get; init; }

    /// <summary>User name, or null.</summary>
    public string? User { get; init; }

    /// <summary>Password, or null. Never logged.</summary>
    public string? Password { get; init; }

    /// <summary>Largest payload that is looked at, bytes.</summary>
    public int MaximumPayloadBytes { get; init; } = 64 * 1024;
}

/// <summary>A saw that publishes: one JSON payload a frame, or one topic a signal.</summary>
public sealed record MqttSourceOptions : SourceOptions
{
    /// <summary>Name of the broker in <see cref="GatewayOptions.MqttBrokers"/>.</summary>
    public required string Broker { get; init; }

    /// <summary>Topic of the JSON payload that holds a whole frame, or null where each signal has its own topic.</summary>
    public string? FrameTopic { get; init; }

    /// <summary>Name of the payload's time member (RFC 3339 text, or milliseconds since 1970), or null: time of arrival.</summary>
    public string? TimeMember { get; init; }

    /// <summary>What is found where; a signal at most once.</summary>
    public required IReadOnlyList<MqttMapping> Signals { get; init; }
}

/// <summary>One signal's place in MQTT: a member of the frame's JSON payload, or a topic of its own.</summary>
public sealed record MqttMapping
{
    /// <summary>The signal.</summary>
    public required Signal Signal { get; init; }

    /// <summary>Member path in the JSON payload, dots between levels; null where the signal has its own topic.</summary>
    public string? Member { get; init; }

    /// <summary>The signal's own topic, whose payload is the bare value; null where it is a member of the frame.</summary>
    public string? Topic { get; init; }

    /// <summary>Factor to the signal's unit.</summary>
    public double Scale { get; init; } = 1;

    /// <summary>Offset in the signal's unit.</summary>
    public double Offset { get; init; }

    /// <summary>Least value that is believed, in the signal's unit.</summary>
    public double? Minimum { get; init; }

    /// <summary>Greatest value that is believed, in the signal's unit.</summary>
    public double? Maximum { get; init; }
}

/// <summary>One InfluxDB destination.</summary>
public sealed record InfluxOptions
{
    /// <summary>Name of the destination: the consumer's name in the history; unique.</summary>
    public required string Name { get; init; }

    /// <summary>Base address of the server.</summary>
    public required Uri Url { get; init; }

    /// <summary>True for a 1.x server without the v2 write path.</summary>
    public bool Version1 { get; init; }

    /// <summary>Organisation (v2), or null.</summary>
    public string? Organization { get; init; }

    /// <summary>Bucket (v2), or <c>database/retention-policy</c> (1.x).</summary>
    public required string Bucket { get; init; }

    /// <summary>Token (v2), or null. Never logged.</summary>
    public string? Token { get; init; }

    /// <summary>User (1.x), or null.</summary>
    public string? User { get; init; }

    /// <summary>Password (1.x), or null. Never logged.</summary>
    public string? Password { get; init; }

    /// <summary>Most points in one request.</summary>
    public int BatchSize { get; init; } = 5000;

    /// <summary>Longest time a point waits for its batch to fill.</summary>
    public TimeSpan MaximumWait { get; init; } = TimeSpan.FromSeconds(1);

    /// <summary>How long to wait for the server's answer.</summary>
    public TimeSpan Timeout { get; init; } = TimeSpan.FromSeconds(10);
}
