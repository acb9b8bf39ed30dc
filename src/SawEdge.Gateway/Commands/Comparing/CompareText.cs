using SawEdge.Core.Comparison;
using SawEdge.Gateway.Commands.Reports;

namespace SawEdge.Gateway.Commands.Comparing;

/// <summary><c>compare</c> for people.</summary>
internal sealed class CompareText(TextPage page, MomentText moments)
{
    private const int MostKinds = 40;

    /// <summary>Prints.</summary>
    public void Write(CompareResult result)
    {
        var compared = result.Compared;
        page.Wrapped("", result.Sentence);
        if (compared.OfTheseBlades)
            page.Wrapped("", $"That is for these very blades, {compared.Second.Blades} against {compared.First.Blades}: they are too few to tell what other blades of the two types would do.");
        else if (result.IsByBlade && compared.Rate is not null)
            page.Wrapped("", $"It stands on {compared.Second.Blades} against {ComparingWords.Count(compared.First.Blades, "blade")}, and holds for others of the two types as far as these are like them.");
        if (compared.Kinds.Count > 0)
            Kinds(result);
        page.Heading("How to read it");
        page.Wrapped("  ", $"Faster: more area in the same time, each cut held against its own standard, so that size and section do not matter. Like is compared with like only: kinds of cut that both sides made. Odd cuts count little; the interval takes cuts of a {(result.IsByBlade && !compared.OfTheseBlades ? "blade" : "run (one job with one blade in one go, eight hours long at most)")} as alike.");
        if (result.Tally.First is { } first)
            page.Wrapped("  ", $"The cuts were made {moments.Of(first)} to {moments.Of(result.Tally.Last!.Value)}.");
        if (compared.FirstAlone + compared.SecondAlone > 0 && compared.Kinds.Count > 0)
            page.Wrapped("  ", FormattableString.Invariant($"Without a counterpart and left out: {compared.SecondAlone:N0} against {compared.FirstAlone:N0} cuts of kinds that only one side made."));
        if (result.Tally.LeftOut.Length > 0)
            page.Wrapped("  ", $"Left out: {result.Tally.LeftOut}.");
        if (result.Tally.Converted > 0)
            page.Wrapped("  ", $"{ComparingWords.Count(result.Tally.Converted, "cut")} had another standard when made; here all are held against the catalogue and the saws' settings as they are now.");
        if (!result.IsConverted)
            page.Wrapped("  ", "No configuration was read: cuts are held against the standards of their day. A change of the catalogue between them would look like a difference.");
    }

    private void Kinds(CompareResult result)
    {
        page.Heading($"By kind of cut ({result.Second.Short} against {result.First.Short})");
        foreach (var kind in result.Compared.Kinds.OrderByDescending(kind => Math.Min(kind.First.Cuts, kind.Second.Cuts)).ThenBy(kind => ComparingWords.Kind(kind.Kind), StringComparer.Ordinal).Take(MostKinds))
        {
            var counts = FormattableString.Invariant($"{kind.Second.Cuts:N0} against {kind.First.Cuts:N0} cuts");
            page.Wrapped("  ", $"{ComparingWords.Kind(kind.Kind)}: {Words(kind)}, {counts}");
        }

        if (result.Compared.Kinds.Count > MostKinds)
            page.Line(FormattableString.Invariant($"  and {result.Compared.Kinds.Count - MostKinds:N0} more kinds with fewer cuts; --json lists them all"));
    }

    private static string Words(ComparedKind kind) => kind switch
    {
        { Rate: null } => "too few to say",
        { P: <= StandardsReview.FalseShare, Rate: { } rate } => $"{ComparingWords.Faster(rate)} ({ComparingWords.Interval(rate)})",
        { Rate: { } rate } => $"no difference beyond chance ({ComparingWords.Interval(rate)})",
    };
}
