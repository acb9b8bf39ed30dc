using System.Globalization;

namespace SawEdge.Modbus;

/// <summary>A read of a device failed. The message says where, what was asked, what happened and what to check.</summary>
public abstract class ModbusException : Exception
{
    private protected ModbusException(string endpoint, ReadRequest? request, string happened, Exception? inner = null)
        : base(request is { } asked ? $"{endpoint}, {asked}: {happened}" : $"{endpoint}: {happened}", inner)
    {
        Endpoint = endpoint;
        Request = request;
    }

    /// <summary>Host and port, or the name of the serial line.</summary>
    public string Endpoint { get; }

    /// <summary>What was asked, where a request was on its way.</summary>
    public ReadRequest? Request { get; }

    private protected static string Say(FormattableString text) => text.ToString(CultureInfo.InvariantCulture);
}

/// <summary>The device answered with an exception: it was reached and understood, and refuses (Modbus Application Protocol V1.1b3, clause 7).</summary>
public sealed class ModbusDeviceException : ModbusException
{
    internal ModbusDeviceException(string endpoint, in ReadRequest request, ModbusExceptionCode code)
        : base(endpoint, request, Say($"the device answers exception {(byte)code:X2}, {ModbusExceptionCodes.Explain(code)}"))
    {
        Code = code;
    }

    /// <summary>The exception code.</summary>
    public ModbusExceptionCode Code { get; }
}

/// <summary>No answer came in time. The connection is kept, unless nothing at all came for several requests.</summary>
public sealed class ModbusTimeoutException : ModbusException
{
    internal ModbusTimeoutException(string endpoint, in ReadRequest request, TimeSpan waited, string advice)
        : base(endpoint, request, Say($"no answer within {waited.TotalSeconds:0.###} s. {advice}"))
    {
    }
}

/// <summary>
/// What came is no valid answer. By Modbus TCP the connection was closed, because nothing after it could be trusted; RTU finds its
/// way back by silence on the line.
/// </summary>
public sealed class ModbusProtocolException : ModbusException
{
    internal ModbusProtocolException(string endpoint, in ReadRequest request, string fault, string advice)
        : base(endpoint, request, $"no valid Modbus answer: {fault}. {advice}")
    {
        Fault = fault;
    }

    /// <summary>What was wrong.</summary>
    public string Fault { get; }
}

/// <summary>The connection could not be made, or was lost.</summary>
public sealed class ModbusConnectionException : ModbusException
{
    internal ModbusConnectionException(string endpoint, ReadRequest? request, string happened, Exception? inner)
        : base(endpoint, request, happened, inner)
    {
    }
}
