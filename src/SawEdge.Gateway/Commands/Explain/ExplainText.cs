using System.Globalization;
using SawEdge.Core;
using SawEdge.Core.Cycles;
using SawEdge.Core.Load;
using SawEdge.Gateway.Commands.Blades;
using SawEdge.Gateway.Commands.Reports;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Commands.Explain;

/// <summary>The explanation of a cut for people, in lines of at most 96 characters.</summary>
internal sealed class ExplainText(TextPage page, MomentText moments, DisplayUnits units, bool ascii)
{
    // With fewer accepted cuts what was believed beforehand has the greater say; the same number in the words of the score.
    private const int FewCuts = 100;

    /// <summary>Prints.</summary>
    public void Write(Explained cut)
    {
        What(cut.Record);
        Times(cut.Record);
        Load(cut);
        if (cut.Assessment is { } assessment)
        {
            Score(cut, assessment);
            foreach (var view in assessment.Views)
                View(view);
            Learned(assessment);
            Texts("What was seen while it ran", [.. assessment.Findings.Select(finding => $"{finding.At.UtcDateTime:HH:mm:ss}Z {finding.Words}")]);
            Texts("Doubts", assessment.Doubts);
            Causes(assessment);
            Wear(assessment);
            LoadPlotText.Write(page, cut, units, ascii);
        }
        else
        {
            page.Heading("Load score");
            page.Wrapped("  ", cut.Record.LoadScore is { } score
                ? string.Create(CultureInfo.InvariantCulture, $"It was {score:0.0}. What it was made of was cleared away to keep the history within its room.")
                : "Nothing is stored: this cut was recorded before the load score was computed, or that was cleared away to keep the history within its room.");
        }

        page.Line("");
        page.Wrapped("", AlarmCaution.General);
    }

    private void What(CycleRecord record)
    {
        page.Line($"{record.CycleId}");
        page.Pair("saw", record.Saw);
        page.Pair("began", $"{moments.Of(record.StartedAt)} ({record.StartedAt.UtcDateTime:yyyy-MM-dd HH:mm:ss}Z)");
        page.Pair("outcome", record.Outcome.ToName());
        page.Pair("job", record.Job);
        page.Pair("material", record.Material);
        page.Pair("section", record.Section);
        page.Pair("area of cut", Text(record.CutAreaCm2, "cm2"));
        page.Pair("blade", record.Blade);
        page.Pair("blade has cut", Text(record.BladeAreaM2, "m2"));
        page.Pair("computed from", record.Basis);
        page.Pair("notes", record.Notes);
    }

    private void Times(CycleRecord record)
    {
        page.Heading("Time");
        page.Pair("contact to breakthrough", Text(record.CutTimeS, "s") ?? "not known: its ends were not both seen");
        page.Pair("standard", Text(record.StandardCutTimeS, "s") is { } standard ? $"{standard}{(record.CutTimeRatio is { } ratio ? Number($"; it took {ratio:0.00} times as long") : "")}" : "not known: the job is not in the job list");
        page.Pair("expected of this saw", Text(record.LearnedCutTimeS, "s") is { } learned
            ? $"{learned}, from {(record.StandardCutTimeS is null ? "" : "the standard and ")}its own cuts before this one; 95 of 100 such cuts lie between {Text(record.LearnedLowS, "s")} and {Text(record.LearnedHighS, "s")}"
            : null);
        page.Pair("cutting rate", Text(record.CuttingRateCm2Min, "cm2/min"));
        page.Pair("frames seen", Number($"{record.Frames}{(record.Coverage is { } share ? Number($", {share * 100:0} % of those due") : "")}"));
    }

    private void Load(Explained cut)
    {
        var record = cut.Record;
        page.Heading("Load");
        page.Pair("mean in the cut", Text(record.MeanLoadKw, "kW"));
        page.Pair("peak", Text(record.PeakLoadKw, "kW"));
        page.Pair("idle, blade in air", Text(record.IdleLoadKw, "kW"));
        page.Pair("energy above idle", Text(record.CuttingEnergyKj, "kJ") ?? "not known");
        page.Pair("energy expected of such a cut", Text(cut.ExpectedEnergyKj, "kJ"));
        page.Pair("energy per volume removed", Text(record.SpecificEnergyJMm3, "J/mm3"));
        page.Pair("blade speed", Text(record.MeanBladeSpeedMMin, "m/min"));
    }

    private void Score(Explained cut, LoadAssessment assessment)
    {
        page.Heading("Load score");
        if (assessment.Score is not { } score)
        {
            page.Wrapped("  ", "None: nothing could be looked at.");
        }
        else
        {
            var verdict = cut.IsUnusual ? "UNUSUAL" : "not unusual";
            page.Wrapped("  ", Number($"{score:0.0}: {OneIn(Math.Pow(10, -score), score)} looks this odd. A cut is called unusual from {assessment.Threshold:0.0} on, so this one is {verdict}."));
            if (assessment.Views.Count > 1)
                page.Wrapped("  ", "It is the score of the oddest view, made smaller because several were looked at: among several one is odd by chance more often.");
        }

        page.Wrapped("  ", $"Computed from: {(assessment.Basis.Length > 0 ? assessment.Basis : "nothing")}.");
    }

    private void View(ViewScore view)
    {
        var (isLoop, isIdle) = (view.View == LoadView.Loop, view.View == LoadView.Level && view.What == "idle load");
        string Of(double value) => isIdle ? DisplayText.Text(units, value, "kW")
            : isLoop ? Number($"{Math.Exp(value):0.00} times its neighbours")
            : Number($"{(Math.Exp(value) - 1) * 100:+0.0;-0.0;0.0} %");
        page.Heading($"  {Title(view)}");
        page.Pair("  measured", $"{Of(view.Value)} {Against(view)}");
        page.Pair("  expected", Of(view.Expected));

        // How a ratio of powers scatters is not told by one deviation; its statistic accounts for that.
        if (!isLoop)
            page.Pair("  such cuts scatter by", $"{(isIdle ? DisplayText.Text(units, view.Spread, "kW") : Number($"{(Math.Exp(view.Spread) - 1) * 100:0.0} %"))} (one standard deviation)");
        page.Pair("  so this one lies out by", Number($"{view.Statistic:+0.0;-0.0;0.0} standard deviations"));
        page.Pair("  how rare that is", Number($"{OneIn(view.PValue, view.Score)} is as far out or further (score {view.Score:0.0})"));
        page.Pair("  that stands on", Number($"{view.History} accepted cuts of this saw{(view.History < FewCuts ? "; they are few, so what is believed beforehand has its say" : "")}"));
    }

    private void Learned(LoadAssessment assessment)
    {
        page.Heading("Learning");
        page.Wrapped("  ", $"{(assessment.Accepted ? "The saw learned from this cut" : "The saw did not learn from this cut")}{(assessment.Why is "" or "accepted" ? "" : $": {assessment.Why}")}.");
    }

    private void Texts(string heading, IReadOnlyList<string> texts)
    {
        if (texts.Count == 0)
            return;
        page.Heading(heading);
        foreach (var text in texts)
            page.Wrapped("  - ", text);
    }

    private void Causes(LoadAssessment assessment)
    {
        if (assessment.Causes.Count == 0)
            return;
        page.Heading("Likely causes, the likeliest first");
        foreach (var (index, cause) in assessment.Causes.Index())
        {
            page.Line(Number($"  {index + 1}. {cause.Name.Replace('_', ' ')} ({cause.Weight * 100:0} %)"));
            page.Wrapped("     seen:   ", cause.Evidence);
            page.Wrapped("     may be: ", cause.MayBe);
            page.Wrapped("     care:   ", cause.Caution);
        }
    }

    private void Wear(LoadAssessment assessment)
    {
        if (assessment.Wear is not { } wear)
            return;
        page.Heading("Blade wear after this cut");
        page.Pair("area cut", Text(wear.AreaM2, "m2"));
        page.Pair("specific energy over its beginning", $"{(wear.Rise < 0 ? "-" : "+")}{BladeListText.Percent(Math.Abs(wear.Rise))}; dull at +{BladeListText.Percent(wear.DullRise)}");
        page.Pair("forecast", BladeListText.Left(wear, units));
        if (wear.IsDue)
            page.Wrapped("  ", "The blade is due: change it soon.");
    }

    private string? Text(double? value, string unit) => value is { } known && double.IsFinite(known) ? DisplayText.Text(units, known, unit) : null;

    private static string Title(ViewScore view) => view.View switch
    {
        LoadView.Level => $"Level: {view.What}",
        LoadView.Shape => $"Shape: {view.What}",
        LoadView.Pace => $"Pace: {view.What}",
        _ => $"Blade loop: {view.What}",
    };

    private static string Against(ViewScore view) => view.View switch
    {
        LoadView.Level when view.What == "idle load" => "with the blade in air",
        LoadView.Level => "against the model",
        LoadView.Shape => "against the rest of the cut",
        LoadView.Pace => "against the learned time",
        _ => "in the load's rhythm",
    };

    private static string OneIn(double share, double score) => score >= LoadAssessment.Cap
        ? "less than one normal cut in a million million"
        : share >= 0.5 ? "every second normal cut, or more," : Number($"one normal cut in {Rounded(1 / share):N0}");

    // Two digits: no history tells more.
    private static double Rounded(double value)
    {
        var power = Math.Pow(10, Math.Max(0, Math.Floor(Math.Log10(value)) - 1));
        return Math.Round(value / power) * power;
    }

    private static string Number(FormattableString text) => FormattableString.Invariant(text);
}
