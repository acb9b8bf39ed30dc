using System.Globalization;
using SawEdge.TestSupport;

namespace SawEdge.EndToEnd.Tests.Support;

/// <summary>
/// The wall clock of one process, set while it runs: libfaketime reads the offset from a file each time the process asks. The monotonic clock is
/// left as it is, as when a person or a time server sets a real clock.
/// </summary>
internal sealed class FakedClock(string file)
{
    /// <summary>The library of Debian's package, on this machine's architecture; the Fact that names it is skipped where it is not there.</summary>
    public const string Program = "faketime";

    /// <summary>What the process gets in its environment.</summary>
    public Dictionary<string, string> Environment => new()
    {
        ["LD_PRELOAD"] = Library,
        ["FAKETIME_TIMESTAMP_FILE"] = file,
        ["FAKETIME_NO_CACHE"] = "1",
        ["DONT_FAKE_MONOTONIC"] = "1",

        // What waits by the monotonic clock would otherwise be woken at once, again and again.
        ["FAKETIME_FORCE_MONOTONIC_FIX"] = "0",
    };

    /// <summary>What the process is away from the real time.</summary>
    public TimeSpan Offset { get; private set; }

    /// <summary>Sets the clock; at once, never half.</summary>
    public void Set(TimeSpan offset)
    {
        Offset = offset;
        File.WriteAllText(file + ".new", string.Create(CultureInfo.InvariantCulture, $"{(offset < TimeSpan.Zero ? "-" : "+")}{offset.Duration().TotalSeconds:0.###}s"));
        File.Move(file + ".new", file, overwrite: true);
    }

    private static string Library => Directory.EnumerateFiles("/usr/lib", "libfaketimeMT.so.1", SearchOption.AllDirectories).FirstOrDefault()
        ?? throw new FileNotFoundException("libfaketimeMT.so.1 is not in /usr/lib; tests/run.sh installs the package faketime.");
}
