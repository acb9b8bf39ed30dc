namespace SawEdge.Modbus;

/// <summary>What to check when no answer, or none of ours, comes back; it depends on the way.</summary>
internal static class ModbusAdvice
{
    public const string NoAnswer =
        "Check the unit identifier, the unit's power and line, and whether the device is slower than the response timeout.";

    public const string SerialNoAnswer =
        "Check the unit identifier, the unit's power and wiring (A and B may be swapped), baud rate, parity and stop bits, and whether the device is slower than the response timeout.";

    public const string TcpNoAnswerOfOurs =
        "Check that this port speaks Modbus TCP (not RTU over TCP), and that nothing else answers there.";

    public const string RtuOverTcpNoAnswerOfOurs =
        "Check that this port carries RTU frames (RTU over TCP, not Modbus TCP), baud rate, parity and stop bits in the serial server, and that nobody else sends requests on the line.";

    public const string SerialNoAnswerOfOurs =
        "Check baud rate, parity and stop bits, the wiring and its termination, that no two units have one identifier, and that nobody else sends requests on the line.";
}
