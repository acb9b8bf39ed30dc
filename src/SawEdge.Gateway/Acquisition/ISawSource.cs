using SawEdge.Gateway.Acquisition.Modbus;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Acquisition;

/// <summary>One connection that saws are read from: they come and go while it runs, and the others do not notice.</summary>
internal interface ISawSource
{
    /// <summary>What it does, for messages.</summary>
    string What { get; }

    /// <summary>Reads until it is stopped, then says in each inbox that no frame will follow.</summary>
    /// <param name="stop">Stops it; the task then ends without an exception.</param>
    Task RunAsync(CancellationToken stop);

    /// <summary>Reads another saw as well.</summary>
    /// <param name="saw">The saw.</param>
    /// <param name="inbox">Takes its frames.</param>
    /// <param name="cancellation">Ends the wait.</param>
    /// <returns>Ends when it is read.</returns>
    /// <exception cref="ArgumentException">It is not read from here, or a mapping cannot be read.</exception>
    Task AddAsync(SawOptions saw, SawInbox inbox, CancellationToken cancellation);

    /// <summary>Reads a saw no more, and says in its inbox that no frame will follow.</summary>
    /// <param name="saw">Its name.</param>
    /// <param name="cancellation">Ends the wait.</param>
    /// <returns>Ends when it is not read any more.</returns>
    Task RemoveAsync(string saw, CancellationToken cancellation);

    /// <summary>What polling a saw came to so far; null where it is not polled.</summary>
    /// <param name="saw">Its name.</param>
    PollCounters? CountersOf(string saw);
}
