using System.Globalization;
using System.Text.RegularExpressions;
using CsCheck;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Tests.Configuration;

/// <summary>
/// Factors: NIST Special Publication 811 (2008), appendix B.8: inch 2.54 E-02 m, foot 3.048 E-01 m, foot per minute 5.08 E-03 m/s, inch per
/// second 2.54 E-02 m/s, horsepower (550 ft lbf/s) 7.456999 E+02 W, horsepower (metric) 7.354988 E+02 W, degree 1.745329 E-02 rad;
/// KiB, MiB: IEC 80000-13. Quoted from memory.
/// </summary>
public class QuantityTests
{
    public static TheoryData<string, QuantityKind, double> Good => new()
    {
        { "100 mm", QuantityKind.Length, 100 },
        { "100mm", QuantityKind.Length, 100 },
        { "  100   mm  ", QuantityKind.Length, 100 },
        { "12.5 cm", QuantityKind.Length, 125 },
        { ".5 m", QuantityKind.Length, 500 },
        { "250 um", QuantityKind.Length, 0.25 },
        { "250 µm", QuantityKind.Length, 0.25 },
        { "4 in", QuantityKind.Length, 101.6 },
        { "4\"", QuantityKind.Length, 101.6 },
        { "1-1/4 in", QuantityKind.Length, 31.75 },
        { "1 1/4 in", QuantityKind.Length, 31.75 },
        { "3/4 in", QuantityKind.Length, 19.05 },
        { "4 IN", QuantityKind.Length, 101.6 },
        { "4 in.", QuantityKind.Length, 101.6 },
        { "4 inches", QuantityKind.Length, 101.6 },
        { "2 feet", QuantityKind.Length, 609.6 },
        { "2'", QuantityKind.Length, 609.6 },
        { "5 sec", QuantityKind.Time, 5 },
        { "5.5 KW", QuantityKind.Power, 5.5 },
        { "11.5 a", QuantityKind.Current, 11.5 },
        { "64 kib", QuantityKind.Data, 65536 },
        { "-1/2 in", QuantityKind.Length, -12.7 },
        { "-1-1/2 in", QuantityKind.Length, -38.1 },
        { "+2 ft", QuantityKind.Length, 609.6 },
        { "80 m/min", QuantityKind.Speed, 80 },
        { "260 ft/min", QuantityKind.Speed, 260 * 0.00508 * 60 },
        { "260 fpm", QuantityKind.Speed, 79.248 },
        { "260 sfm", QuantityKind.Speed, 79.248 },
        { "1.5 m/s", QuantityKind.Speed, 90 },
        { "60 mm/min", QuantityKind.Rate, 60 },
        { "2.5 in/min", QuantityKind.Rate, 63.5 },
        { "2.5 ipm", QuantityKind.Rate, 63.5 },
        { "2 mm/s", QuantityKind.Rate, 120 },
        { "1 in/s", QuantityKind.Rate, 1524 },
        { "0.06 m/min", QuantityKind.Rate, 60 },
        { "250 ms", QuantityKind.Time, 0.25 },
        { "1-1/2 min", QuantityKind.Time, 90 },
        { "2 h", QuantityKind.Time, 7200 },
        { "14 d", QuantityKind.Time, 14 * 86_400 },
        { "1 day", QuantityKind.Time, 86_400 },
        { "2.5 days", QuantityKind.Time, 216_000 },
        { "5.5 kW", QuantityKind.Power, 5.5 },
        { "5500 W", QuantityKind.Power, 5.5 },
        { "7.5 hp", QuantityKind.Power, 7.5 * 0.7456999 },
        { "10 PS", QuantityKind.Power, 7.354988 },
        { "11.5 A", QuantityKind.Current, 11.5 },
        { "800 mA", QuantityKind.Current, 0.8 },
        { "45 deg", QuantityKind.Angle, 45 },
        { "45°", QuantityKind.Angle, 45 },
        { "0.01745329 rad", QuantityKind.Angle, 1 },
        { "80 %", QuantityKind.Share, 0.8 },
        { "92.5 percent", QuantityKind.Share, 0.925 },
        { "64 KiB", QuantityKind.Data, 65536 },
        { "2 MiB", QuantityKind.Data, 2097152 },
        { "200 kB", QuantityKind.Data, 200000 },
        { "2 GB", QuantityKind.DiskSpace, 2000 },
        { "1 GiB", QuantityKind.DiskSpace, 1073.741824 },
        { "70 Wh", QuantityKind.Energy, 252 },
        { "2.5 kJ/cm3", QuantityKind.SpecificEnergy, 2.5 },
        { "8 in2/min", QuantityKind.CuttingRate, 51.6128 },
        { "80 percent of rated", QuantityKind.MotorLoad, 0.8 },
        { "80 % of rated", QuantityKind.MotorLoad, 0.8 },
    };

    public static TheoryData<string, QuantityKind, string> Bad => new()
    {
        { "4 inc", QuantityKind.Length, "'4 inc' is no length; write for example 100 mm or 4 in" },
        { "four in", QuantityKind.Length, "'four in' is no length; write for example 100 mm or 4 in" },
        { "", QuantityKind.Length, "'' is no length; write for example 100 mm or 4 in" },
        { "mm", QuantityKind.Length, "'mm' is no length; write for example 100 mm or 4 in" },
        { "4 in 3", QuantityKind.Length, "'4 in 3' is no length; write for example 100 mm or 4 in" },
        { "1-1 in", QuantityKind.Length, "'1-1 in' is no length; write for example 100 mm or 4 in" },
        { "1e3 mm", QuantityKind.Length, "'1e3 mm' is no length; write for example 100 mm or 4 in" },
        { "250 ms", QuantityKind.Length, "'250 ms' is no length; write for example 100 mm or 4 in" },
        { "100", QuantityKind.Length, "'100' has no unit; write for example 100 mm or 4 in" },
        { "3/4", QuantityKind.Length, "'3/4' has no unit; write for example 100 mm or 4 in" },
        { "3/0 in", QuantityKind.Length, "'3/0 in' divides by zero; write for example 100 mm or 4 in" },
        { "3,5 mm", QuantityKind.Length, "'3,5 mm': write decimals with a point and nothing between thousands, for example 100 mm" },
        { "1,250.5 mm", QuantityKind.Length, "'1,250.5 mm': write decimals with a point and nothing between thousands, for example 100 mm" },
        { "5 seconds", QuantityKind.Time, "'5 seconds' is no time; write for example 250 ms or 5 s" },
        { "80 rpm", QuantityKind.Speed, "'80 rpm' is no speed; write for example 80 m/min or 260 ft/min" },
        { "80 %", QuantityKind.MotorLoad, "'80 %' is no motor load; write for example 5.5 kW or 80 percent of rated" },
        { "4\u0007in", QuantityKind.Length, "'4?in' is no length; write for example 100 mm or 4 in" },
        { "9999999999999999999999999999999999999999999999999999999999999999 mn", QuantityKind.Length, "'999999999999999999999999999999999999999999999999999999999999...' is no length; write for example 100 mm or 4 in" },
    };

    public static TheoryData<QuantityKind> Kinds =>
    [
        QuantityKind.Length, QuantityKind.Speed, QuantityKind.Rate, QuantityKind.Time, QuantityKind.Power,
        QuantityKind.MotorLoad, QuantityKind.Current, QuantityKind.Angle, QuantityKind.Share, QuantityKind.Data,
        QuantityKind.DiskSpace, QuantityKind.Energy, QuantityKind.SpecificEnergy, QuantityKind.CuttingRate,
    ];

    [Theory]
    [MemberData(nameof(Good))]
    public void TryParse_AQuantity_IsConvertedAsPublished(string text, QuantityKind kind, double expected)
    {
        Assert.True(kind.TryParse(text, out var value, out var problem), problem);
        // The published factors have seven digits.
        Assert.InRange(value, expected - Math.Abs(expected) * 1e-6, expected + Math.Abs(expected) * 1e-6);
        Assert.Matches(kind.Pattern, text);
    }

    [Theory]
    [MemberData(nameof(Bad))]
    public void TryParse_NoQuantity_SaysWhatWouldBeRight(string text, QuantityKind kind, string expected)
    {
        Assert.False(kind.TryParse(text, out _, out var problem));
        Assert.Equal(expected, problem);
        if (!text.Contains("3/0", StringComparison.Ordinal))
            Assert.DoesNotMatch(kind.Pattern, text);
    }

    [Fact]
    public void TryParse_AndTheSchemasPattern_TakeTheSame()
    {
        string[] pool = ["1", "25", "0.5", ".5", "3/4", "1-1/4", "-", "+", " ", "/", ".", "mm", "in", "\"", "m", "ft", "MM", ",", "é"];
        var piece = Gen.Int[0, pool.Length - 1].Select(index => pool[index]);
        Check.Sample(
            piece.Array[1, 5],
            pieces =>
            {
                var text = string.Concat(pieces);
                return QuantityKind.Length.TryParse(text, out var value, out var problem)
                    ? double.IsFinite(value) && Regex.IsMatch(text, QuantityKind.Length.Pattern)
                    : problem.Length > 0 && !Regex.IsMatch(text, QuantityKind.Length.Pattern);
            },
            iter: 5_000);
    }

    [Theory]
    [MemberData(nameof(Kinds))]
    public void EveryKind_ReadsItsOwnExamples_AndItsBaseUnitIsOne(QuantityKind kind)
    {
        Assert.All(kind.Examples, example => Assert.True(kind.TryParse(example, out _, out _), example));
        Assert.Equal(kind == QuantityKind.Share ? 0.01 : 1, kind.Units[0].Factor);
        Assert.All(kind.Units, unit => Assert.Equal(unit.Factor, kind.Parse($"1 {unit.Symbol}")));
    }

    [Fact]
    public void TryParse_InACultureWithDecimalComma_ReadsThePoint()
    {
        var before = CultureInfo.CurrentCulture;
        // Built by hand: the tests run without the system's cultures.
        var comma = (CultureInfo)CultureInfo.InvariantCulture.Clone();
        comma.NumberFormat.NumberDecimalSeparator = ",";
        comma.NumberFormat.NumberGroupSeparator = ".";
        CultureInfo.CurrentCulture = comma;
        try
        {
            Assert.Equal(12.5, QuantityKind.Length.Parse("12.5 mm"));
        }
        finally
        {
            CultureInfo.CurrentCulture = before;
        }
    }
}
