using System.Text.Json;
using SawEdge.Core.Notation;

namespace SawEdge.Core.Materials;

/// <summary>A mistake in the plant's own catalogue file.</summary>
/// <param name="Path">Where, for example <c>materials[2].rate</c>.</param>
/// <param name="Message">What is wrong and what would be right.</param>
public sealed record CatalogueError(string Path, string Message)
{
    /// <inheritdoc/>
    public override string ToString() => $"{Path}: {Message}";
}

/// <summary>A catalogue with the plant's own entries over the program's.</summary>
/// <param name="Catalogue">The catalogue of what could be read.</param>
/// <param name="Errors">What could not, each with its place.</param>
public sealed record CatalogueParse(MaterialCatalogue Catalogue, IReadOnlyList<CatalogueError> Errors);

/// <content>The plant's own file.</content>
public sealed partial class MaterialCatalogue
{
    /// <summary>
    /// Lays the plant's own file over this catalogue. The file is JSON (remarks and trailing commas allowed):
    /// <c>{ "materials": [ { "name": "1045", "rate": "62 cm2/min" }, { "name": "Spring 7", "like": "5160", "hardness": "380 HB" } ],
    /// "factors": { "coolant_dry": 0.65, "rate_by_length": [["12 mm", 0.7], ["100 mm", 1]] } }</c>. A known material is changed in what is
    /// given, a new one names one that it is like. Broken entries are left out and listed; the rest serves.
    /// </summary>
    /// <param name="json">The text of the file.</param>
    public CatalogueParse Overlay(string json)
    {
        var errors = new List<CatalogueError>();
        try
        {
            using var document = JsonDocument.Parse(json, new JsonDocumentOptions { CommentHandling = JsonCommentHandling.Skip, AllowTrailingCommas = true });
            return new CatalogueParse(new PlantCatalogueReader(this, errors).Read(document.RootElement), errors);
        }
        catch (JsonException wrong)
        {
            errors.Add(new CatalogueError($"line {wrong.LineNumber + 1}", $"this is no JSON: {wrong.Message}"));
            return new CatalogueParse(this, errors);
        }
    }
}

/// <summary>Reads the plant's own catalogue file.</summary>
internal sealed class PlantCatalogueReader(MaterialCatalogue under, List<CatalogueError> errors)
{
    private const string Source = "the plant's own catalogue file";

    private static readonly string[] Fields =
        ["name", "like", "group", "en_name", "en_number", "aisi", "uns", "aliases", "band_speed", "rate", "hardness", "kc11", "mc", "max_feed", "density", "source"];

    /// <summary>Reads the whole file.</summary>
    public MaterialCatalogue Read(JsonElement root)
    {
        if (root.ValueKind != JsonValueKind.Object)
        {
            errors.Add(new CatalogueError("$", "the file is one object with 'materials' and 'factors'."));
            return under;
        }

        var materials = new List<Material>(under.All);
        var factors = under.Factors;
        foreach (var part in root.EnumerateObject())
        {
            if (part.NameEquals("materials") && part.Value.ValueKind == JsonValueKind.Array)
                ReadMaterials(part.Value, materials);
            else if (part.NameEquals("factors") && part.Value.ValueKind == JsonValueKind.Object)
                factors = ReadFactors(part.Value, factors);
            else
                errors.Add(new CatalogueError(part.Name, "is not known here; the file has 'materials' (a list) and 'factors' (an object)."));
        }

        return new MaterialCatalogue(materials, factors);
    }

    private void ReadMaterials(JsonElement list, List<Material> materials)
    {
        var known = under;
        foreach (var (index, element) in list.EnumerateArray().Index())
        {
            var before = errors.Count;
            var path = $"materials[{index}]";
            if (ReadMaterial(element, path, known) is not { } material || errors.Count > before)
                continue;
            materials.RemoveAll(m => m.Name == material.Name);
            materials.Add(material);
            known = new MaterialCatalogue(materials, under.Factors);
        }
    }

    private Material? ReadMaterial(JsonElement element, string path, MaterialCatalogue known)
    {
        if (element.ValueKind != JsonValueKind.Object || Text(element, "name", path) is not { Length: > 0 } name)
        {
            errors.Add(new CatalogueError(path, "a material is an object with a 'name'."));
            return null;
        }

        foreach (var field in element.EnumerateObject().Where(f => !Fields.Contains(f.Name, StringComparer.Ordinal)))
            errors.Add(new CatalogueError($"{path}.{field.Name}", $"is not known; a material has {string.Join(", ", Fields)}."));
        var like = Text(element, "like", path);
        var basis = known.Find(like ?? name);
        if (basis is null)
        {
            errors.Add(new CatalogueError(path, $"'{like ?? name}' is not in the catalogue; a new material names one that it is 'like', for example {string.Join(", ", known.Nearest(like ?? name))}."));
            return null;
        }

        var source = Text(element, "source", path) is { Length: > 0 } given ? $"{Source}: {given}" : Source;
        var named = like is null ? basis : basis with { Name = name, EnName = "", EnNumber = "", Aisi = "", Uns = "", Aliases = [] };
        return named with
        {
            Group = GroupOf(element, path) ?? named.Group,
            EnName = Text(element, "en_name", path) ?? named.EnName,
            EnNumber = Text(element, "en_number", path) ?? named.EnNumber,
            Aisi = Text(element, "aisi", path) ?? named.Aisi,
            Uns = Text(element, "uns", path) ?? named.Uns,
            Aliases = AliasesOf(element, path) ?? named.Aliases,
            BandSpeedMMin = Number("band_speed", named.BandSpeedMMin, q => q.SpeedMMin, 1, 2000, "80 m/min or 262 ft/min"),
            RateCm2Min = Number("rate", named.RateCm2Min, q => q.RateCm2Min, 0.1, 5000, "70 cm2/min or 11 in2/min"),
            HardnessHb = Number("hardness", named.HardnessHb, q => q.Unit is "" or "hb" or "hbw" ? q.Value : null, 20, 800, "210 HB"),
            Kc11NMm2 = Number("kc11", named.Kc11NMm2, q => q.Unit is "" or "n/mm2" ? q.Value : null, 50, 10_000, "1700 N/mm2"),
            Mc = Number("mc", named.Mc, q => q.Unit.Length == 0 ? q.Value : null, 0, 0.6, "0.25"),
            MaximumFeedMm = Number("max_feed", named.MaximumFeedMm, q => q.LengthMm, 0.001, 1, "0.05 mm"),
            DensityGCm3 = Number("density", named.DensityGCm3, q => q.Unit is "" or "g/cm3" ? q.Value : null, 0.5, 25, "7.85 g/cm3"),
        };

        Sourced Number(string field, Sourced otherwise, Func<Quantity, double?> convert, double least, double most, string example)
        {
            if (!element.TryGetProperty(field, out var value))
                return otherwise;
            var quantity = value.ValueKind switch
            {
                JsonValueKind.String => Quantity.Parse(value.GetString()!),
                JsonValueKind.Number => new Quantity(value.GetDouble(), ""),
                _ => null,
            };
            if (quantity is { } read && convert(read) is { } number && number >= least && number <= most)
                return new Sourced(number, Provenance.Plant, source);
            errors.Add(new CatalogueError($"{path}.{field}", $"{value.GetRawText()} is not usable; write for example \"{example}\"."));
            return otherwise;
        }
    }

    private CuttingFactors ReadFactors(JsonElement list, CuttingFactors factors)
    {
        foreach (var entry in list.EnumerateObject())
        {
            var path = $"factors.{entry.Name}";
            if (entry.Name is "rate_by_length" or "speed_by_length")
            {
                var table = ReadTable(entry.Value, path);
                factors = entry.Name == "rate_by_length" ? factors.With(null, table) : factors.With(table, null);
            }
            else if (!factors.NamesOfFactors.Contains(entry.Name, StringComparer.Ordinal))
            {
                errors.Add(new CatalogueError(path, $"is no factor; there are {string.Join(", ", factors.NamesOfFactors)}, rate_by_length and speed_by_length."));
            }
            else if (entry.Value.ValueKind != JsonValueKind.Number || entry.Value.GetDouble() is not (> 0 and <= 100_000))
            {
                errors.Add(new CatalogueError(path, $"{entry.Value.GetRawText()} is no number above zero."));
            }
            else
            {
                factors = factors.With(entry.Name, new Sourced(entry.Value.GetDouble(), Provenance.Plant, Source));
            }
        }

        return factors;
    }

    private FactorTable? ReadTable(JsonElement value, string path)
    {
        var rows = new List<(double Mm, double Factor)>();
        if (value.ValueKind == JsonValueKind.Array)
        {
            foreach (var row in value.EnumerateArray())
            {
                if (row.ValueKind == JsonValueKind.Array && row.GetArrayLength() == 2 && row[0].ValueKind == JsonValueKind.String && row[1].ValueKind == JsonValueKind.Number
                    && Quantity.Parse(row[0].GetString()!) is { Value: > 0, LengthMm: { } mm } && row[1].GetDouble() > 0 && (rows.Count == 0 || mm > rows[^1].Mm))
                {
                    rows.Add((mm, row[1].GetDouble()));
                    continue;
                }

                rows.Clear();
                break;
            }
        }

        if (rows.Count > 0)
            return new FactorTable(rows, Provenance.Plant, Source);
        errors.Add(new CatalogueError(path, "is a list of lengths, rising, with their factors, for example [[\"12 mm\", 0.7], [\"100 mm\", 1]]."));
        return null;
    }

    private string? Text(JsonElement element, string field, string path)
    {
        if (!element.TryGetProperty(field, out var value))
            return null;
        if (value.ValueKind == JsonValueKind.String)
            return value.GetString()!.Trim();
        errors.Add(new CatalogueError($"{path}.{field}", $"{value.GetRawText()} is no text; put it in quotes."));
        return null;
    }

    private MaterialGroup? GroupOf(JsonElement element, string path)
    {
        if (Text(element, "group", path) is not { } text)
            return null;
        if (Enum.TryParse<MaterialGroup>(text.Replace("_", "", StringComparison.Ordinal), ignoreCase: true, out var group) && Enum.IsDefined(group) && !char.IsAsciiDigit(text[0]))
            return group;
        errors.Add(new CatalogueError($"{path}.group", $"'{text}' is no group; the groups are {string.Join(", ", Enum.GetNames<MaterialGroup>())}."));
        return null;
    }

    private IReadOnlyList<string>? AliasesOf(JsonElement element, string path)
    {
        if (!element.TryGetProperty("aliases", out var value))
            return null;
        if (value.ValueKind == JsonValueKind.Array && value.EnumerateArray().All(a => a.ValueKind == JsonValueKind.String))
            return [.. value.EnumerateArray().Select(a => a.GetString()!)];
        errors.Add(new CatalogueError($"{path}.aliases", "is a list of names in quotes."));
        return null;
    }
}
