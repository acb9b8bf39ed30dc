using SawEdge.Core.Cycles;
using SawEdge.Core.Signals;
using static SawEdge.Core.Tests.Cycles.GappedRun;

namespace SawEdge.Core.Tests.Cycles;

/// <summary>What becomes of cuts whose begin, middle or end nobody saw; the same whether frames were missing or the gateway was started anew.</summary>
public sealed class UnobservedCutsTests
{
    private static readonly Signal[] Everything = [Signal.HeadPosition, Signal.MotorLoad, Signal.CycleActive, Signal.Cutting, Signal.BladeRunning, Signal.FaultCode, Signal.PartCount, Signal.Job];
    private static readonly Signal[] NoCounter = [Signal.HeadPosition, Signal.MotorLoad, Signal.CycleActive, Signal.Cutting];
    private static readonly Signal[] NoHead = [Signal.MotorLoad, Signal.CycleActive, Signal.PartCount];
    private static readonly Signal[] HeadAndLoad = [Signal.HeadPosition, Signal.MotorLoad];

    // Of four cycles the second and third: contact 9 s after a cycle's begin, 100 s of cut, 8 s of return; 18 s between two. In seconds from the second
    // cycle's begin; the third begins at 142.
    public static TheoryData<string, double, double, string> Cases => new()
    {
        { "in the approach and back in it", 2, 8, "completed completed completed completed" },
        { "begun while away", -5, 60, "completed unobserved_start completed completed" },
        { "begun before, ended after", 40, 70, "completed completed completed completed" },
        { "begun before, ended while away, and counted", 80, 130, "completed unobserved_end completed completed" },
        { "the whole cut while away", -5, 130, "completed completed completed" },
        { "in one cut, back in the next", 40, 190, "completed unobserved_end unobserved_start completed" },
        { "in one cut, back before the next", 80, 138, "completed unobserved_end completed completed" },
        { "between two, back in the cut after the next", -5, 195, "completed unobserved_start completed" },
        { "from one cut to the last but one's end", 40, 268, "completed unobserved_end completed" },
    };

    [Theory]
    [MemberData(nameof(Cases))]
    public void Push_NobodyLooked_EachCutIsWhatWasSeenOfIt(string what, double from, double to, string outcomes)
    {
        foreach (var restart in (bool[])[false, true])
        {
            var script = Cuts(4, out var ends);
            var second = ends[0] + 10;
            var cuts = Detect(script, Everything, restart, (second + from, second + to));
            Assert.True(outcomes == string.Join(' ', cuts.Select(cut => cut.Outcome.ToName())), $"{what}, restart {restart}:\n{Words(cuts)}");

            // Nothing is claimed of what was not seen.
            Assert.All(cuts, cut => Assert.Equal(cut.Outcome is CutOutcome.Completed or CutOutcome.UnobservedStart, cut.CutEndedAt is not null));
            Assert.All(cuts, cut => Assert.Equal(cut.Outcome is not CutOutcome.UnobservedStart, cut.CutStartedAt is not null));
        }
    }

    public static TheoryData<int, string> Seeds()
    {
        var data = new TheoryData<int, string>();
        for (var seed = 1; seed <= 6; seed++)
        {
            foreach (var set in (string[])["everything", "no counter", "no head", "head and load"])
                data.Add(seed, set);
        }

        return data;
    }

    [Theory]
    [MemberData(nameof(Seeds))]
    public void Push_GapsAnywhere_AStartAnewFindsWhatOneThatRanOnFinds(int seed, string set)
    {
        var random = new Random(seed);
        var script = Cuts(16, out _, random);
        var gaps = new List<(double From, double To)>();
        for (var at = 100 + (random.NextDouble() * 300); at < script.Now - 400; at = gaps[^1].To + 100 + (random.NextDouble() * 300))
            gaps.Add((at, at + 6 + (random.NextDouble() * (gaps.Count % 2 == 0 ? 20 : 200))));
        var signals = set switch { "everything" => Everything, "no counter" => NoCounter, "no head" => NoHead, _ => HeadAndLoad };
        var ranOn = Detect(script, signals, restart: false, [.. gaps]);
        var anew = Detect(script, signals, restart: true, [.. gaps]);
        Assert.True(ranOn.Select(Decided).SequenceEqual(anew.Select(Decided)), $"seed {seed}: ran on\n{Words(ranOn)}\nanew\n{Words(anew)}\n" + string.Join('\n', gaps.Select(gap => $"{gap.From:0.00} {gap.To:0.00}")));
    }

    private static object Decided(Cut cut) => (cut.StartedAt, cut.CutStartedAt, cut.CutEndedAt, cut.EndedAt, cut.Outcome, cut.Job, cut.PartCount);

    private static string Words(IEnumerable<Cut> cuts) => string.Join('\n', cuts.Select(cut => $"{Seconds(cut.StartedAt)} {Seconds(cut.CutStartedAt)} {Seconds(cut.CutEndedAt)} {Seconds(cut.EndedAt)} {cut.Outcome} {cut.PartCount} {string.Join("; ", cut.Notes)}"));

    private static string Seconds(DateTimeOffset? at) => at is { } known ? (known - SawScript.Epoch).TotalSeconds.ToString("0.00", System.Globalization.CultureInfo.InvariantCulture) : "-";
}
