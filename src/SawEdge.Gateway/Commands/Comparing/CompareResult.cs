using SawEdge.Core.Comparison;

namespace SawEdge.Gateway.Commands.Comparing;

/// <summary>One side of a comparison.</summary>
/// <param name="Short">Its name alone, for example <c>north</c> or <c>last week</c>.</param>
/// <param name="Named">Its name in a sentence, for example <c>saw north</c>.</param>
/// <param name="IsTime">Whether it is a time in which things were done, rather than what did them.</param>
internal sealed record ComparedSide(string Short, string Named, bool IsTime = false)
{
    /// <summary>Begin of a sentence about what it did.</summary>
    public string Doing => IsTime ? $"In {Named} the saws" : char.ToUpperInvariant(Named[0]) + Named[1..];

    /// <summary>What another was compared with.</summary>
    public string Than => IsTime ? $"in {Named}" : Named;
}

/// <summary>What a comparison says of the second side against the first.</summary>
internal sealed record CompareResult(ComparedSide First, ComparedSide Second, ComparedCuts Compared, CutTally Tally, int Least, bool IsConverted, bool IsByBlade)
{
    /// <summary>From this p-value on a difference may be chance.</summary>
    private const double Chance = 0.05;

    /// <summary>All of it in one plain sentence.</summary>
    public string Sentence
    {
        get
        {
            var counts = FormattableString.Invariant($"{Compared.Second.Cuts:N0} against {Compared.First.Cuts:N0} cuts");
            if (Compared.Kinds.Count == 0)
                return $"Nothing in common: {Second.Named} and {First.Named} have no kind of cut that both made ({ComparingWords.Count(Compared.SecondAlone, "cut")} against {ComparingWords.Count(Compared.FirstAlone, "cut")}).";
            if (Compared.Rate is not { } rate)
                return $"Too few cuts to say: {Second.Named} against {First.Named}, {counts} of kinds that both made, in {Compared.Second.Runs} against {ComparingWords.Count(Compared.First.Runs, "run")}; needed are {Least} cuts on each side, from several runs.";
            return Compared.P > Chance
                ? $"No difference beyond chance between {Second.Named} and {First.Named} ({ComparingWords.Faster(rate)}, 95 % interval {ComparingWords.Interval(rate)}, {counts})."
                : $"{Second.Doing} cut {ComparingWords.Faster(rate)} than {First.Than}, 95 % interval {ComparingWords.Interval(rate)}, {counts}.";
        }
    }
}
