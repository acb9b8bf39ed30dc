using System.Globalization;
using MathNet.Numerics.Distributions;
using SawEdge.Core;
using SawEdge.Core.Cutting;
using SawEdge.Core.Cycles;
using SawEdge.Core.Materials;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Tests.History;

namespace SawEdge.Gateway.Tests.Commands.Comparing;

/// <summary>Cuts with known times against their standards, in runs of one job, always the same.</summary>
internal sealed class MadeCuts
{
    private readonly Random _random = new(4_711);
    private readonly List<FinishedCycle> _rows = [];

    /// <summary>Two round bars, a blade of each kind, and a job with a standard of the plant's own.</summary>
    public static JobBook Jobs { get; } = JobBook.Parse(
        """
        job,material,section,blade,standard
        A,1045,round 100 mm,bimetal 3/4 tpi,
        A-carbide,1045,round 100 mm,carbide 3/4 tpi,
        B,304,round 60 mm,bimetal 4/6 tpi,
        B-long,304,round 60 mm,"carbon steel 10/14 tpi, kerf 1.1 mm",
        C,1045,round 80 mm,bimetal 3/4 tpi,95 s
        """,
        MaterialCatalogue.BuiltIn).Book;

    /// <summary>Adds runs of one job, one a day from 06:00 UTC on, every cut four minutes after the last.</summary>
    /// <param name="saw">The saw.</param>
    /// <param name="job">The job; one that is in no list has no standard.</param>
    /// <param name="factor">How much longer than the standard they take.</param>
    /// <param name="runs">Number of runs.</param>
    /// <param name="cuts">Cuts of a run.</param>
    /// <param name="day">Days after 2 March 2026 on which the first run is.</param>
    /// <param name="blade">Name of the blade of a run by its number.</param>
    /// <param name="change">Changes a cut: its number in the run, the cut, its record.</param>
    /// <param name="hour">Hours after 06:00 at which a run begins.</param>
    public MadeCuts Add(string saw, string job, double factor, int runs = 10, int cuts = 8, int day = 0, Func<int, string>? blade = null, Func<int, Cut, CycleRecord, (Cut Cut, CycleRecord Record)>? change = null, double hour = 0)
    {
        var known = Jobs.Find(job);
        var standard = known is null ? null : CuttingModel.Standard(known, new SawMachine { Name = saw }, 70);
        for (var run = 0; run < runs; run++)
        {
            var shift = 0.02 * Normal.Sample(_random, 0, 1);
            for (var i = 0; i < cuts; i++)
            {
                var at = Cycles.Start.AddDays(day + run).AddHours(hour).AddMinutes(4 * i);
                var actual = Math.Round((standard?.CutSeconds ?? 60) * factor * Math.Exp(shift + (0.04 * Normal.Sample(_random, 0, 1))), 3);
                var cut = new Cut { StartedAt = at, EndedAt = at.AddSeconds(actual + 20), Outcome = CutOutcome.Completed, Job = job, MeanBladeSpeedMMin = 70, Coverage = 1 };
                var record = new CycleRecord
                {
                    CycleId = string.Create(CultureInfo.InvariantCulture, $"{saw}-{job}-{at:yyyyMMddHHmmss}"),
                    Saw = saw,
                    StartedAt = at,
                    EndedAt = cut.EndedAt,
                    Outcome = CutOutcome.Completed,
                    Job = job,
                    Material = known?.Material.Name ?? "",
                    Section = known?.Section.Notation ?? "",
                    Blade = blade?.Invoke(run) ?? "",
                    CutAreaCm2 = known?.Section.AreaCm2,
                    CutTimeS = actual,
                    StandardCutTimeS = standard is null ? null : Math.Round(standard.CutSeconds, 3),
                    CutTimeRatio = actual / standard?.CutSeconds,
                    MeanBladeSpeedMMin = 70,
                    Frames = 600,
                    Coverage = 1,
                    Basis = $"cut: head+load+bits; standard: {(standard is null ? "none" : standard.Basis == StandardBasis.Catalogue ? "catalogue" : "plant time")}",
                };
                if (change is not null)
                    (cut, record) = change(i, cut, record);
                _rows.Add(new FinishedCycle { Record = record with { Outcome = cut.Outcome }, Evidence = new CutEvidence(cut, known, []) });
            }
        }

        return this;
    }

    /// <summary>Stores them.</summary>
    public async Task StoreAsync(Asked asked)
    {
        await using var history = asked.Open();
        await history.Writer.AppendAsync([.. _rows.OrderBy(row => row.Record.StartedAt)], CancellationToken.None);
    }
}
