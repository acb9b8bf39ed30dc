using System.Net.Sockets;

namespace SawEdge.Modbus;

/// <summary>How RTU frames come to a line and back.</summary>
internal abstract class RtuTransport
{
    /// <summary>Where it leads, for messages.</summary>
    public abstract string Endpoint { get; }

    /// <summary>How long a unit may take to answer.</summary>
    public abstract TimeSpan ResponseTimeout { get; }

    /// <summary>Least time between an answer and the next request.</summary>
    public abstract TimeSpan Pause { get; }

    /// <summary>Whether it is opened anew when nothing at all comes, or bytes without end: where that may help.</summary>
    public abstract bool ReopensAfterTrouble { get; }

    /// <summary>What to check when no answer comes.</summary>
    public abstract string NoAnswerAdvice { get; }

    /// <summary>What to check when what comes is no answer.</summary>
    public abstract string NoAnswerOfOursAdvice { get; }

    /// <summary>How long so many bytes take on the line, where that is known.</summary>
    public abstract TimeSpan TimeOf(int bytes);

    /// <summary>Opens it.</summary>
    /// <exception cref="ModbusConnectionException">It cannot be opened.</exception>
    public abstract ValueTask<IByteLine> OpenAsync(ReadRequest? request, CancellationToken cancellation);

    /// <summary>What happened and what to check when it was lost.</summary>
    public abstract string ExplainLoss(Exception? reason);

    /// <summary>Whether an exception of an <see cref="IByteLine"/> says that it is of no further use.</summary>
    public static bool IsLoss(Exception e) => e is SocketException or IOException or ObjectDisposedException or UnauthorizedAccessException;
}
