using System.IO.Ports;

namespace SawEdge.Modbus;

/// <summary>The serial lines of this machine.</summary>
public static class SerialLines
{
    private const string LastingNames = "/dev/serial/by-id";
    private const int MostInASentence = 12;

    /// <summary>
    /// Names of the lines that are there now. On Linux those that keep their meaning when another adapter is plugged in
    /// (<c>/dev/serial/by-id</c>) come first.
    /// </summary>
    public static IReadOnlyList<string> Names()
    {
        string[] lasting = Directory.Exists(LastingNames) ? Directory.GetFileSystemEntries(LastingNames) : [];
        return [.. lasting.Order(StringComparer.Ordinal).Concat(SerialPort.GetPortNames().Order(StringComparer.Ordinal)).Distinct(StringComparer.Ordinal)];
    }

    /// <summary>What this machine has, one sentence for a message.</summary>
    public static string Sentence()
    {
        var names = Names();
        return names.Count switch
        {
            0 => "This machine has no serial line at present.",
            <= MostInASentence => $"This machine has {string.Join(", ", names)}.",
            _ => $"This machine has {string.Join(", ", names.Take(MostInASentence))} and more.",
        };
    }
}
