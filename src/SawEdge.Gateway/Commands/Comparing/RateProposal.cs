using System.Text;
using SawEdge.Core.Comparison;
using SawEdge.Core.Materials;
using SawEdge.Gateway.Commands.Reports;
using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Commands.Comparing;

/// <summary>A reference rate beside the one in force.</summary>
/// <param name="Material">What the cuts say.</param>
/// <param name="NowCm2Min">The rate in force, cm2/min.</param>
/// <param name="Rate">The rate that is proposed.</param>
internal sealed record RateChange(MaterialAgainstStandard Material, double NowCm2Min, ProposedRate Rate);

/// <summary>Rates for the plant's catalogue file, and the file that would hold them. Nothing of the configuration is changed.</summary>
internal sealed class RateProposal(NamedFolder folder)
{
    /// <summary>The rates that are proposed: that in force, divided by how much longer the cuts took.</summary>
    public IReadOnlyList<RateChange> Of(IReadOnlyList<MaterialAgainstStandard> materials, CutTally tally)
    {
        var catalogue = folder.Materials();
        return [.. materials
            .Where(material => material.IsProposed)
            .Select(material => (material, Now: catalogue.Find(material.Material)))
            .Where(pair => pair.Now is not null)
            .Select(pair => new RateChange(pair.material, pair.Now!.RateCm2Min.Value, new ProposedRate(pair.Now.Name, Rounded(pair.Now.RateCm2Min.Value / pair.material.Typical.Value), Source(pair.material, tally))))];
    }

    /// <summary>The catalogue file as it is; null where the configuration names none.</summary>
    /// <exception cref="CommandException">No configuration was read.</exception>
    public string? Present() => folder.Options switch
    {
        null => throw new CommandException("--data alone names no catalogue that an override could be laid over; name the configuration with --config as well."),
        { CatalogueFile: { } file } => File.ReadAllText(file),
        _ => null,
    };

    /// <summary>What would differ, in the unified form.</summary>
    public string Diff(IReadOnlyList<RateChange> changes)
    {
        var present = Present();
        var name = folder.Options?.CatalogueFile is { } file ? Path.GetFileName(file) : "catalogue.json";
        return UnifiedDiff.Of(present, CatalogueEdit.Apply(present, Rates(changes)), $"a/{name}", $"b/{name}");
    }

    /// <summary>Writes the file that would hold them.</summary>
    /// <param name="path">Where; there must be nothing yet.</param>
    /// <param name="changes">The rates.</param>
    /// <exception cref="CommandException">There is something, or it cannot be written.</exception>
    public void Write(string path, IReadOnlyList<RateChange> changes)
    {
        var text = CatalogueEdit.Apply(Present(), Rates(changes));
        CheckIsNew(path);
        var beside = path + ".part";
        try
        {
            File.WriteAllText(beside, text, new UTF8Encoding(false));
            File.Move(beside, path, overwrite: false);
        }
        catch (UnauthorizedAccessException e)
        {
            throw new CommandException($"{Words.Quoted(path)} cannot be written: {e.Message}", e);
        }
    }

    /// <summary>Sees to it that nothing would be overwritten.</summary>
    /// <exception cref="CommandException">Something would.</exception>
    public void CheckIsNew(string path)
    {
        if (folder.Options?.CatalogueFile is { } file && Path.GetFullPath(path) == file)
            throw new CommandException($"--write {path} is the catalogue file in force; write beside it, look at the differences, and put it in its place yourself.");
        if (File.Exists(path) || Directory.Exists(path))
            throw new CommandException($"--write {path}: there is something of this name already; choose another.");
    }

    private static List<ProposedRate> Rates(IReadOnlyList<RateChange> changes) => [.. changes.Select(change => change.Rate)];

    // Three digits: more is not known.
    private static double Rounded(double rate) => Math.Round(rate, Math.Max(0, 2 - (int)Math.Floor(Math.Log10(rate))));

    private static string Source(MaterialAgainstStandard material, CutTally tally) =>
        FormattableString.Invariant($"{material.Cuts} cuts in {material.Runs} runs on {ComparingWords.Saws(material.Saws)}, {tally.First:yyyy-MM-dd} to {tally.Last:yyyy-MM-dd}");
}
