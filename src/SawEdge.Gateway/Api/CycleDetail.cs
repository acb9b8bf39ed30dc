using SawEdge.Core;
using SawEdge.Core.Blades;
using SawEdge.Core.Cycles;
using SawEdge.Core.Load;
using SawEdge.Core.Sections;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Api;

/// <summary>One cycle with everything that is stored of it.</summary>
internal sealed record CycleDetail(CycleRecord Cycle, AssessmentView? Assessment, ProfileView? Profile, SectionView? Section, string? Previous, string? Next)
{
    /// <summary>Reads it; null where there is no such cycle.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public static async Task<CycleDetail?> ReadAsync(HistoryReader reader, string id, CancellationToken cancellation)
    {
        if (await reader.CycleAsync(id, cancellation) is not { } cycle)
            return null;
        var evidence = await reader.EvidenceAsync(id, cancellation);
        var assessment = await reader.AssessmentAsync(id, cancellation);
        var measured = evidence?.Cut.Profile ?? await reader.ProfileAsync(id, cancellation);
        var (previous, next) = await reader.NeighboursAsync(id, cancellation);
        return new CycleDetail(
            cycle,
            assessment is null ? null : AssessmentView.Of(assessment),
            ProfileView.Of(measured, assessment?.Profile),
            SectionView.Of(evidence?.Job?.GetValueOrDefault("section"), cycle.Section),
            previous,
            next);
    }
}

/// <summary>What the load score says of a cycle.</summary>
internal sealed record AssessmentView(
    double? Score, double Threshold, bool IsUnusual, string? Basis, bool Accepted, string? Why,
    IReadOnlyList<ViewView> Views, IReadOnlyList<LikelyCause> Causes, IReadOnlyList<FindingView> Findings, IReadOnlyList<string> Doubts, WearForecast? Wear)
{
    /// <summary>The view of an assessment.</summary>
    public static AssessmentView Of(LoadAssessment assessment) => new(
        assessment.Score,
        assessment.Threshold,
        assessment.IsUnusual,
        Known.Text(assessment.Basis),
        assessment.Accepted,
        Known.Text(assessment.Why),
        [.. assessment.Views.Select(view => new ViewView(view.View, view.What, view.Value, view.Expected, view.Spread, view.Statistic, view.PValue, view.History, view.Score))],
        assessment.Causes,
        [.. assessment.Findings.Select(finding => new FindingView(finding.Kind.ToName(), finding.At, finding.Value, finding.Limit, finding.Words))],
        assessment.Doubts,
        assessment.Wear);
}

/// <summary>One view of a cycle.</summary>
internal sealed record ViewView(LoadView View, string What, double Value, double Expected, double Spread, double Statistic, double PValue, int History, double Score);

/// <summary>Something that was found while the cycle ran.</summary>
internal sealed record FindingView(string Kind, DateTimeOffset At, double? Value, double? Limit, string Words);

/// <summary>A cycle's load bin by bin; all lists have the same length, null where a bin says nothing.</summary>
/// <param name="ByDepth">Whether the bins are shares of the depth; otherwise of the cut time.</param>
/// <param name="DepthMm">Depth in the middle of each bin, mm; null where the bins are shares of time.</param>
/// <param name="TimeS">Time from contact to the middle of each bin, s; null where it is not known.</param>
/// <param name="LoadKw">Mean motor load, kW.</param>
/// <param name="ExpectedKw">Load expected of a normal cut like this one, kW; null where nothing was expected.</param>
/// <param name="LowKw">Lower end of the band of 95 of 100 normal cuts, kW.</param>
/// <param name="HighKw">Upper end of it, kW.</param>
/// <param name="Standardised">How far out each bin lies from the rest of the cut, standard deviations.</param>
/// <param name="BladeSpeedMMin">Mean blade speed, m/min; null where it is not known.</param>
internal sealed record ProfileView(
    bool ByDepth, double?[]? DepthMm, double?[]? TimeS, double?[] LoadKw, double?[]? ExpectedKw, double?[]? LowKw, double?[]? HighKw, double?[]? Standardised, double?[]? BladeSpeedMMin)
{
    /// <summary>The view of what was measured and what was expected; null where nothing was measured along the cut.</summary>
    public static ProfileView? Of(DepthProfile? measured, ResidualProfile? expected)
    {
        if (measured is null)
            return null;
        var bins = measured.MeanLoadKw.Count;
        var byDepth = measured.Basis == ProfileBasis.Depth;
        var (times, at) = (new double?[bins], 0.0);
        for (var i = 0; i < bins; i++)
        {
            times[i] = Known.Number(at + (measured.Seconds[i] / 2), 2);
            at += measured.Seconds[i];
        }

        // What was expected of another division of the cut says nothing of this one.
        if (expected is not null && (expected.ExpectedKw.Count != bins || expected.ByDepth != byDepth))
            expected = null;
        return new ProfileView(
            byDepth,
            byDepth ? [.. Enumerable.Range(0, bins).Select(i => Known.Number((i + 0.5) * measured.DepthMm / bins, 2))] : null,
            times,
            Known.Numbers(measured.MeanLoadKw, 4),
            expected is null ? null : Known.Numbers(expected.ExpectedKw, 4),
            expected is null ? null : Known.Numbers(expected.LowKw, 4),
            expected is null ? null : Known.Numbers(expected.HighKw, 4),
            expected is null ? null : Known.Numbers(expected.Standardised, 2),
            measured.MeanBladeSpeedMMin.All(float.IsNaN) ? null : Known.Numbers(measured.MeanBladeSpeedMMin, 2));
    }
}

/// <summary>A section for drawing.</summary>
/// <param name="Notation">Its notation.</param>
/// <param name="Family">Its family.</param>
/// <param name="WidthMm">Overall width across the saw, mm.</param>
/// <param name="HeightMm">Height in the vise, mm.</param>
/// <param name="AreaCm2">Area of cut, cm2.</param>
/// <param name="Outline">Closed polylines, holes among them, for the even-odd rule: place across from the left edge, depth below the top, mm.</param>
internal sealed record SectionView(string Notation, string Family, double WidthMm, double HeightMm, double AreaCm2, IReadOnlyList<double[][]> Outline)
{
    /// <summary>The section of a cycle; null where it is not known, or its words are none that are understood any more.</summary>
    /// <param name="written">As it stood in the job list then, or null.</param>
    /// <param name="recorded">As the record has it, or empty.</param>
    public static SectionView? Of(string? written, string recorded)
    {
        foreach (var text in (string?[])[written, recorded])
        {
            if (!string.IsNullOrEmpty(text) && SectionNotation.Parse(text).Section is { } section)
                return Of(section);
        }

        return null;
    }

    private static SectionView Of(Section section) => new(
        section.Notation,
        section.Family,
        section.OverallWidthMm,
        section.HeightMm,
        section.AreaCm2,
        [.. SectionOutline.Of(section).Select(loop => loop.Select(point => new[] { point.X, point.Y }).ToArray())]);
}
