using Microsoft.Extensions.Logging;
using SawEdge.Core.Signals;

namespace SawEdge.Gateway.Forwarding;

/// <summary>
/// Says what ails a destination, once when it begins and once when it ends, however often it is tried in between.
/// A change from trouble that passes to trouble that somebody has to mend is said, too. Lanes may speak at once.
/// </summary>
internal sealed class DestinationHealth(ILogger logger, TimeProvider time, string destination, Func<string> server)
{
    // A server may repeat the whole point in its answer.
    private const int LongestWords = 200;

    private readonly Lock _gate = new();
    private Verdict? _trouble;
    private long _since;
    private string? _toMend;
    private bool _isKnown;
    private bool _saidTooLarge;

    /// <summary>Whether nothing is taken at the moment.</summary>
    public bool InTrouble
    {
        get
        {
            lock (_gate)
                return _trouble is not null;
        }
    }

    /// <summary>Whether it has been tried since the start, so that <see cref="InTrouble"/> says something.</summary>
    public bool IsKnown => Volatile.Read(ref _isKnown);

    /// <summary>What somebody has to mend before anything is taken, in words; null where nothing is known of that kind.</summary>
    public string? ToMend => Volatile.Read(ref _toMend);

    /// <summary>Nothing was taken: it passes by itself, or has to be mended.</summary>
    public void Trouble(Verdict verdict, ServerAnswer answer)
    {
        lock (_gate)
        {
            Volatile.Write(ref _toMend, verdict == Verdict.Mend ? $"{Advice(answer.Status)} The server said: {ControllerText.CleanUpTo(answer.Message, LongestWords)} (status {answer.Status})." : null);
            Volatile.Write(ref _isKnown, true);
            if (_trouble == verdict)
                return;
            if (_trouble is null)
                _since = time.GetTimestamp();
            _trouble = verdict;
        }

        if (verdict == Verdict.Mend)
            ForwardingLog.NeedsMending(logger, destination, server(), answer.Status, Advice(answer.Status), answer.Message);
        else
            ForwardingLog.Waiting(logger, destination, server(), answer.Status, answer.Message);
    }

    /// <summary>The server answered to the points themselves.</summary>
    public void Answers()
    {
        lock (_gate)
        {
            Volatile.Write(ref _isKnown, true);
            if (_trouble is null)
                return;
            _trouble = null;
            Volatile.Write(ref _toMend, null);
        }

        ForwardingLog.Recovered(logger, destination, server(), time.GetElapsedTime(_since));
    }

    /// <summary>A request was too large.</summary>
    public void TooLarge(int points)
    {
        if (Interlocked.Exchange(ref _saidTooLarge, true))
            return;
        ForwardingLog.TooLarge(logger, destination, server(), points);
    }

    /// <summary>What somebody has to mend, by the server's status.</summary>
    public static string Advice(int status) => status switch
    {
        401 => "it does not know this gateway; check the token, or user and password.",
        403 => "this gateway may not write there; give its token or user the right to write to the bucket.",
        404 => "the bucket or database, the organisation or the address does not exist; create it or correct the name.",
        >= 300 and < 400 => "it redirects; configure the address that it redirects to.",
        _ => "check the address; what answers there does not take points.",
    };
}
