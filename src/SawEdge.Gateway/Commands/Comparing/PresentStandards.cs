using System.Text.Json;
using SawEdge.Core.Cutting;
using SawEdge.Core.Materials;
using SawEdge.Gateway.Commands.Reports;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Commands.Comparing;

/// <summary>A job as a stored cut names it.</summary>
/// <param name="BladeType">Kind and pitch of its blade; empty where it is not stated.</param>
/// <param name="Job">The job by the catalogue as it is now; null where it cannot be read any more.</param>
internal sealed record StoredJob(string BladeType, CutJob? Job);

/// <summary>
/// Converts stored standards into those of the configuration as it is now. A cut is stored with the standard of its day; where the catalogue has been changed
/// since, as by an override that was proposed here, cuts from before and after it would not be comparable, and a proposal would be made twice.
/// </summary>
internal sealed class PresentStandards(NamedFolder folder)
{
    // Rounding and the last digits of the blade speed come to less.
    private const double Same = 1e-3;
    private const int MostJobs = 4096;

    private readonly Dictionary<string, StoredJob> _jobs = new(StringComparer.Ordinal);
    private readonly Dictionary<int, double> _ofRun = [];
    private readonly MaterialCatalogue _catalogue = folder.Materials();

    /// <summary>The job of a stored cut.</summary>
    /// <exception cref="InvalidDataException">What is stored is none.</exception>
    public StoredJob? JobOf(StoredCutTime cut)
    {
        if (cut.JobTexts is not { } texts)
            return null;
        if (_jobs.TryGetValue(texts, out var job))
            return job;
        // Jobs come and go without end.
        if (_jobs.Count == MostJobs)
            _jobs.Clear();
        var columns = Read(texts);
        var blade = columns.GetValueOrDefault("blade") is { Length: > 0 } written ? Blade.Parse(written, out _)?.TypeName ?? "" : "";
        return _jobs[texts] = new StoredJob(blade, JobBook.ReadJob(columns, _catalogue, out _));
    }

    /// <summary>ln(standard now over stored standard) of a run, from the first of its cuts that counts; 0 where it cannot be told, or is the same.</summary>
    /// <param name="saw">The saw.</param>
    /// <param name="run">The run, all of whose cuts are of one job.</param>
    /// <param name="job">The job.</param>
    /// <param name="cut">The cut, with a blade that is broken in.</param>
    public double Shift(string saw, int run, StoredJob? job, StoredCutTime cut)
    {
        if (job?.Job is not { } known || folder.Options?.Saws.FirstOrDefault(of => of.Name == saw) is not { } configured)
            return 0;
        if (_ofRun.TryGetValue(run, out var shift))
            return shift;
        var now = CuttingModel.Standard(known, configured.Machine, cut.MeanBladeSpeedMMin).CutSeconds;
        shift = Math.Log(now / cut.StandardCutTimeS!.Value);
        return _ofRun[run] = double.IsFinite(shift) && Math.Abs(shift) > Same ? shift : 0;
    }

    private static Dictionary<string, string> Read(string texts)
    {
        try
        {
            using var json = JsonDocument.Parse(texts);
            return json.RootElement.EnumerateObject().ToDictionary(column => column.Name, column => column.Value.GetString() ?? "", StringComparer.Ordinal);
        }
        catch (Exception e) when (e is JsonException or InvalidOperationException or ArgumentException)
        {
            throw new InvalidDataException($"Stored evidence is damaged: {e.Message}", e);
        }
    }
}
