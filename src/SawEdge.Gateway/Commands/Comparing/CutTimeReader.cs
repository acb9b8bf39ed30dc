using System.Runtime.CompilerServices;
using SawEdge.Core.Comparison;
using SawEdge.Core.Cycles;
using SawEdge.Core.Sections;
using SawEdge.Gateway.Commands.Reports;
using SawEdge.Gateway.Configuration.Reading;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Commands.Comparing;

/// <summary>Reads the cuts that are to be compared, saw by saw in the order of time. A page of the history at a time is in memory.</summary>
internal sealed class CutTimeReader(NamedFolder folder, HistoryReader reader, CutChoice choice)
{
    // From this score on one normal cut in a thousand looks as odd.
    private const double UnusualScore = 3;
    private const int MostSections = 4096;

    private readonly PresentStandards _standards = new(folder);
    private readonly Dictionary<string, string> _families = new(StringComparer.Ordinal);
    private readonly SortedSet<string> _materials = new(StringComparer.Ordinal);
    private readonly SortedSet<string> _blades = new(StringComparer.Ordinal);
    private readonly double _breakInM2 = folder.Materials().Factors["break_in_area_cm2"].Value / 10_000;
    private bool _materialSeen;
    private bool _bladeSeen;

    /// <summary>What was seen so far of the cuts that are chosen.</summary>
    public CutTally Tally { get; } = new();

    /// <summary>The blades and types of blades in the history.</summary>
    public IReadOnlyCollection<string> Blades => _blades;

    /// <summary>The cuts.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    /// <exception cref="CommandException">No cut has the material or the blade that is chosen.</exception>
    public async IAsyncEnumerable<TimedCut> ReadAsync([EnumeratorCancellation] CancellationToken cancellation)
    {
        var firstRun = 0;
        foreach (var saw in choice.Saws.Count > 0 ? choice.Saws : await reader.SawsAsync(cancellation))
        {
            var runs = new RunTracker(firstRun);
            await foreach (var cut in reader.CutTimesAsync(saw, choice.Period?.From, choice.Period?.To, cancellation))
            {
                if (Take(saw, cut, runs) is { } taken)
                    yield return taken;
            }

            firstRun = runs.Next;
        }

        if (choice.Material is { } material && !_materialSeen)
            throw new CommandException($"No cut here is of {Words.Quoted(material)}; {(_materials.Count == 0 ? "no cut has a material: name a job list in the configuration (jobsFile)." : NamedFolder.Hint(material, [.. _materials]))}");
        if (choice.Blade is { } blade && !_bladeSeen)
            throw NoBlade(blade.Written);
    }

    /// <summary>That no cut was made with a blade, with what was probably meant.</summary>
    public CommandException NoBlade(string blade) =>
        new($"No cut here was made with blade or blade type {Words.Quoted(blade)}; {(_blades.Count == 0 ? "no cut names its blade or a type of blade." : NamedFolder.Hint(blade, [.. _blades]))}");

    private TimedCut? Take(string saw, StoredCutTime cut, RunTracker runs)
    {
        var run = runs.RunOf(cut.Job, cut.Blade, cut.StartedAt, cut.EndedAt);
        var job = _standards.JobOf(cut);
        // Standards of the plant's own have no common measure, so each job with one is a kind by itself.
        var ownJob = cut.Basis.Contains("standard: plant", StringComparison.Ordinal) ? cut.Job : "";
        var taken = new TimedCut(new CutKind(saw, cut.Material, FamilyOf(cut.Section), job?.BladeType ?? "", ownJob), cut.Blade, cut.StartedAt, run, 0);
        if (!IsChosen(taken) || !choice.Fits(taken))
            return null;
        if (cut.Outcome != CutOutcome.Completed)
            Tally.NotCompleted++;
        else if (!(cut.StandardCutTimeS > 0 && cut.CutTimeS > 0))
            Tally.WithoutStandard++;
        else if (cut.HoldSeconds > 0)
            Tally.Held++;
        else if (cut.Coverage < StandardsReview.LeastCoverage)
            Tally.Gaps++;
        else if (cut.BladeAreaM2 - ((cut.CutAreaCm2 ?? 0) / 10_000) < _breakInM2)
            Tally.BreakIn++;
        else
            return Taken(taken, saw, job, cut);
        return null;
    }

    private TimedCut Taken(TimedCut taken, string saw, StoredJob? job, StoredCutTime cut)
    {
        var shift = _standards.Shift(saw, taken.Run, job, cut);
        Tally.Taken++;
        Tally.Converted += shift != 0 ? 1 : 0;
        Tally.Unusual += cut.LoadScore >= UnusualScore ? 1 : 0;
        Tally.First = Tally.First < cut.StartedAt ? Tally.First : cut.StartedAt;
        Tally.Last = Tally.Last > cut.StartedAt ? Tally.Last : cut.StartedAt;
        return taken with { LogRatio = Math.Log(cut.CutTimeS!.Value / cut.StandardCutTimeS!.Value) - shift };
    }

    private bool IsChosen(TimedCut cut)
    {
        if (cut.Kind.Material.Length > 0)
            _materials.Add(cut.Kind.Material);
        if (cut.Blade.Length > 0)
            _blades.Add(cut.Blade);
        if (cut.BladeType.Length > 0)
            _blades.Add(cut.BladeType);
        var material = choice.Material is null || cut.Kind.Material == choice.Material;
        var blade = choice.Blade is null || choice.Blade.Fits(cut);
        _materialSeen |= material;
        _bladeSeen |= blade;
        return material && blade;
    }

    private string FamilyOf(string section)
    {
        if (section.Length == 0)
            return "";
        if (_families.TryGetValue(section, out var family))
            return family;
        if (_families.Count == MostSections)
            _families.Clear();
        return _families[section] = SectionNotation.Parse(section).Section?.Family ?? "";
    }
}
