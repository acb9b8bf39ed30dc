using System.Runtime.InteropServices;
using SharpFuzz.Common;

namespace SawEdge.Fuzz;

/// <summary>
/// What the instrumented code counts: how often each pair of branches was taken. As AFL does, counts fall into eight classes, and an
/// input is new where a pair falls into a class that it was never in.
/// </summary>
internal sealed unsafe class CoverageMap
{
    private const int Size = 65536;

    private static readonly byte* _counts = (byte*)NativeMemory.AllocZeroed(Size);

    private readonly byte[] _seen = new byte[Size];

    /// <summary>Gives the instrumented code its memory: before any of it runs.</summary>
    public static void Prepare() => Trace.SharedMem = _counts;

    /// <summary>Pairs of branches that were ever taken.</summary>
    public int Pairs { get; private set; }

    /// <summary>Forgets the counts; what was seen stays.</summary>
    public void Begin()
    {
        new Span<byte>(_counts, Size).Clear();
        Trace.PrevLocation = 0;
    }

    /// <summary>Notes what the latest input did.</summary>
    /// <returns>Whether any of it was new.</returns>
    public bool Note()
    {
        var isNew = false;
        var counts = new ReadOnlySpan<byte>(_counts, Size);
        for (var at = counts.IndexOfAnyExcept((byte)0); at >= 0;)
        {
            var seen = Class(counts[at]);
            if ((_seen[at] & seen) == 0)
            {
                Pairs += _seen[at] == 0 ? 1 : 0;
                _seen[at] |= seen;
                isNew = true;
            }

            var next = counts[(at + 1)..].IndexOfAnyExcept((byte)0);
            at = next < 0 ? -1 : at + 1 + next;
        }

        return isNew;
    }

    /// <summary>The pairs that the latest input took.</summary>
    public HashSet<int> Taken()
    {
        var taken = new HashSet<int>();
        for (var at = 0; at < Size; at++)
        {
            if (_counts[at] > 0)
                taken.Add(at);
        }

        return taken;
    }

    private static byte Class(byte count) => count switch
    {
        1 => 1,
        2 => 2,
        3 => 4,
        < 8 => 8,
        < 16 => 16,
        < 32 => 32,
        < 128 => 64,
        _ => 128,
    };
}
