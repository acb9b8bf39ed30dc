using SawEdge.Core.Materials;

namespace SawEdge.Core.Cutting;

/// <summary>The trade's rules that turn a reference rate and a reference speed into those of a job. Each names its source.</summary>
public static class CuttingRules
{
    private const string LengthSource =
        "Machinery's Handbook, 31st ed., p. 1245, speed by length of cut; between its rows linear; 2-1/2 in from a band saw's manual";

    // Inches of cut and change of speed. The row for 2-1/2 in stands in the manual only.
    private static readonly (double Mm, double Value)[] SpeedByLength =
        [(0.25 * 25.4, 1.15), (0.75 * 25.4, 1.12), (1.25 * 25.4, 1.10), (2.5 * 25.4, 1.05), (4 * 25.4, 1.0), (8 * 25.4, 0.88)];

    // Means over the eight rows of a blade distributor's chart of its rate up to 1 in, 1 to 3 in, 3 to 6 in and over 6 in, each
    // divided by that for 3 to 6 in, placed at the middle of its range.
    private static readonly (double Mm, double Value)[] RateByLength = [(12.7, 0.70), (50.8, 0.85), (114.3, 1.0), (203.2, 0.93)];

    // Pitch of the blade by length of cut: the handbook's rows; 2-1/2 in: from memory.
    private static readonly (double Mm, double Coarse, double Fine)[] PitchByLength =
        [(6.35, 10, 14), (19.05, 6, 10), (31.75, 4, 6), (63.5, 4, 6), (101.6, 3, 4), (203.2, 2, 3)];

    /// <summary>Factor on the band speed for the length of cut.</summary>
    /// <param name="meanWidthMm">Mean width of cut, mm.</param>
    public static Sourced SpeedForLength(double meanWidthMm) => new(Interpolate(SpeedByLength, meanWidthMm), Provenance.Published, LengthSource);

    /// <summary>Factor on the cutting rate for the length of cut.</summary>
    /// <param name="meanWidthMm">Mean width of cut, mm.</param>
    public static Sourced RateForLength(double meanWidthMm) => new(
        Interpolate(RateByLength, meanWidthMm),
        Provenance.Derived,
        "means over a blade distributor's chart for carbon and free-machining steel, rate by size divided by that for 3 to 6 in");

    /// <summary>Factor for the hardness of the stock: in proportion to the catalogue's hardness over the stock's, held to 0.3..1.3.</summary>
    public static Sourced RateForHardness(double referenceHb, double? stockHb) => stockHb is { } hb
        ? new Sourced(Math.Clamp(referenceHb / hb, 0.3, 1.3), Provenance.CommonPractice, "reference hardness / stock hardness, 0.3 to 1.3; common practice, no source")
        : new Sourced(1, Provenance.CommonPractice, "stock of the catalogue's hardness");

    /// <summary>Factor for the kind of section: contact that comes and goes is cut more gently than a solid.</summary>
    /// <param name="family">The section's family.</param>
    public static Sourced RateForSection(string family) => family switch
    {
        "round" or "rect" or "hex" or "polygon" => new Sourced(1, Provenance.CommonPractice, "solid section"),
        "bundle" => new Sourced(0.9, Provenance.CommonPractice, "bundle: bars may move; common practice, no source"),
        _ => new Sourced(0.85, Provenance.CommonPractice, "hollow or rolled section: interrupted contact; common practice, no source"),
    };

    /// <summary>Factor on the rate for the kind of blade.</summary>
    public static Sourced RateForBlade(BladeKind kind) => kind switch
    {
        BladeKind.CarbonSteel => new Sourced(0.5, Provenance.Published, "Machinery's Handbook, 31st ed., p. 1245: carbon steel blade, speed reduced by 50 %; taken over to the rate"),
        BladeKind.Carbide => new Sourced(1.5, Provenance.FromMemory, "carbide-tipped blade; from memory"),
        _ => new Sourced(1, Provenance.Published, "bimetal blade, to which the reference rate refers"),
    };

    /// <summary>Factor on the rate for the coolant; dry is the middle of the handbook's reduction of the speed by 30 to 50 %.</summary>
    public static Sourced RateForCoolant(Coolant coolant) => coolant switch
    {
        Coolant.Dry => new Sourced(0.6, Provenance.Published, "Machinery's Handbook, 31st ed., p. 1245: dry cutting, speed reduced by 30 to 50 %; the middle, taken over to the rate"),
        Coolant.Mist => new Sourced(0.85, Provenance.CommonPractice, "mist; common practice, no source"),
        _ => new Sourced(1, Provenance.Published, "flooded, to which the reference rate refers"),
    };

    /// <summary>
    /// Factor for a blade that is being broken in. Of three sources that disagree this is the one written for band saws that
    /// tells materials apart: normal band speed, 50 % of the rate in mild steel and 75 % in difficult materials, raised to the
    /// full rate over the first 50 to 75 in2 (the middle, 62.5 in2 = 403 cm2, is used).
    /// </summary>
    /// <param name="group">Group of the material.</param>
    /// <param name="bladeAreaCm2">Area that the blade has cut, cm2; null where it is not known, which counts as broken in.</param>
    public static Sourced RateForBreakIn(MaterialGroup group, double? bladeAreaCm2)
    {
        if (bladeAreaCm2 is not { } area || area >= BreakInAreaCm2)
            return new Sourced(1, Provenance.Published, "blade broken in");
        var start = IsEasy(group) ? 0.5 : 0.75;
        return new Sourced(
            start + ((1 - start) * Math.Max(0, area) / BreakInAreaCm2),
            Provenance.Published,
            "a blade maker's note on breaking in: 50 % of the rate in mild steel, 75 % in difficult materials, raised over 50 to 75 in2");
    }

    /// <summary>Area over which a blade is broken in, cm2.</summary>
    public const double BreakInAreaCm2 = 62.5 * 6.4516;

    /// <summary>A bimetal blade whose pitch suits a length of cut: the handbook's row nearest in proportion.</summary>
    /// <param name="meanWidthMm">Mean width of cut, mm.</param>
    public static Blade SuitableBlade(double meanWidthMm)
    {
        var best = PitchByLength.MinBy(p => Math.Abs(Math.Log(p.Mm / meanWidthMm)));
        return new Blade { CoarseTpi = best.Coarse, FineTpi = best.Fine };
    }

    private static bool IsEasy(MaterialGroup group) => group is MaterialGroup.LowCarbonSteel or MaterialGroup.MediumCarbonSteel
        or MaterialGroup.FreeMachiningSteel or MaterialGroup.Aluminium or MaterialGroup.CopperAlloy;

    private static double Interpolate((double Mm, double Value)[] rows, double at)
    {
        if (at <= rows[0].Mm)
            return rows[0].Value;
        for (var i = 1; i < rows.Length; i++)
        {
            if (at <= rows[i].Mm)
                return rows[i - 1].Value + ((rows[i].Value - rows[i - 1].Value) * (at - rows[i - 1].Mm) / (rows[i].Mm - rows[i - 1].Mm));
        }

        return rows[^1].Value;
    }
}
