namespace SawEdge.Core.Materials;

/// <summary>The usual groups of materials.</summary>
public enum MaterialGroup : byte
{
    /// <summary>Carbon steel up to about 0.25 % carbon, structural steel.</summary>
    LowCarbonSteel,

    /// <summary>Carbon steel of about 0.3 to 0.6 % carbon.</summary>
    MediumCarbonSteel,

    /// <summary>Carbon steel above about 0.6 % carbon.</summary>
    HighCarbonSteel,

    /// <summary>Steel with sulphur or lead for machining.</summary>
    FreeMachiningSteel,

    /// <summary>Alloy steel.</summary>
    AlloySteel,

    /// <summary>Tool steel and high speed steel.</summary>
    ToolSteel,

    /// <summary>Austenitic stainless steel.</summary>
    AusteniticStainless,

    /// <summary>Ferritic stainless steel.</summary>
    FerriticStainless,

    /// <summary>Martensitic stainless steel.</summary>
    MartensiticStainless,

    /// <summary>Precipitation-hardening stainless steel.</summary>
    PrecipitationHardeningStainless,

    /// <summary>Duplex stainless steel.</summary>
    DuplexStainless,

    /// <summary>Cast iron.</summary>
    CastIron,

    /// <summary>Aluminium alloys.</summary>
    Aluminium,

    /// <summary>Copper and its alloys.</summary>
    CopperAlloy,

    /// <summary>Nickel alloys.</summary>
    NickelAlloy,

    /// <summary>Titanium and its alloys.</summary>
    TitaniumAlloy,
}

/// <summary>
/// A material of the catalogue. A catalogue rate is a starting point; the plant's own blades, saws and suppliers decide.
/// Every number says where it comes from.
/// </summary>
public sealed record Material
{
    /// <summary>Name under which the catalogue holds it.</summary>
    public required string Name { get; init; }

    /// <summary>Group.</summary>
    public required MaterialGroup Group { get; init; }

    /// <summary>EN name, for example <c>C45E</c>; empty where there is none.</summary>
    public string EnName { get; init; } = "";

    /// <summary>EN number, for example <c>1.1191</c>; empty where there is none.</summary>
    public string EnNumber { get; init; } = "";

    /// <summary>AISI, SAE, AA or ASTM name; empty where there is none.</summary>
    public string Aisi { get; init; } = "";

    /// <summary>UNS number; empty where there is none.</summary>
    public string Uns { get; init; } = "";

    /// <summary>Other names under which it is found.</summary>
    public IReadOnlyList<string> Aliases { get; init; } = [];

    /// <summary>Band speed, m/min: bimetal blade, 4 in (100 mm) of material, coolant.</summary>
    public required Sourced BandSpeedMMin { get; init; }

    /// <summary>Reference cutting rate, cm2/min: bimetal blade, solid of about 100 to 150 mm, coolant, broken-in blade.</summary>
    public required Sourced RateCm2Min { get; init; }

    /// <summary>Hardness to which rate and speed refer, Brinell.</summary>
    public required Sourced HardnessHb { get; init; }

    /// <summary>Specific cutting force at 1 mm feed per tooth, N/mm2 (Kienzle).</summary>
    public required Sourced Kc11NMm2 { get; init; }

    /// <summary>Exponent by which the specific cutting force falls with the feed per tooth (Kienzle).</summary>
    public required Sourced Mc { get; init; }

    /// <summary>Greatest feed per tooth, mm.</summary>
    public required Sourced MaximumFeedMm { get; init; }

    /// <summary>Density, g/cm3.</summary>
    public required Sourced DensityGCm3 { get; init; }

    /// <summary>Specific cutting force at a feed per tooth, N/mm2: kc11 * h^-mc.</summary>
    /// <param name="feedMm">Feed per tooth, mm; held to at least <see cref="LeastFeedMm"/>, below which the law says nothing.</param>
    public double SpecificForceNMm2(double feedMm) => Kc11NMm2.Value * Math.Pow(Math.Max(feedMm, LeastFeedMm), -Mc.Value);

    /// <summary>The feed per tooth below which the specific force no longer rises, mm: a tooth whose edge is rounder than the feed rubs. From memory.</summary>
    public const double LeastFeedMm = 0.001;

    /// <summary>Every name it is found under.</summary>
    public IEnumerable<string> AllNames => new[] { Name, EnName, EnNumber, Aisi, Uns }.Concat(Aliases).Where(n => n.Length > 0);
}
