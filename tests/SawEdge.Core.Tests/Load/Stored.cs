using SawEdge.Core.Load;

namespace SawEdge.Core.Tests.Load;

/// <summary>Writes a learned state down and reads it back, as a restart does.</summary>
internal static class Stored
{
    public static MemoryReader Read(Action<MemoryWriter> save) => new(Bytes(save));

    public static byte[] Bytes(Action<MemoryWriter> save)
    {
        var writer = new MemoryWriter();
        save(writer);
        return writer.ToArray();
    }
}
