namespace SawEdge.Gateway.Acquisition.Modbus;

/// <summary>
/// How long a saw that does not answer is left alone, so that waiting for it does not take the time of the others on the
/// same connection. One miss is forgiven at once: on a serial line behind a protocol gateway it happens. Pure.
/// </summary>
internal static class PollPause
{
    /// <summary>Longest pause.</summary>
    public static readonly TimeSpan Longest = TimeSpan.FromSeconds(30);

    /// <summary>The pause after so many failures in a row: none, then 1, 2, 4, 8, 16, 30, 30... s.</summary>
    public static TimeSpan After(int failures) => failures switch
    {
        <= 1 => TimeSpan.Zero,
        <= 6 => TimeSpan.FromSeconds(1 << (failures - 2)),
        _ => Longest,
    };
}
