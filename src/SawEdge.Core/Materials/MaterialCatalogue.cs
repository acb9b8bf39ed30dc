using System.Globalization;
using SawEdge.Core.Notation;

namespace SawEdge.Core.Materials;

/// <summary>Materials by any of their names. Immutable.</summary>
public sealed partial class MaterialCatalogue
{
    private static readonly Lazy<MaterialCatalogue> BuiltInCatalogue = new(ReadBuiltIn);
    private readonly Dictionary<string, Material> _byName = new(StringComparer.Ordinal);

    /// <summary>A catalogue of the given materials; a later one takes the name of an earlier one.</summary>
    /// <param name="materials">The materials.</param>
    /// <param name="factors">The factors of the rate; null for the program's own.</param>
    public MaterialCatalogue(IEnumerable<Material> materials, CuttingFactors? factors = null)
    {
        Factors = factors ?? CuttingFactors.Default;
        var kept = new Dictionary<string, Material>(StringComparer.Ordinal);
        foreach (var material in materials)
            kept[Key(material.Name)] = material;
        All = [.. kept.Values];
        foreach (var name in All.SelectMany(m => m.AllNames.Select(n => (Key: Key(n), Material: m))))
            _byName.TryAdd(name.Key, name.Material);

        // A material's own name is stronger than another's alias.
        foreach (var material in All)
            _byName[Key(material.Name)] = material;
    }

    /// <summary>The program's own catalogue.</summary>
    public static MaterialCatalogue BuiltIn => BuiltInCatalogue.Value;

    /// <summary>The factors that turn a material's reference rate into a job's.</summary>
    public CuttingFactors Factors { get; }

    /// <summary>Every material, in the order in which it was entered.</summary>
    public IReadOnlyList<Material> All { get; }

    /// <summary>The material of a name: EN, AISI, UNS or any other; capitals, spaces and hyphens do not matter. Null where there is none.</summary>
    public Material? Find(string name) => _byName.GetValueOrDefault(Key(name));

    /// <summary>The names nearest to one that is not found, nearest first.</summary>
    /// <param name="name">What was written.</param>
    /// <param name="count">How many at most.</param>
    public IReadOnlyList<string> Nearest(string name, int count = 3)
    {
        var key = Key(name);
        return [.. All
            .SelectMany(m => m.AllNames)
            .Select(n => (Name: n, Distance: EditDistance.Between(key, Key(n))))
            .OrderBy(n => n.Distance)
            .ThenBy(n => n.Name, StringComparer.Ordinal)
            .Select(n => n.Name)
            .Distinct()
            .Take(count)];
    }

    private static string Key(string name) => string.Concat(name.Where(c => char.IsAsciiLetterOrDigit(c) || c == '.')).ToUpperInvariant();

    private static MaterialCatalogue ReadBuiltIn()
    {
        var sources = EmbeddedData.Table("sources.csv").Rows.ToDictionary(r => r["code"], r => (Kind: Enum.Parse<Provenance>(r["provenance"]), Text: r["source"]), StringComparer.Ordinal);
        return new MaterialCatalogue(EmbeddedData.Table("materials.csv").Rows.Select(Read));

        Material Read(CsvRow row)
        {
            return new Material
            {
                Name = row["name"],
                Group = Enum.Parse<MaterialGroup>(row["group"]),
                EnName = row["en_name"],
                EnNumber = row["en_number"],
                Aisi = row["aisi"],
                Uns = row["uns"],
                Aliases = row["aliases"].Split('|', StringSplitOptions.RemoveEmptyEntries),
                BandSpeedMMin = Number("speed_m_min", "speed_src"),
                RateCm2Min = Number("rate_cm2_min", "rate_src"),
                HardnessHb = Number("hardness_hb", "hardness_src"),
                Kc11NMm2 = Number("kc11", "kc_src"),
                Mc = Number("mc", "mc_src"),
                MaximumFeedMm = Number("feed_mm", "feed_src"),
                DensityGCm3 = Number("density", "density_src"),
            };

            Sourced Number(string column, string source) =>
                new(double.Parse(row[column], CultureInfo.InvariantCulture), sources[row[source]].Kind, sources[row[source]].Text);
        }
    }
}
