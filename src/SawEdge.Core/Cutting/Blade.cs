using System.Globalization;
using SawEdge.Core.Notation;
using SawEdge.Core.Sections;

namespace SawEdge.Core.Cutting;

/// <summary>What the teeth are made of.</summary>
public enum BladeKind : byte
{
    /// <summary>High speed steel edge on a spring steel back.</summary>
    Bimetal,

    /// <summary>Carbide-tipped teeth.</summary>
    Carbide,

    /// <summary>Carbon steel throughout.</summary>
    CarbonSteel,
}

/// <summary>A type of blade.</summary>
public sealed record Blade
{
    /// <summary>Kerf of a bimetal blade of 34 x 1.1 mm, mm. Common practice, no source.</summary>
    public const double UsualKerfMm = 1.6;

    /// <summary>What the teeth are made of.</summary>
    public BladeKind Kind { get; init; }

    /// <summary>Teeth per inch; of a variable pitch the coarser number.</summary>
    public required double CoarseTpi { get; init; }

    /// <summary>Teeth per inch; of a variable pitch the finer number, otherwise the same.</summary>
    public required double FineTpi { get; init; }

    /// <summary>Kerf, mm.</summary>
    public double KerfMm { get; init; } = UsualKerfMm;

    /// <summary>Length of the loop, mm; null where it is not known.</summary>
    public double? LengthMm { get; init; }

    /// <summary>Mean teeth per inch: of a variable pitch the mean of its two numbers.</summary>
    public double MeanTpi => (CoarseTpi + FineTpi) / 2;

    /// <summary>Mean tooth pitch, mm.</summary>
    public double PitchMm => Lengths.MmPerInch / MeanTpi;

    /// <summary>The blade in the notation of the job list, for example <c>bimetal 3/4 tpi, kerf 1.6 mm</c>.</summary>
    public string Notation
    {
        get
        {
            var kind = Kind switch { BladeKind.Carbide => "carbide", BladeKind.CarbonSteel => "carbon steel", _ => "bimetal" };
            var pitch = CoarseTpi == FineTpi ? SectionFactory.Mm(CoarseTpi) : $"{SectionFactory.Mm(CoarseTpi)}/{SectionFactory.Mm(FineTpi)}";
            var length = LengthMm is { } mm ? $", length {SectionFactory.Mm(mm)} mm" : "";
            return $"{kind} {pitch} tpi, kerf {SectionFactory.Mm(KerfMm)} mm{length}";
        }
    }

    /// <summary>The kind and pitch alone, under which cuts are compared.</summary>
    public string TypeName => Notation[..Notation.IndexOf(',', StringComparison.Ordinal)];

    /// <summary>Reads notation such as <c>bimetal 3/4 tpi</c>, <c>carbide 1.4/2 tpi, kerf 2.4 mm, length 5800 mm</c> or <c>10 tpi</c>.</summary>
    /// <param name="text">The notation.</param>
    /// <param name="problem">What is wrong and what would be right; empty where there is a blade.</param>
    /// <returns>The blade; null where the text is none.</returns>
    public static Blade? Parse(string text, out string problem)
    {
        var words = text.ToLowerInvariant().Replace("carbon steel", "carbon-steel", StringComparison.Ordinal)
            .Split([' ', ',', ';'], StringSplitOptions.RemoveEmptyEntries);
        var blade = new Blade { CoarseTpi = 0, FineTpi = 0 };
        for (var i = 0; i < words.Length; i++)
        {
            switch (words[i])
            {
                case "bimetal" or "bi-metal" or "hss":
                    blade = blade with { Kind = BladeKind.Bimetal };
                    break;
                case "carbide":
                    blade = blade with { Kind = BladeKind.Carbide };
                    break;
                case "carbon-steel" or "carbon":
                    blade = blade with { Kind = BladeKind.CarbonSteel };
                    break;
                case "kerf" or "length":
                    var isKerf = words[i] == "kerf";
                    if (i + 1 >= words.Length || ReadLength(words, ref i) is not { } mm)
                        return Fail($"the {(isKerf ? "kerf" : "length")} of blade '{text}' is no length above zero; write for example 'kerf 1.6 mm'.", out problem);
                    blade = isKerf ? blade with { KerfMm = mm } : blade with { LengthMm = mm };
                    break;
                case "tpi":
                    break;
                default:
                    if (ReadPitch(words[i]) is not { } pitch)
                        return Fail($"'{words[i]}' has no meaning for a blade; write for example 'bimetal 3/4 tpi, kerf 1.6 mm'.", out problem);
                    blade = blade with { CoarseTpi = pitch.Coarse, FineTpi = pitch.Fine };
                    break;
            }
        }

        if (blade.CoarseTpi <= 0)
            return Fail($"blade '{text}' has no pitch; write for example 'bimetal 3/4 tpi'.", out problem);
        problem = "";
        return blade;
    }

    private static (double Coarse, double Fine)? ReadPitch(string word)
    {
        var plain = word.EndsWith("tpi", StringComparison.Ordinal) ? word[..^3] : word;
        var parts = plain.Split('/', '-');
        if (parts.Length > 2 || !Number(parts[0], out var first) || !Number(parts[^1], out var second) || first <= 0 || second <= 0 || first > 60 || second > 60)
            return null;
        return (Math.Min(first, second), Math.Max(first, second));
    }

    private static double? ReadLength(string[] words, ref int i)
    {
        var word = words[++i];
        var unit = "mm";
        if (word.EndsWith("mm", StringComparison.Ordinal) || word.EndsWith("in", StringComparison.Ordinal))
            (unit, word) = (word[^2..], word[..^2]);
        else if (i + 1 < words.Length && words[i + 1] is "mm" or "in")
            unit = words[++i];
        return Number(word, out var value) && value > 0 ? value * Lengths.MillimetresPer(unit) : null;
    }

    private static bool Number(string text, out double value) =>
        double.TryParse(text, NumberStyles.AllowDecimalPoint, CultureInfo.InvariantCulture, out value);

    private static Blade? Fail(string message, out string problem)
    {
        problem = message;
        return null;
    }
}
