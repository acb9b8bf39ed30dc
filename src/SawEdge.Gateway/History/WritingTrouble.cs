using Microsoft.Extensions.Logging;

namespace SawEdge.Gateway.History;

/// <summary>
/// Says when the history cannot be written and when it is again: a disk that fails now and then is told of once in a while, and not with each
/// failure, but a trouble that lasts always is. For one thread; <see cref="Is"/> for any.
/// </summary>
/// <param name="logger">Where it is said.</param>
/// <param name="folder">Folder of the history.</param>
/// <param name="time">The clock.</param>
internal sealed class WritingTrouble(ILogger logger, string folder, TimeProvider time)
{
    /// <summary>How soon after the last time another short trouble is not told of.</summary>
    public static readonly TimeSpan Quiet = TimeSpan.FromMinutes(10);

    /// <summary>A trouble that lasts so long is told of in any case.</summary>
    public static readonly TimeSpan Lasting = TimeSpan.FromSeconds(10);

    private long _since;
    private long _saidAt;
    private bool _wasSaid;
    private bool _isSaid;
    private bool _is;
    private int _untold;

    /// <summary>Whether it cannot be written at the moment.</summary>
    public bool Is => Volatile.Read(ref _is);

    /// <summary>Another try has failed.</summary>
    /// <param name="reason">Why.</param>
    public void Failed(string reason)
    {
        if (!_is)
            _since = time.GetTimestamp();
        Volatile.Write(ref _is, true);
        if (_isSaid || (_wasSaid && time.GetElapsedTime(_saidAt) < Quiet && time.GetElapsedTime(_since) < Lasting))
            return;
        HistoryLog.StorageTrouble(logger, folder, reason, _untold == 0 ? "" : FormattableString.Invariant($" It came and went {_untold} times since this was said last."));
        (_isSaid, _wasSaid, _saidAt, _untold) = (true, true, time.GetTimestamp(), 0);
    }

    /// <summary>A try has succeeded.</summary>
    public void Ended()
    {
        if (!_is)
            return;
        if (_isSaid)
            HistoryLog.StorageRecovered(logger, folder, time.GetElapsedTime(_since));
        else
            _untold++;
        _isSaid = false;
        Volatile.Write(ref _is, false);
    }
}
