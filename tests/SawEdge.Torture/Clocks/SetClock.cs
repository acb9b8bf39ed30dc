using System.IO.MemoryMappedFiles;
using SawEdge.TestSupport;

namespace SawEdge.Torture.Clocks;

/// <summary>
/// The wall clock of a gateway's process, set while it runs, by a library that the C compiler makes and the loader puts between the program (its
/// SQLite included) and the system; the monotonic clock stays the machine's.
/// </summary>
internal sealed class SetClock : IDisposable
{
    /// <summary>The compiler.</summary>
    public const string Program = "gcc";

    private readonly TempFolder _folder = new();
    private readonly MemoryMappedFile _file;
    private readonly MemoryMappedViewAccessor _offset;

    private SetClock()
    {
        _file = MemoryMappedFile.CreateFromFile(_folder.File("offset"), FileMode.Create, null, sizeof(long));
        _offset = _file.CreateViewAccessor();
    }

    /// <summary>The clock less the true time.</summary>
    public TimeSpan Offset { get; private set; }

    /// <summary>What a gateway with this clock is started with.</summary>
    public IReadOnlyDictionary<string, string> Environment => new Dictionary<string, string>(StringComparer.Ordinal) { ["LD_PRELOAD"] = Library, ["TORTURE_CLOCK"] = _folder.File("offset") };

    private string Library => _folder.File("set_clock.so");

    /// <summary>Makes one that shows the right time.</summary>
    public static async Task<SetClock> MakeAsync()
    {
        var clock = new SetClock();
        var (exit, output) = await Peer.RunAsync(Program, ["-O2", "-shared", "-fPIC", "-o", clock.Library, Path.Combine(AppContext.BaseDirectory, "Clocks", "set_clock.c"), "-ldl"]);
        if (exit == 0)
            return clock;
        clock.Dispose();
        throw new InvalidOperationException($"{Program}: {output}");
    }

    /// <summary>Sets the clock.</summary>
    /// <param name="offset">The clock less the true time.</param>
    public void Set(TimeSpan offset)
    {
        Offset = offset;
        _offset.Write(0, offset.Ticks * TimeSpan.NanosecondsPerTick);
    }

    /// <inheritdoc/>
    public void Dispose()
    {
        _offset.Dispose();
        _file.Dispose();
        _folder.Dispose();
    }
}
