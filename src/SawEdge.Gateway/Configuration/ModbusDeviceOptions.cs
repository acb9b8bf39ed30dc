namespace SawEdge.Gateway.Configuration;

/// <summary>One connection to a Modbus device, or to a line with several.</summary>
public abstract record ModbusDeviceOptions
{
    /// <summary>Name, unique.</summary>
    public required string Name { get; init; }

    /// <summary>How long to wait for an answer.</summary>
    public TimeSpan ResponseTimeout { get; init; } = TimeSpan.FromSeconds(1);

    /// <summary>Least time between an answer and the next request.</summary>
    public TimeSpan Pause { get; init; }

    /// <summary>Registers not asked for that may be read along to join two neighbours into one request.</summary>
    public int MaximumGap { get; init; } = 8;

    /// <summary>Where it is, for messages: host and port, or the line.</summary>
    public abstract string Endpoint { get; }
}

/// <summary>A device, or a serial server with a line behind it, that is reached over TCP.</summary>
public sealed record ModbusTcpDeviceOptions : ModbusDeviceOptions
{
    /// <summary>Host name or address.</summary>
    public required string Host { get; init; }

    /// <summary>TCP port; 502 is the standard's.</summary>
    public int Port { get; init; } = 502;

    /// <summary>Whether the frames are those of a serial line (RTU), passed on by a serial server as they are, instead of Modbus TCP.</summary>
    public bool IsRtu { get; init; }

    /// <summary>How long to wait for a connection.</summary>
    public TimeSpan ConnectTimeout { get; init; } = TimeSpan.FromSeconds(5);

    /// <inheritdoc/>
    public override string Endpoint => FormattableString.Invariant($"{(Host.Contains(':', StringComparison.Ordinal) ? $"[{Host}]" : Host)}:{Port}");
}

/// <summary>A serial line of this machine with RTU frames; eight data bits, as RTU asks for (Modbus over Serial Line V1.02, clause 2.5.1).</summary>
public sealed record ModbusSerialDeviceOptions : ModbusDeviceOptions
{
    /// <summary>The line, as the operating system names it.</summary>
    public required string Line { get; init; }

    /// <summary>Bits a second; 19200 is the standard's default (clause 2.4.2).</summary>
    public int Baud { get; init; } = 19200;

    /// <summary>Parity; even is the standard's default (clause 2.5.1).</summary>
    public LineParity Parity { get; init; } = LineParity.Even;

    /// <summary>Stop bits, 1 or 2; without parity the standard asks for 2, so that a character always has 11 bits (clause 2.5.1).</summary>
    public int StopBits { get; init; } = 1;

    /// <summary>Bits that one byte takes on the line: start, eight data, parity, stop.</summary>
    public int BitsPerByte => 1 + 8 + (Parity == LineParity.None ? 0 : 1) + StopBits;

    /// <inheritdoc/>
    public override string Endpoint => Line;
}

/// <summary>The parity bit of a serial line.</summary>
public enum LineParity
{
    /// <summary>No parity bit.</summary>
    None,

    /// <summary>Even.</summary>
    Even,

    /// <summary>Odd.</summary>
    Odd,
}
