using SawEdge.Core.Signals;

namespace SawEdge.Gateway.Acquisition;

/// <summary>
/// Sees what a source brought as it came, before it is decoded: for a person who connects a saw and wants to know whether a signal is
/// mapped rightly. A source without an observer, as in normal operation, does nothing for it. Called from the source's own threads,
/// while it goes on: who observes must not wait. One observer sees one saw.
/// </summary>
public interface IRawValueObserver
{
    /// <summary>The registers of a signal came, in the order in which the device sent them.</summary>
    void RegistersRead(Signal signal, ReadOnlySpan<ushort> words);

    /// <summary>The bit of a signal came.</summary>
    void BitRead(Signal signal, bool bit);

    /// <summary>A signal's value came as text: a topic's payload, a member's value of a JSON payload as it is written there, a metric's value.</summary>
    /// <param name="signal">The signal.</param>
    /// <param name="raw">UTF-8 as it came; nothing in it is cleaned.</param>
    void TextRead(Signal signal, ReadOnlySpan<byte> raw);

    /// <summary>A request was answered with values.</summary>
    /// <param name="roundTrip">From the question to the answer.</param>
    void RequestAnswered(TimeSpan roundTrip);

    /// <summary>A poll is over; its frame follows.</summary>
    /// <param name="requests">Requests that it made, or left out because the device refuses them.</param>
    void PollEnded(int requests);
}
