namespace SawEdge.Gateway.Hosting;

/// <summary>Since when the machine runs: timestamps of the system's clock count from then, so two processes with the same answer measure time alike.</summary>
internal static class MachineBoot
{
    // proc_sys_kernel(5): made at random at each start of the kernel. Timestamps are those of CLOCK_MONOTONIC, which counts from there (clock_gettime(2)).
    private const string File = "/proc/sys/kernel/random/boot_id";

    /// <summary>Asks the system; null where it does not say.</summary>
    public static string? Read()
    {
        try
        {
            return System.IO.File.ReadAllText(File).Trim() is { Length: > 0 } boot ? boot : null;
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            // Another system: over a restart it cannot be told how much time passed, which is what a start without it says of cycles.
            return null;
        }
    }
}
