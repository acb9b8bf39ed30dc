using System.Reflection;
using System.Runtime.CompilerServices;
using SawEdge.Core;
using SawEdge.Core.Blades;
using SawEdge.Core.Cutting;
using SawEdge.Core.Cycles;
using SawEdge.Core.Load;
using SawEdge.Core.Materials;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Tests.History;

/// <summary>Evidence and assessments for tests.</summary>
internal static class Evidences
{
    private static readonly double[] Awkward = [double.NaN, -0.0, 0, double.Epsilon, double.MaxValue, double.PositiveInfinity, double.NegativeInfinity, 1 / 3.0, 0.1 + 0.2, 1e22, 5e-324, 123_456_789.123_456_78];

    public static CutJob Job => JobBook.Parse("job,material,section,part_length,pieces,blade,standard,hardness,coolant\nJ-1,1045,\"round 4 in\",250 mm,40,bimetal 3/4 tpi,,210 HB,mist\n", MaterialCatalogue.BuiltIn).Book.Find("J-1")!;

    public static LiveFinding Finding => new(LiveFindingKind.Stall, Cycles.Start.AddTicks(7_654_321), 4.5 / 0.7, double.NaN, "The load was high and the head stood still for 2 s.");

    /// <summary>A cut in which every property has a value of its own; a property of an unknown type is an error, so that none is forgotten.</summary>
    public static Cut FullCut(int turn = 0)
    {
        var cut = (Cut)RuntimeHelpers.GetUninitializedObject(typeof(Cut));
        var number = turn;
        foreach (var property in typeof(Cut).GetProperties(BindingFlags.Public | BindingFlags.Instance).Where(property => property.CanWrite))
        {
            number++;
            var type = Nullable.GetUnderlyingType(property.PropertyType) ?? property.PropertyType;
            object value =
                type == typeof(string) ? $"{property.Name} <{number}> \"'\\,= Größe 锯 \U0001F527\n"
                : type == typeof(double) ? Awkward[number % Awkward.Length]
                : type == typeof(long) ? (1L << 60) + number
                : type == typeof(int) ? 1000 + number
                : type == typeof(bool) ? true
                : type == typeof(DateTimeOffset) ? Cycles.Start.AddTicks(1_234_567 + number)
                : type == typeof(CutOutcome) ? CutOutcome.UnobservedEnd
                : type == typeof(SignalDoubts) ? SignalDoubts.LoadConstant | SignalDoubts.LoadSaturated
                : type == typeof(BladeLoopMeasure) ? new BladeLoopMeasure(3.5, 4, 10, Awkward[number % Awkward.Length], 0.1 + 0.2)
                : type == typeof(IReadOnlyList<string>) ? new[] { "one note; with a semicolon", "", "another" }
                : type == typeof(UnseenParts) ? new UnseenParts(1000 + number, IsWhole: false, Cycles.Start.AddTicks(7 - TimeSpan.TicksPerHour), Cycles.Start)
                : type == typeof(DepthProfile) ? Cycles.Profile(number)
                : throw new NotSupportedException($"Give {property.Name} ({type}) a value here, and see that the history keeps it.");
            property.SetValue(cut, value);
        }

        return cut;
    }

    public static LoadAssessment Assessment(double score = 3.25) => new()
    {
        Score = score,
        Threshold = 3.1,
        Views = [new ViewScore { View = LoadView.Level, What = "specific energy", Value = 0.2, Expected = 0.01, Spread = 0.05, Statistic = 3.8, PValue = 1e-4, History = 321 }],
        Basis = "level: section; shape: depth; pace: learned; loop: none",
        Profile = new ResidualProfile(true, [1.5f, float.NaN], [1.25f, 2], [1, 1.5f], [2, 3], [0.5f, float.NegativeInfinity]),
        Accepted = true,
        Why = "nothing stood out",
        Causes = [new LikelyCause("dull_blade", 1, "seen", "may be", "caution")],
        Findings = [Finding],
        Doubts = ["The load never changes."],
        Wear = new WearForecast { Rise = 0.1, DullRise = 0.25, AreaM2 = 1.5, SlopePerM2 = 0.07, AreaLeftM2 = 2, LowM2 = 1.5, CutsLeft = 200 },
    };

    public static FinishedCycle Row(CycleRecord record, int turn = 0, CutJob? job = null)
    {
        var cut = FullCut(turn);
        return new FinishedCycle { Record = record, Profile = cut.Profile, Evidence = new CutEvidence(cut, job, [Finding]), Assessment = Assessment() };
    }
}
