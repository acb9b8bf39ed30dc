namespace SawEdge.Modbus;

/// <summary>The parity bit of a serial line.</summary>
public enum SerialParity : byte
{
    /// <summary>No parity bit; the standard then asks for two stop bits.</summary>
    None,

    /// <summary>Odd parity.</summary>
    Odd,

    /// <summary>Even parity: the standard's default (Modbus over Serial Line V1.02, clause 2.5.1).</summary>
    Even,
}

/// <summary>How the units on a serial line are reached: RTU mode, always eight data bits (Modbus over Serial Line V1.02, clause 2.5.1).</summary>
public sealed record ModbusSerialOptions
{
    /// <summary>The speed that every device must know (clause 2.2 of part 3), bit/s.</summary>
    public const int StandardBaud = 19200;

    /// <summary>Name of the line on this machine, for example <c>/dev/ttyUSB0</c> or <c>COM3</c>.</summary>
    public required string Line { get; init; }

    /// <summary>Speed, bit/s.</summary>
    /// <value>300 to 4,000,000; 19200 unless stated.</value>
    public int Baud { get; init; } = StandardBaud;

    /// <summary>Parity.</summary>
    /// <value>Even unless stated.</value>
    public SerialParity Parity { get; init; } = SerialParity.Even;

    /// <summary>Stop bits.</summary>
    /// <value>1 or 2; unless stated 1 with parity and 2 without, so that a character always has eleven bits (clause 2.5.1).</value>
    public int? StopBits { get; init; }

    /// <summary>How long a unit may take to answer. The time that request and answer spend on the line comes on top.</summary>
    /// <value>More than zero; 1 s unless stated.</value>
    public TimeSpan ResponseTimeout { get; init; } = TimeSpan.FromSeconds(1);

    /// <summary>Least time between an answer and the next request, for slow controllers. The silence that the standard asks for is kept in any case.</summary>
    /// <value>Zero or more; zero unless stated.</value>
    public TimeSpan Pause { get; init; }

    /// <summary>Stop bits that hold.</summary>
    public int EffectiveStopBits => StopBits ?? (Parity == SerialParity.None ? 2 : 1);

    /// <summary>Bits of a character on the line: start, eight data, parity, stop.</summary>
    public int CharacterBits => 1 + 8 + (Parity == SerialParity.None ? 0 : 1) + EffectiveStopBits;

    /// <summary>
    /// Least silence between frames (clause 2.5.1.1): 3.5 characters, 1.75 ms above 19200 bit/s.
    /// </summary>
    public TimeSpan Silence => Baud > StandardBaud ? TimeSpan.FromMilliseconds(1.75) : TimeSpan.FromSeconds(3.5 * CharacterBits / Baud);

    /// <summary>How long so many bytes take on the line.</summary>
    public TimeSpan TimeOf(int bytes) => TimeSpan.FromSeconds((double)bytes * CharacterBits / Baud);
}
