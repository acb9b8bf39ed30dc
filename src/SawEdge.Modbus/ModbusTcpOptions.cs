namespace SawEdge.Modbus;

/// <summary>How a device is reached by TCP.</summary>
public sealed record ModbusTcpOptions
{
    /// <summary>Port that the standard reserves (Modbus Messaging on TCP/IP V1.0b, clause 4.2.2).</summary>
    public const int StandardPort = 502;

    /// <summary>Host name or address.</summary>
    public required string Host { get; init; }

    /// <summary>TCP port.</summary>
    /// <value>1 to 65535; 502 unless stated.</value>
    public int Port { get; init; } = StandardPort;

    /// <summary>How long to wait for a connection.</summary>
    /// <value>More than zero; 5 s unless stated.</value>
    public TimeSpan ConnectTimeout { get; init; } = TimeSpan.FromSeconds(5);

    /// <summary>How long to wait for an answer.</summary>
    /// <value>More than zero; 1 s unless stated.</value>
    public TimeSpan ResponseTimeout { get; init; } = TimeSpan.FromSeconds(1);
}
