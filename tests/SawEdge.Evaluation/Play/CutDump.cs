using System.Globalization;
using SawEdge.Core;
using SawEdge.Core.Load;
using SawEdge.Evaluation.Population;
using SawEdge.Simulator.Saws;

namespace SawEdge.Evaluation.Play;

/// <summary>Writes one CSV row a record, for looking into what the tables only sum up.</summary>
internal sealed class CutDump : Onlooker, IDisposable
{
    private static readonly string[] Views = ["energy", "idle", "shape", "pace", "loop"];

    private readonly StreamWriter _writer;
    private readonly SawDraw _draw;
    private readonly Func<long, string> _episode;

    /// <summary>Opens the file of one saw.</summary>
    /// <param name="folder">The folder.</param>
    /// <param name="draw">The saw.</param>
    /// <param name="episode">The words for the episode of a cycle; empty outside.</param>
    public CutDump(string folder, SawDraw draw, Func<long, string> episode)
    {
        Directory.CreateDirectory(folder);
        _draw = draw;
        _episode = episode;
        _writer = new StreamWriter(Path.Combine(folder, draw.Machine.Name + ".csv"));
        _writer.Write("saw,mapping,interval_ms,cycle,again,episode,true_faults,true_material,true_blade,true_life_used,true_wear,true_blade_factor,true_idle_kw,bar,job,section,started_at,outcome,cut_time_s,cut_time_ratio,learned_cut_time_s,area_cm2,mean_load_kw,idle_load_kw,specific_energy,blade,blade_area_m2,coverage,score,threshold,accepted,cause1,weight1,cause2,weight2");
        foreach (var view in Views)
            _writer.Write($",{view}_value,{view}_expected,{view}_spread,{view}_z,{view}_p,{view}_history,{view}_what");
        _writer.WriteLine(",rise,area_left_m2,low_m2,high_m2,due,basis,doubts,findings,why,notes");
    }

    /// <inheritdoc/>
    public override bool IsDone => true;

    /// <summary>The kind of a view under which it is counted: the level is looked at twice, as energy and as idle load.</summary>
    public static string KindOf(ViewScore view) => view.View switch
    {
        LoadView.Level => view.What.Contains("idle", StringComparison.Ordinal) ? "idle" : "energy",
        LoadView.Shape => "shape",
        LoadView.Pace => "pace",
        _ => "loop",
    };

    /// <inheritdoc/>
    public override void OnCut(FinishedCut cut, SawTruth truth, bool again)
    {
        var (record, made) = (cut.Record, cut.Assessment);
        Write(_draw.Machine.Name, first: true);
        Write(_draw.Mapping.Name);
        Write(_draw.Interval.TotalMilliseconds);
        Write(truth.Cycle);
        Write(again ? 1 : 0);
        Write(_episode(truth.Cycle));
        Write(string.Join(';', truth.Faults));
        Write(truth.Material.Name);
        Write(truth.Blade);
        Write(truth.BladeLifeUsed);
        Write(truth.WearFactor);
        Write(truth.BladeFactor);
        Write(truth.IdleKw);
        Write(truth.Bar);
        Write(truth.Job.Id);
        Write(truth.Job.Section.Notation);
        Write(record.StartedAt.UtcDateTime.ToString("yyyy-MM-ddTHH:mm:ss.fffZ", CultureInfo.InvariantCulture));
        Write(Core.Cycles.CutOutcomes.ToName(record.Outcome));
        Write(record.CutTimeS);
        Write(record.CutTimeRatio);
        Write(record.LearnedCutTimeS);
        Write(record.CutAreaCm2);
        Write(record.MeanLoadKw);
        Write(record.IdleLoadKw);
        Write(record.SpecificEnergyJMm3);
        Write(record.Blade);
        Write(record.BladeAreaM2);
        Write(record.Coverage);
        Write(made.Score);
        Write(made.Threshold);
        Write(made.Accepted ? 1 : 0);
        for (var i = 0; i < 2; i++)
        {
            Write(made.Causes.ElementAtOrDefault(i)?.Name ?? "");
            Write(made.Causes.ElementAtOrDefault(i)?.Weight);
        }

        foreach (var kind in Views)
        {
            var view = made.Views.FirstOrDefault(view => KindOf(view) == kind);
            Write(view?.Value);
            Write(view?.Expected);
            Write(view?.Spread);
            Write(view?.Statistic);
            Write(view?.PValue);
            Write(view?.History);
            Write(view?.What ?? "");
        }

        Write(made.Wear?.Rise);
        Write(made.Wear?.AreaLeftM2);
        Write(made.Wear?.LowM2);
        Write(made.Wear?.HighM2);
        Write(made.Wear is { } wear ? wear.IsDue ? 1 : 0 : null);
        Write(made.Basis);
        Write(string.Join("; ", made.Doubts));
        Write(string.Join(';', made.Findings.Select(finding => finding.Kind.ToName())));
        Write(made.Why);
        Write(record.Notes);
        _writer.WriteLine();
    }

    /// <inheritdoc/>
    public void Dispose() => _writer.Dispose();

    private void Write(string text, bool first = false)
    {
        if (!first)
            _writer.Write(',');
        if (text.AsSpan().IndexOfAny(",\"\n") < 0)
        {
            _writer.Write(text);
            return;
        }

        _writer.Write('"');
        _writer.Write(text.Replace("\"", "\"\"", StringComparison.Ordinal));
        _writer.Write('"');
    }

    private void Write(double? value) => Write(value is { } number ? number.ToString("G7", CultureInfo.InvariantCulture) : "");
}
