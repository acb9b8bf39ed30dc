namespace SawEdge.Gateway.Hosting;

/// <summary>
/// Since when the machine runs: timestamps of the system's clock count from then, so two processes with the same answer measure time alike. Under
/// Linux the kernel's own mark (<c>boot_id</c>, proc_sys_kernel(5)), made at random at each of its starts; timestamps are those of CLOCK_MONOTONIC,
/// which counts from there (clock_gettime(2)).
/// </summary>
internal static class MachineBoot
{
    /// <summary>The environment variable in which a service manager tells the mark to a service that may not see it (<c>%b</c> in a unit, systemd.unit(5)).</summary>
    public const string Variable = "MACHINE_BOOT_ID";

    /// <summary>The file in which the kernel tells it.</summary>
    public const string File = "/proc/sys/kernel/random/boot_id";

    /// <summary>Asks the service manager, then the system; null where neither says: over a restart it cannot be told then how much time passed.</summary>
    public static string? Read() => Read(Environment.GetEnvironmentVariable(Variable), File);

    /// <inheritdoc cref="Read()"/>
    /// <param name="told">What the service manager tells, or null.</param>
    /// <param name="file">The kernel's file.</param>
    public static string? Read(string? told, string file)
    {
        if (Mark(told) is { } mark)
            return mark;
        try
        {
            return Mark(System.IO.File.ReadAllText(file));
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            // Another system, or one that does not show it.
            return null;
        }
    }

    // The two write the same one differently.
    private static string? Mark(string? text) => Guid.TryParse(text, out var mark) ? mark.ToString("N") : null;
}
