using System.Net.Sockets;
using MQTTnet;
using SawEdge.Core.Signals;

namespace SawEdge.Gateway.Brokers;

/// <summary>What a broker or the way to it says, in words that help.</summary>
internal static class BrokerWords
{
    /// <summary>The network's own error behind an exception, or null.</summary>
    public static SocketError? SocketErrorOf(Exception e) =>
        e is SocketException socket ? socket.SocketErrorCode : e.InnerException is { } inner ? SocketErrorOf(inner) : null;

    /// <summary>What an error of the network means, and what to look at.</summary>
    public static string Of(SocketError error) => error switch
    {
        SocketError.ConnectionRefused => "the connection was refused. Check that the broker runs there, and the port.",
        SocketError.HostNotFound or SocketError.NoData or SocketError.TryAgain => "the name is not known. Check the spelling and the name server.",
        SocketError.HostUnreachable or SocketError.NetworkUnreachable or SocketError.NetworkDown => "there is no way to it. Check the address, the cable and the network.",
        SocketError.TimedOut => "nothing answers. Check the address and that no firewall is in the way.",
        _ => $"the connection failed ({error}). Check that the broker runs there, the port and the network.",
    };

    /// <summary>A broker's refusal of a connection, and what to look at.</summary>
    public static string Refusal(MqttClientConnectResultCode code, string? reason) => $"refuses the connection: {code}{Said(reason)}.{Advice(code)}";

    /// <summary>A broker's own words in brackets; empty where it said nothing.</summary>
    public static string Said(string? reason) => string.IsNullOrWhiteSpace(reason) ? "" : $" ({ControllerText.Clean(reason)})";

    private static string Advice(MqttClientConnectResultCode code) => code switch
    {
        MqttClientConnectResultCode.BadUserNameOrPassword or MqttClientConnectResultCode.NotAuthorized => " Check the broker's user and password in the configuration.",
        MqttClientConnectResultCode.ClientIdentifierNotValid => " Choose another client identifier.",
        MqttClientConnectResultCode.UnsupportedProtocolVersion => " Try the other protocol version (3.1.1 or 5).",
        _ => "",
    };
}
