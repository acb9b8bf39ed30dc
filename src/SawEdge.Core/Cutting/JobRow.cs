using System.Globalization;
using SawEdge.Core.Materials;
using SawEdge.Core.Notation;
using SawEdge.Core.Sections;
using SawEdge.Core.Signals;

namespace SawEdge.Core.Cutting;

/// <summary>Turns rows of the job list into jobs, or into one error a row that names everything wrong with it.</summary>
internal sealed class JobRow(MaterialCatalogue catalogue, List<JobRowError> errors)
{
    /// <summary>The columns of a job list.</summary>
    public static readonly string[] Columns = ["job", "material", "section", "part_length", "pieces", "blade", "standard", "hardness", "coolant"];

    // Long lists repeat a few sections and blades; a section is immutable and may be shared.
    private readonly Dictionary<string, SectionParse> _sections = new(StringComparer.Ordinal);
    private readonly List<string> _wrong = [];

    /// <summary>Reads one row; null where it is refused, and then the error is in the list.</summary>
    public CutJob? Read(CsvRow row)
    {
        if (Read(row, out var wrong) is { } job)
            return job;
        errors.Add(new JobRowError(row.Line, string.Join(" ", wrong)) { JobId = ControllerText.Clean(row["job"]) is { Length: > 0 } id ? id : null });
        return null;
    }

    /// <summary>Reads one row; null where it is refused.</summary>
    /// <param name="row">The row.</param>
    /// <param name="wrong">Everything that is wrong with it, until the next row is read.</param>
    public CutJob? Read(CsvRow row, out IReadOnlyList<string> wrong)
    {
        _wrong.Clear();
        wrong = _wrong;
        var id = ControllerText.Clean(row["job"]);
        if (id.Length == 0)
            _wrong.Add("the job identifier is missing; write it as the controller reports it.");
        if (row.Cells.Count > row.Columns.Count)
            _wrong.Add($"{row.Cells.Count} cells under {row.Columns.Count} headings; put text that contains the separator in quotes.");

        var material = Material(row["material"]);
        var section = Section(row["section"]);
        var job = new CutJob
        {
            JobId = id,
            Material = material!,
            Section = section!,
            PartLengthMm = Length(row["part_length"]),
            Pieces = Pieces(row["pieces"]),
            Blade = BladeOf(row["blade"]),
            Standard = Standard(row["standard"]),
            HardnessHb = Hardness(row["hardness"]),
            Coolant = CoolantOf(row["coolant"]),
            Factors = catalogue.Factors,
            Written = Columns.Where(column => row[column].Length > 0).ToDictionary(column => column, column => row[column], StringComparer.Ordinal),
        };
        return _wrong.Count == 0 ? job : null;
    }

    private Material? Material(string text)
    {
        if (text.Length == 0)
            _wrong.Add("the material is missing; write for example 1045 or S355J2.");
        else if (catalogue.Find(text) is { } material)
            return material;
        else
            _wrong.Add($"material '{text}' is not in the catalogue; the nearest names are {string.Join(", ", catalogue.Nearest(text))}.");
        return null;
    }

    private Section? Section(string text)
    {
        if (!_sections.TryGetValue(text, out var parse))
            _sections[text] = parse = SectionNotation.Parse(text);
        if (parse.Section is null)
            _wrong.Add($"section '{text}' {parse.Problem}");
        return parse.Section;
    }

    private double? Length(string text)
    {
        if (text.Length == 0)
            return null;
        if (Quantity.Parse(text) is { Value: > 0, LengthMm: { } length })
            return length;
        _wrong.Add($"part_length '{text}' is no length above zero; write for example 250 mm or 10 in.");
        return null;
    }

    private int? Pieces(string text)
    {
        if (text.Length == 0)
            return null;
        if (int.TryParse(text, NumberStyles.None, CultureInfo.InvariantCulture, out var pieces) && pieces > 0)
            return pieces;
        _wrong.Add($"pieces '{text}' is no whole number above zero.");
        return null;
    }

    private Blade? BladeOf(string text)
    {
        if (text.Length == 0)
            return null;
        var blade = Blade.Parse(text, out var problem);
        if (blade is null)
            _wrong.Add(problem);
        return blade;
    }

    private PlantStandard? Standard(string text)
    {
        if (text.Length == 0)
            return null;
        var found = Quantity.Parse(text);
        if (found is { Value: > 0, Seconds: { } seconds })
            return new PlantStandard(seconds, null);
        if (found is { Value: > 0, RateCm2Min: { } rate })
            return new PlantStandard(null, rate);
        _wrong.Add($"standard '{text}' is neither a time nor a rate; write for example 95 s, 1.5 min, 70 cm2/min or 11 in2/min.");
        return null;
    }

    private double? Hardness(string text)
    {
        if (text.Length == 0)
            return null;
        if (Quantity.Parse(text) is { Value: >= 20 and <= 800, Unit: "" or "hb" or "hbw" } found)
            return found.Value;
        _wrong.Add($"hardness '{text}' is no Brinell hardness from 20 to 800; write for example 210 HB.");
        return null;
    }

    private Coolant CoolantOf(string text)
    {
        if (text.Length == 0 || text.Equals("flood", StringComparison.OrdinalIgnoreCase))
            return Coolant.Flood;
        if (text.Equals("dry", StringComparison.OrdinalIgnoreCase))
            return Coolant.Dry;
        if (!text.Equals("mist", StringComparison.OrdinalIgnoreCase))
            _wrong.Add($"coolant '{text}' is none of flood, mist and dry.");
        return Coolant.Mist;
    }
}
