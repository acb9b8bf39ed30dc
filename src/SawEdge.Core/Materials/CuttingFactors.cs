using System.Collections.Immutable;

namespace SawEdge.Core.Materials;

/// <summary>
/// The named factors that turn a reference rate and a reference speed into those of a job. Each says where it comes from, and
/// each can be overruled by the plant under its name. Immutable.
/// </summary>
public sealed class CuttingFactors
{
    private const string Handbook = "Machinery's Handbook, 31st ed., p. 1245";

    private readonly ImmutableSortedDictionary<string, Sourced> _byName;

    private CuttingFactors(ImmutableSortedDictionary<string, Sourced> byName, FactorTable speedByLength, FactorTable rateByLength)
    {
        _byName = byName;
        SpeedByLength = speedByLength;
        RateByLength = rateByLength;
    }

    /// <summary>The program's own factors.</summary>
    public static CuttingFactors Default { get; } = new(
        new Dictionary<string, Sourced>
        {
            ["section_solid"] = new(1, Provenance.CommonPractice, "solid section, to which the reference rate refers"),
            ["section_hollow"] = new(0.85, Provenance.CommonPractice, "hollow or rolled section: interrupted contact; common practice, no source"),
            ["section_bundle"] = new(0.9, Provenance.CommonPractice, "bundle: bars may move; common practice, no source"),
            ["blade_bimetal"] = new(1, Provenance.Published, "bimetal blade, to which the reference rate refers"),
            ["blade_carbide"] = new(1.5, Provenance.FromMemory, "carbide-tipped blade; from memory"),
            ["blade_carbon_steel"] = new(0.5, Provenance.Published, Handbook + ": carbon steel blade, speed reduced by 50 %; taken over to the rate"),
            ["coolant_flood"] = new(1, Provenance.Published, "flooded, to which the reference rate refers"),
            ["coolant_mist"] = new(0.85, Provenance.CommonPractice, "mist; common practice, no source"),
            ["coolant_dry"] = new(0.6, Provenance.Published, Handbook + ": dry cutting, speed reduced by 30 to 50 %; the middle, taken over to the rate"),
            ["break_in_easy"] = new(0.5, Provenance.Published, BreakInSource),
            ["break_in_difficult"] = new(0.75, Provenance.Published, BreakInSource),
            ["break_in_area_cm2"] = new(62.5 * 6.4516, Provenance.Published, "the same note: over the first 50 to 75 in2; the middle"),
        }.ToImmutableSortedDictionary(StringComparer.Ordinal),
        new FactorTable(
            [(6.35, 1.15), (19.05, 1.12), (31.75, 1.10), (63.5, 1.05), (101.6, 1.0), (203.2, 0.88)],
            Provenance.Published,
            Handbook + ", band speed by length of cut, linear between its rows; the row for 2-1/2 in from a band saw's manual (577786, p. 10)"),
        new FactorTable(
            [(12.7, 0.70), (50.8, 0.85), (114.3, 1.0), (203.2, 0.93)],
            Provenance.Derived,
            "a blade distributor's chart for carbon and free-machining steel: mean over its eight rows of the rate up to 1 in, 1 to 3 in and over 6 in, each divided by that for 3 to 6 in"));

    // Three sources disagree. This one is written for band saws, keeps the speed, and tells materials apart. The others: half speed
    // and half feed for the first 50 to 100 in2; (for circular cold saws) half feed for 50 in2 in steel and 150 in2 in aluminium.
    private const string BreakInSource =
        "a blade maker's note on breaking in: normal band speed, 50 % of the rate in mild steel and 75 % in difficult materials, raised to the full rate over 50 to 75 in2";

    /// <summary>The names under which factors can be overruled, in order.</summary>
    public IEnumerable<string> NamesOfFactors => _byName.Keys;

    /// <summary>Factor on the band speed by length of cut.</summary>
    public FactorTable SpeedByLength { get; }

    /// <summary>Factor on the cutting rate by length of cut.</summary>
    public FactorTable RateByLength { get; }

    /// <summary>A factor by its name.</summary>
    /// <exception cref="KeyNotFoundException">There is none of this name.</exception>
    public Sourced this[string name] => _byName[name];

    /// <summary>The same factors with one overruled.</summary>
    /// <exception cref="KeyNotFoundException">There is none of this name.</exception>
    public CuttingFactors With(string name, Sourced value) => _byName.ContainsKey(name)
        ? new CuttingFactors(_byName.SetItem(name, value), SpeedByLength, RateByLength)
        : throw new KeyNotFoundException($"no factor is named {name}");

    /// <summary>The same factors with other tables by length of cut; null keeps one.</summary>
    public CuttingFactors With(FactorTable? speedByLength, FactorTable? rateByLength) =>
        new(_byName, speedByLength ?? SpeedByLength, rateByLength ?? RateByLength);

    /// <summary>Factor for the hardness of the stock: the catalogue's hardness over the stock's, held to 0.3..1.3.</summary>
    /// <param name="referenceHb">Hardness to which the reference rate refers, Brinell.</param>
    /// <param name="stockHb">Hardness of the stock, Brinell; null where it is not stated.</param>
    public static Sourced ForHardness(double referenceHb, double? stockHb) => stockHb is { } hb
        ? new Sourced(Math.Clamp(referenceHb / hb, 0.3, 1.3), Provenance.CommonPractice, "reference hardness / stock hardness, 0.3 to 1.3; common practice, no source")
        : new Sourced(1, Provenance.CommonPractice, "stock taken to have the catalogue's hardness");

    /// <summary>Factor for a blade that is being broken in: a share of the rate at first, raised evenly to the full rate over the first area.</summary>
    /// <param name="group">Group of the material.</param>
    /// <param name="bladeAreaCm2">Area that the blade has cut, cm2; null where it is not known, which counts as broken in.</param>
    public Sourced ForBreakIn(MaterialGroup group, double? bladeAreaCm2)
    {
        var over = this["break_in_area_cm2"].Value;
        if (bladeAreaCm2 is not { } area)
            return new Sourced(1, Provenance.CommonPractice, "area cut by the blade not known; taken to be broken in");
        if (area >= over)
            return new Sourced(1, Provenance.Published, "blade broken in");
        var start = this[IsEasy(group) ? "break_in_easy" : "break_in_difficult"];
        return start with { Value = start.Value + ((1 - start.Value) * Math.Max(0, area) / over) };
    }

    private static bool IsEasy(MaterialGroup group) => group is MaterialGroup.LowCarbonSteel or MaterialGroup.MediumCarbonSteel
        or MaterialGroup.FreeMachiningSteel or MaterialGroup.Aluminium or MaterialGroup.CopperAlloy;
}
