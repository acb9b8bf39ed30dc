using System.Globalization;
using System.Reflection;
using System.Runtime.CompilerServices;
using SawEdge.Core;
using SawEdge.Core.Cycles;

namespace SawEdge.Gateway.Tests.History;

/// <summary>Cycle records for tests.</summary>
internal static class Cycles
{
    public static readonly DateTimeOffset Start = new(2026, 3, 2, 6, 0, 0, TimeSpan.Zero);

    /// <summary>The n-th cycle of a saw; one starts every two minutes.</summary>
    public static CycleRecord Make(string saw, int number) => new()
    {
        CycleId = string.Create(CultureInfo.InvariantCulture, $"{saw}-{number:D6}"),
        Saw = saw,
        StartedAt = Start.AddMinutes(2 * number),
        CutStartedAt = Start.AddMinutes(2 * number).AddMilliseconds(4321),
        CutEndedAt = Start.AddMinutes(2 * number).AddMilliseconds(80123),
        EndedAt = Start.AddMinutes(2 * number).AddMilliseconds(95000),
        Outcome = CutOutcome.Completed,
        Mode = "automatic",
        Job = "J-1",
        Material = "C45",
        Section = "round 100",
        CutTimeS = 75.802,
        StandardCutTimeS = 70.5,
        MeanLoadKw = 2.25,
        Frames = 758,
        Coverage = 1,
        Basis = "head+load+bits",
    };

    public static DepthProfile Profile(int seed) => new(
        ProfileBasis.Depth,
        100.25 + seed,
        [.. Enumerable.Range(0, DepthProfile.DefaultBins).Select(i => 1.5f + i + seed)],
        [.. Enumerable.Range(0, DepthProfile.DefaultBins).Select(i => i == 3 ? float.NaN : 2.25f * i)],
        [.. Enumerable.Range(0, DepthProfile.DefaultBins).Select(i => 70f + i)]);

    /// <summary>A record in which every property has a value of its own; a property of an unknown type is an error, so that none is forgotten.</summary>
    public static CycleRecord Full()
    {
        var record = (CycleRecord)RuntimeHelpers.GetUninitializedObject(typeof(CycleRecord));
        var number = 0;
        foreach (var property in typeof(CycleRecord).GetProperties(BindingFlags.Public | BindingFlags.Instance))
        {
            number++;
            var type = Nullable.GetUnderlyingType(property.PropertyType) ?? property.PropertyType;
            object value =
                type == typeof(string) ? $"{property.Name} <{number}> \"'\\,= Größe 锯 \U0001F527"
                : type == typeof(double) ? (number * 1.1) + 1e-9
                : type == typeof(long) ? (1L << 40) + number
                : type == typeof(int) ? 1000 + number
                : type == typeof(DateTimeOffset) ? Start.AddMilliseconds(number)
                : type == typeof(CutOutcome) ? CutOutcome.UnobservedEnd
                : throw new NotSupportedException($"Give {property.Name} ({type}) a value here, and a column in the history.");
            property.SetValue(record, value);
        }

        return record;
    }

    /// <summary>A record of which only what is required is known.</summary>
    public static CycleRecord Bare() => new()
    {
        CycleId = "bare",
        Saw = "saw0",
        StartedAt = Start,
        EndedAt = Start.AddSeconds(1),
        Outcome = CutOutcome.Interrupted,
        Frames = 0,
    };
}
