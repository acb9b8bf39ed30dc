namespace SawEdge.Core.Load;

/// <summary>Something that may be behind an unusual cut: advice to a person.</summary>
/// <param name="Name">Its word in records, snake case, for example <c>dull_blade</c>.</param>
/// <param name="Weight">How well the evidence fits, 0..1; the weights of a cut's causes add up to 1.</param>
/// <param name="Evidence">What was seen, a sentence with numbers and units.</param>
/// <param name="MayBe">What it may be, a sentence.</param>
/// <param name="Caution">What to take care of when looking, a sentence.</param>
public sealed record LikelyCause(string Name, double Weight, string Evidence, string MayBe, string Caution)
{
    /// <summary>All words that there are for causes.</summary>
    public static IReadOnlyList<string> Names => CauseTable.Names;
}
