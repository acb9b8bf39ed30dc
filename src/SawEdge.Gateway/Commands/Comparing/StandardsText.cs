using System.Globalization;
using SawEdge.Core.Comparison;
using SawEdge.Gateway.Commands.Reports;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Commands.Comparing;

/// <summary><c>standards</c> for people.</summary>
internal sealed class StandardsText(TextPage page, MomentText moments, DisplayUnits units)
{
    private const int Material = 12;
    private const int Family = 8;
    private const int Blade = 17;

    /// <summary>Prints.</summary>
    public void Write(StandardsResult result)
    {
        var tally = result.Tally;
        page.Wrapped("", $"{ComparingWords.Count(tally.Taken, "cut")} against their standards, {moments.Of(tally.First!.Value)} to {moments.Of(tally.Last!.Value)}.");
        Table("against the catalogue", [.. result.Kinds.Where(kind => kind.Kind.PlantJob.Length == 0)]);
        Table("against the plant's own standards in the job list", [.. result.Kinds.Where(kind => kind.Kind.PlantJob.Length > 0)]);
        Changes(result);
        Remarks(result);
    }

    private void Table(string against, IReadOnlyList<KindAgainstStandard> kinds)
    {
        foreach (var saw in kinds.GroupBy(kind => kind.Kind.Saw))
        {
            page.Heading($"{saw.Key}, {against}");
            page.Line(Row("material", "section", "blade", "cuts", "runs", "median", "spread", "typical (95 %)", ""));
            foreach (var kind in saw)
                Kind(kind);
        }
    }

    private void Kind(KindAgainstStandard kind)
    {
        var (material, family, blade) = (kind.Kind.PlantJob.Length > 0 ? kind.Kind.PlantJob : kind.Kind.Material, kind.Kind.Family, kind.Kind.BladeType.Length > 0 ? kind.Kind.BladeType : "not stated");
        if (material.Length > Material || family.Length > Family || blade.Length > Blade)
        {
            page.Wrapped("  ", string.Join(", ", material, family, blade));
            (material, family, blade) = ("", "", "");
        }

        var typical = kind.Typical is { } of ? $"{Factor(of.Value)} ({Factor(of.Low)} to {Factor(of.High)})" : "-";
        var verdict = kind switch { { Typical: null } => "few", { Differs: true, Typical.Value: > 1 } => "slower", { Differs: true } => "faster", _ => "" };
        page.Line(Row(material, family, blade, Number(kind.Cuts), Number(kind.Runs), Factor(kind.Median), $"{100 * kind.Spread:0} %", typical, verdict));
    }

    private static string Row(string material, string family, string blade, string cuts, string runs, string median, string spread, string typical, string verdict) =>
        string.Create(CultureInfo.InvariantCulture, $"  {material,-Material} {family,-Family} {blade,-Blade}{cuts,8}{runs,6}{median,7}{spread,7} {typical,-19} {verdict}");

    private void Changes(StandardsResult result)
    {
        page.Line("");
        if (result.Changes.Count == 0)
        {
            page.Wrapped("", string.Create(CultureInfo.InvariantCulture, $"No other rate is proposed for the catalogue: no material differs from its standard beyond chance and by {100 * StandardsReview.LeastChange:0} % or more."));
            return;
        }

        page.Line("Rates proposed for the catalogue");
        foreach (var change in result.Changes)
        {
            var material = change.Material;
            var (now, then) = (DisplayText.Text(units, change.NowCm2Min, "cm2/min"), DisplayText.Text(units, change.Rate.RateCm2Min, "cm2/min"));
            page.Wrapped(
                $"  {material.Material,-Material} ",
                string.Create(CultureInfo.InvariantCulture, $"{then} in place of {now} ({100 * ((change.Rate.RateCm2Min / change.NowCm2Min) - 1):+0;-0} %): {ComparingWords.Count(material.Cuts, "cut")} in {ComparingWords.Count(material.Runs, "run")} on {ComparingWords.Saws(material.Saws)} took {Factor(material.Typical.Value)} times the standard, 95 % interval {Factor(material.Typical.Low)} to {Factor(material.Typical.High)}."));
            if (material.Disagrees)
                page.Wrapped($"  {"",-Material} ", $"Its kinds of cut lie apart, {Factor(material.Least)} to {Factor(material.Greatest)}: one rate cannot fit them all. See above which saw, section or blade it is.");
        }
    }

    private void Remarks(StandardsResult result)
    {
        var tally = result.Tally;
        page.Heading("How to read it");
        page.Wrapped("  ", "Median 1.07: half of the cuts took more than 1.07 times their standard. Spread: two of three cuts lie that close to the median. Typical: the centre of the bulk of the cuts, in which odd ones count little, and its 95 % interval. A run is the cuts of one job with one blade in one go, eight hours long at most; the interval takes cuts of a run as alike.");
        page.Wrapped("  ", string.Create(CultureInfo.InvariantCulture, $"Slower, faster: beyond chance. Of all that is called so, at most 1 in {1 / StandardsReview.FalseShare:0} is expected to be chance all the same (false discovery rate by Benjamini and Hochberg, over {ComparingWords.Count(result.Kinds.Count(kind => kind.P is not null), "kind")} of cut). Few: less than {result.Least} cuts, or too few runs to say."));
        if (tally.Unusual > 0)
            page.Wrapped("  ", $"{ComparingWords.Count(tally.Unusual, "cut")} with a load score of 3 or more {(tally.Unusual == 1 ? "is" : "are")} among them: leaving out the odd ones would make every standard look right.");
        if (tally.LeftOut.Length > 0)
            page.Wrapped("  ", $"Left out: {tally.LeftOut}.");
        if (tally.Converted > 0)
            page.Wrapped("  ", $"{ComparingWords.Count(tally.Converted, "cut")} had another standard when {(tally.Converted == 1 ? "it was" : "they were")} made; here all are held against the catalogue and the saws' settings as they are now.");
        if (!result.IsConverted)
            page.Wrapped("  ", "No configuration was read: cuts are held against the standards of their day, whatever the catalogue said then.");
        if (result.Kinds.Any(kind => kind.Kind.PlantJob.Length > 0))
            page.Wrapped("  ", "Standards of the plant's own stand in the job list, column standard; change them there.");
        page.Wrapped("  ", "A rate is one for all saws, so that a slow saw does not get a slow standard. Where a limit of feed or descent governs a cut, its time follows the rate less than in proportion: look again afterwards.");
    }

    private static string Factor(double value) => value.ToString("0.00", CultureInfo.InvariantCulture);

    private static string Number(int value) => value.ToString("N0", CultureInfo.InvariantCulture);
}
