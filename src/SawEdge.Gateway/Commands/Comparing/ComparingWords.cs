using System.Globalization;
using SawEdge.Core.Comparison;

namespace SawEdge.Gateway.Commands.Comparing;

/// <summary>Factors and kinds of cut in words.</summary>
internal static class ComparingWords
{
    // An interval narrower than this, in percent, is told to a tenth of a percent.
    private const double Narrow = 3;
    private const int MostNamed = 5;

    /// <summary>How much faster, for example <c>7 % faster</c>.</summary>
    /// <param name="rate">Cutting rate over another, with its interval.</param>
    public static string Faster(FactorInterval rate)
    {
        var percent = Percent(rate.Value, rate);
        return IsZero(percent) ? "as fast" : $"{percent.TrimStart('-')} % {(rate.Value >= 1 ? "faster" : "slower")}";
    }

    /// <summary>The interval, for example <c>4 to 10 %</c> or <c>2 % slower to 3 % faster</c>.</summary>
    public static string Interval(FactorInterval rate)
    {
        var (low, high) = (Percent(rate.Low, rate), Percent(rate.High, rate));
        if (IsZero(low) && IsZero(high))
            return "within 0.1 %";
        if (rate.Low >= 1)
            return $"{low} to {high} %";
        return rate.High <= 1 ? $"{high.TrimStart('-')} to {low.TrimStart('-')} %" : $"{Side(low, "slower")} to {Side(high, "faster")}";
    }

    /// <summary>A kind of cut, for example <c>north, 1045, round, bimetal 3/4 tpi</c>.</summary>
    public static string Kind(CutKind kind) => string.Join(", ", new[] { kind.Saw, kind.Material, kind.Family, kind.BladeType, kind.PlantJob.Length > 0 ? $"job {kind.PlantJob}" : "" }.Where(word => word.Length > 0));

    /// <summary>A number of things, for example <c>1 run</c> or <c>1,204 cuts</c>.</summary>
    public static string Count(int number, string thing) => FormattableString.Invariant($"{number:N0} {thing}{(number == 1 ? "" : "s")}");

    /// <summary>The saws by their names, or how many where they are many.</summary>
    public static string Saws(IReadOnlyList<string> saws) => saws.Count <= MostNamed ? string.Join(", ", saws) : $"{saws.Count} saws";

    private static string Side(string percent, string word) => IsZero(percent) ? "0 %" : $"{percent.TrimStart('-')} % {word}";

    private static bool IsZero(string percent) => percent.TrimStart('-').All(c => c is '0' or '.');

    private static string Percent(double factor, FactorInterval rate)
    {
        var percent = 100 * (factor - 1);
        return percent.ToString(100 * (rate.High - rate.Low) < Narrow ? "0.0" : "0", CultureInfo.InvariantCulture);
    }
}
