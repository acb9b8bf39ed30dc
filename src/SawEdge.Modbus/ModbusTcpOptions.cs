namespace SawEdge.Modbus;

/// <summary>How a device, or a serial server that carries RTU frames, is reached by TCP.</summary>
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

    /// <summary>Least time between an answer and the next request, for slow controllers.</summary>
    /// <value>Zero or more; zero unless stated.</value>
    public TimeSpan Pause { get; init; }

    /// <summary>How long nothing may come before the network is asked whether the other side is still there, so that a dead link is seen while idle, too.</summary>
    /// <value>Whole seconds from 1; 10 s unless stated.</value>
    public TimeSpan KeepAliveTime { get; init; } = TimeSpan.FromSeconds(10);

    /// <summary>Time from one such question to the next where no answer comes.</summary>
    /// <value>Whole seconds from 1; 2 s unless stated.</value>
    public TimeSpan KeepAliveInterval { get; init; } = TimeSpan.FromSeconds(2);

    /// <summary>Questions without an answer, after which the connection counts as dead.</summary>
    /// <value>1 to 127; 3 unless stated.</value>
    public int KeepAliveRetries { get; init; } = 3;
}
