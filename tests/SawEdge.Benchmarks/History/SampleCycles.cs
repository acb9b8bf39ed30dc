using System.Globalization;
using SawEdge.Core;
using SawEdge.Core.Cycles;
using SawEdge.Gateway.History;

namespace SawEdge.Benchmarks.History;

/// <summary>Finished cycles as a gateway has them: almost every column filled, a profile of the usual size, a state of 4 kB.</summary>
internal static class SampleCycles
{
    public const int StateBytes = 4096;

    private static readonly DateTimeOffset Start = new(2026, 1, 1, 0, 0, 0, TimeSpan.Zero);

    public static readonly DepthProfile Profile = new(
        ProfileBasis.Depth,
        100,
        [.. Enumerable.Range(0, DepthProfile.DefaultBins).Select(i => 1.5f + i)],
        [.. Enumerable.Range(0, DepthProfile.DefaultBins).Select(i => 2f + (0.01f * i))],
        [.. Enumerable.Range(0, DepthProfile.DefaultBins).Select(_ => 70f)]);

    public static FinishedCycle Make(string saw, int number)
    {
        var start = Start.AddSeconds(90L * number);
        return new FinishedCycle
        {
            Profile = Profile,
            SawState = new SawState(1, new byte[StateBytes]),
            Record = new CycleRecord
            {
                CycleId = string.Create(CultureInfo.InvariantCulture, $"{saw}-{start.ToUnixTimeMilliseconds()}"),
                Saw = saw,
                StartedAt = start,
                CutStartedAt = start.AddSeconds(5.1),
                CutEndedAt = start.AddSeconds(75.3),
                EndedAt = start.AddSeconds(85),
                Outcome = CutOutcome.Completed,
                Mode = "automatic",
                Job = string.Create(CultureInfo.InvariantCulture, $"order {number / 20}"),
                Material = "C45",
                Section = "round 100",
                PartLengthMm = 250,
                Blade = "B-17",
                CutAreaCm2 = 78.54,
                CutTimeS = 70.2 + (number % 10),
                StandardCutTimeS = 68,
                LearnedCutTimeS = 70,
                LearnedLowS = 66,
                LearnedHighS = 74,
                CutTimeRatio = (70.2 + (number % 10)) / 68,
                CycleTimeS = 85,
                StandardCycleTimeS = 83,
                CuttingRateCm2Min = 67.1,
                MeanDescentMmMin = 85.4,
                MeanLoadKw = 2.2,
                PeakLoadKw = 2.9,
                IdleLoadKw = 0.6,
                CuttingEnergyKj = 112,
                SpecificEnergyJMm3 = 9.5,
                MeanBladeSpeedMMin = 70,
                LoadScore = 0.4,
                ScoreLevel = 0.3,
                ScoreShape = 0.2,
                ScorePace = 0.4,
                ScoreLoop = 0.1,
                BladeAreaM2 = 1.5,
                PartCount = number,
                Frames = 702,
                Coverage = 1,
                Basis = "head+load+bits",
            },
        };
    }
}
