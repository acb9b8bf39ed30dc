using System.Collections.Concurrent;

namespace SawEdge.Core.Notation;

/// <summary>The tables of published facts that are part of the program itself.</summary>
internal static class EmbeddedData
{
    private static readonly ConcurrentDictionary<string, string> Texts = new(StringComparer.Ordinal);

    /// <summary>One table.</summary>
    /// <param name="name">Its file name, for example <c>materials.csv</c>.</param>
    public static CsvTable Table(string name) => CsvTable.Read(Texts.GetOrAdd(name, Text));

    private static string Text(string name)
    {
        // A resource is part of the assembly: reading it is no input from outside, though the type it comes as lives among the streams.
#pragma warning disable RS0030
        using var stream = typeof(EmbeddedData).Assembly.GetManifestResourceStream("SawEdge.Core.Data." + name)
            ?? throw new InvalidOperationException($"The program's own table {name} is missing from the assembly.");
        using var reader = new System.IO.StreamReader(stream);
        return reader.ReadToEnd();
#pragma warning restore RS0030
    }
}
