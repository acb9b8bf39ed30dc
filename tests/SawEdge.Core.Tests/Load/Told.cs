using System.Text.Json;
using System.Text.Json.Serialization;

namespace SawEdge.Core.Tests.Load;

/// <summary>All that a finished cut says, as text that can be compared: record and assessment with every number of theirs.</summary>
internal static class Told
{
    private static readonly JsonSerializerOptions Options = new() { NumberHandling = JsonNumberHandling.AllowNamedFloatingPointLiterals };

    public static string Of(FinishedCut cut) => JsonSerializer.Serialize(cut.Record, Options) + "\n" + JsonSerializer.Serialize(cut.Assessment, Options);

    public static string Of(IEnumerable<FinishedCut> cuts) => string.Join('\n', cuts.Select(Of));
}
