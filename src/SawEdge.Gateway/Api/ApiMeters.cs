namespace SawEdge.Gateway.Api;

/// <summary>What the API counts of itself. Safe for any number of threads.</summary>
public sealed class ApiMeters
{
    private long _requests;
    private long _failed;
    private int _readers;
    private int _exports;

    /// <summary>Requests answered.</summary>
    public long Requests => Interlocked.Read(ref _requests);

    /// <summary>Requests answered with a status of 500 or more.</summary>
    public long Failed => Interlocked.Read(ref _failed);

    /// <summary>Readers of the event stream that are connected.</summary>
    public int Readers => Volatile.Read(ref _readers);

    /// <summary>Exports that are being sent.</summary>
    public int Exports => Volatile.Read(ref _exports);

    /// <summary>A request was answered.</summary>
    public void Count(int status)
    {
        Interlocked.Increment(ref _requests);
        if (status >= 500)
            Interlocked.Increment(ref _failed);
    }

    /// <summary>A reader of the event stream came.</summary>
    /// <returns>How many there are now.</returns>
    public int ReaderCame() => Interlocked.Increment(ref _readers);

    /// <summary>A reader of the event stream went.</summary>
    public void ReaderWent() => Interlocked.Decrement(ref _readers);

    /// <summary>An export began.</summary>
    public void ExportBegan() => Interlocked.Increment(ref _exports);

    /// <summary>An export ended, in whatever way.</summary>
    public void ExportEnded() => Interlocked.Decrement(ref _exports);
}
