using SawEdge.Core.Cutting;
using SawEdge.Core.Materials;
using SawEdge.Core.Sections;
using SawEdge.Core.Signals;
using SawEdge.Simulator.Saws;

namespace SawEdge.TestPlant;

/// <summary>A job of the invented plant, as its job list has it.</summary>
/// <param name="Id">What the controller calls it.</param>
/// <param name="Material">A name of the catalogue.</param>
/// <param name="Section">In the notation of the job list.</param>
/// <param name="LengthMm">Length of the part.</param>
/// <param name="Quantity">Parts before the next job.</param>
internal sealed record PlantJob(string Id, string Material, string Section, double LengthMm, int Quantity)
{
    /// <summary>
    /// Names that must do nothing anywhere: a formula in a table, markup and handlers in a page, quotes of both kinds with what ends an
    /// attribute or a script, pictures, letters that run from right to left and a mark that turns the direction of what follows.
    /// </summary>
    public static IReadOnlyList<string> HostileNames { get; } =
    [
        "=1+1",
        "<img src=x onerror=alert(1)>",
        "\"'></script><script>alert(2)</script>",
        "javascript:alert(3) {{7*7}} ${7*7}",
        "\U0001FA9A\U0001F525 ⌀80 \U0001F468\U0001F3FD\u200d\U0001F527",
        "עבודה \u202e שבע 7",
    ];

    /// <summary>Its row of the job list.</summary>
    /// <param name="blade">The blade it is planned with.</param>
    public string Row(string blade) => FormattableString.Invariant($"{Quoted(ControllerText.Clean(Id))},{Material},{Quoted(Section)},{LengthMm} mm,{Quantity},{Quoted(blade)}\n");

    /// <summary>The job as a virtual saw runs it.</summary>
    /// <param name="machine">The saw.</param>
    /// <param name="blade">Its blade.</param>
    /// <param name="pace">Rate over the catalogue's.</param>
    public VirtualJob For(MachineProfile machine, Blade blade, double pace)
    {
        var material = MaterialCatalogue.BuiltIn.Find(Material) ?? throw new InvalidOperationException($"The catalogue lacks {Material}.");
        var parse = SectionNotation.Parse(Section);
        var section = parse.Section ?? throw new InvalidOperationException(parse.Problem);
        var cut = new CutJob { JobId = Id, Material = material, Section = section, Blade = blade };
        return new VirtualJob
        {
            Id = Id,
            Section = section,
            Material = new VirtualMaterial(material.Name, material.Kc11NMm2.Value, material.Mc.Value),
            RateCm2Min = CuttingModel.Standard(cut, machine.ToSawMachine()).RateCm2Min * pace,
            BladeSpeedMMin = Math.Round(CuttingModel.RecommendedSpeedMMin(cut, blade)),
            PartLengthMm = LengthMm,
            Quantity = Quantity,
        };
    }

    private static string Quoted(string text) => $"\"{text.Replace("\"", "\"\"", StringComparison.Ordinal)}\"";
}
