using System.Globalization;
using SawEdge.TestSupport;

namespace SawEdge.Torture.Plant;

/// <summary>The wall clock of a gateway's process, set by Debian's faketime while it runs; its monotonic clock stays the machine's.</summary>
public sealed class FakedClock
{
    /// <summary>What it needs, for <see cref="PeerFactAttribute"/>.</summary>
    public const string Program = "faketime";

    private readonly string _file;

    /// <summary>Sets it to the right time.</summary>
    /// <param name="file">The file that the library reads.</param>
    public FakedClock(string file)
    {
        _file = file;
        Set(TimeSpan.Zero);
    }

    /// <summary>The clock less the true time.</summary>
    public TimeSpan Offset { get; private set; }

    /// <summary>Environment of the process whose clock it is.</summary>
    public IReadOnlyDictionary<string, string> Environment => new Dictionary<string, string>
    {
        ["LD_PRELOAD"] = Directory.GetFiles("/usr/lib", "libfaketimeMT.so.1", SearchOption.AllDirectories)[0],
        ["FAKETIME_TIMESTAMP_FILE"] = _file,

        // The library looks at its file once a second: at every look at the clock it would cost more than everything else.
        ["FAKETIME_CACHE_DURATION"] = "1",
        ["DONT_FAKE_MONOTONIC"] = "1",
        ["FAKETIME_DONT_RESET"] = "1",
    };

    /// <summary>Sets the clock.</summary>
    /// <param name="offset">The clock less the true time.</param>
    public void Set(TimeSpan offset)
    {
        // Renamed into place, so that nobody reads half of it.
        Offset = offset;
        File.WriteAllText(_file + ".new", offset.TotalSeconds.ToString("+0.000;-0.000", CultureInfo.InvariantCulture) + "\n");
        File.Move(_file + ".new", _file, overwrite: true);
    }
}
