namespace SawEdge.Gateway.Brokers;

/// <summary>A broker cannot be connected to; the message is a sentence that says why and what to look at.</summary>
/// <param name="message">The sentence, without the broker's address.</param>
/// <param name="needsMending">Whether it stays so until a person changes something.</param>
/// <param name="inner">What it came from.</param>
internal sealed class BrokerException(string message, bool needsMending, Exception? inner = null) : Exception(message, inner)
{
    /// <summary>Whether it stays so until a person changes something.</summary>
    public bool NeedsMending => needsMending;
}
