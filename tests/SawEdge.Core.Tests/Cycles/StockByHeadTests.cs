using SawEdge.Core.Cycles;
using SawEdge.Core.Sections;
using SawEdge.Core.Signals;

namespace SawEdge.Core.Tests.Cycles;

/// <summary>Cuts whose ends the load alone does not tell: the head and the job's section do.</summary>
public sealed class StockByHeadTests
{
    private static readonly Signal[] Everything = [Signal.HeadPosition, Signal.MotorLoad, Signal.CycleActive, Signal.Cutting, Signal.BladeRunning, Signal.FaultCode, Signal.PartCount, Signal.Job];
    private static readonly Signal[] HeadLoadJob = [Signal.HeadPosition, Signal.MotorLoad, Signal.Job];

    public static TheoryData<string, double, bool> NarrowEnds()
    {
        var data = new TheoryData<string, double, bool>();
        foreach (var section in new[] { "round 100 mm", "round 30 mm", "hex 60 mm", "equal angle 90 x 6 mm", "equal angle 90 x 6 mm, heel up", "tube 90 mm x 5 mm wall", "rect tube 120 x 60 x 3 mm wall", "bundle 2 x 3 of round 25 mm", "HEB 100", "HEB 100, web flat" })
        {
            foreach (var interval in new[] { 0.1, 0.5 })
            {
                data.Add(section, interval, true);
                data.Add(section, interval, false);
            }
        }

        return data;
    }

    [Theory]
    [MemberData(nameof(NarrowEnds))]
    public void Push_SectionWithNarrowEnds_DepthIsItsHeight(string notation, double interval, bool bits)
    {
        var section = Parse(notation);
        var script = new SawScript(idle: 1).Wait(5);
        Cut(script, section, 1.5, out var contact, out var through);
        var cut = Assert.Single(Detect(script, section, interval, 0.012, bits ? Everything : HeadLoadJob));
        AssertFull(cut, section, contact, through, interval);
    }

    [Theory]
    [InlineData("tube 90 mm x 5 mm wall", 0.1)]
    [InlineData("tube 90 mm x 5 mm wall", 0.5)]
    [InlineData("HEB 100", 0.1)]
    [InlineData("round 40 mm", 0.1)]
    public void Push_LoadHardlyAboveIdle_ContactAndBreakthroughAreSeen(string notation, double interval)
    {
        var section = Parse(notation);
        var script = new SawScript(idle: 1).Wait(5);
        Cut(script, section, 0.05, out var contact, out var through);
        var cut = Assert.Single(Detect(script, section, interval, 0.012, Everything));
        AssertFull(cut, section, contact, through, interval);
        Assert.Equal(1, cut.IdleLoadKw, 0.01);
        Assert.Equal(0.05, cut.MeanLoadKw - cut.IdleLoadKw, 0.01);
    }

    [Theory]
    [InlineData("tube 90 mm x 5 mm wall", 0.2, 1.25)]
    [InlineData("tube 90 mm x 5 mm wall", 0.2, 1.6)]
    [InlineData("HEB 100", 0.4, 1.25)]
    [InlineData("HEB 100", 0.4, 1.6)]
    [InlineData("round 60 mm", 1, 1.6)]
    public void Push_IdleHasRisen_AirIsWhatThisCycleShows(string notation, double net, double idle)
    {
        var section = Parse(notation);
        var script = new SawScript(idle: idle).Wait(5);
        Cut(script, section, net, out var contact, out var through);
        var cut = Assert.Single(Detect(script, section, 0.1, 0.012, Everything, learnedKw: 1));
        AssertFull(cut, section, contact, through, 0.1);
        Assert.Equal(idle, cut.IdleLoadKw, 0.01);
    }

    [Fact]
    public void Push_LoadWithoutAnyNoise_InrushIsNotTakenIntoTheAir()
    {
        var section = Parse("rect 120 x 100 mm");
        var script = new SawScript(idle: 2).Wait(5);
        Cut(script, section, 4, out var contact, out var through);
        var cut = Assert.Single(Detect(script, section, 0.1, 0, Everything));
        AssertFull(cut, section, contact, through, 0.1);
        Assert.Equal(2, cut.IdleLoadKw, 0.001);
        Assert.Equal(4 * (through - contact), cut.EnergyKj, 1);
    }

    [Theory]
    [InlineData(1.0, 1.0)]
    [InlineData(1.0, 1.6)]
    [InlineData(1.6, 1.0)]
    public void Push_StrokeWithoutStock_StaysNoCut(double learned, double idle)
    {
        var section = Parse("tube 90 mm x 5 mm wall");
        for (var seconds = 0; seconds < 5; seconds++)
        {
            // The stroke meets other noise each time.
            var script = new SawScript(idle: idle).Wait(5 + seconds);
            Cut(script, section, 0, out _, out _);
            var cut = Assert.Single(Detect(script, section, 0.1, 0.012, Everything, learned));
            Assert.Equal(CutOutcome.Aborted, cut.Outcome);
            Assert.Null(cut.CutStartedAt);
            Assert.Contains("no contact with stock was seen", cut.Notes);
            Assert.Equal(idle, cut.IdleLoadKw, 0.01);
        }
    }

    [Theory]
    [InlineData("rect 120 x 60 mm", "rect 120 x 100 mm", 1)]
    [InlineData("rect 120 x 60 mm", "rect 120 x 100 mm", 0.05)]
    [InlineData("rect 120 x 100 mm", "rect 120 x 60 mm", 1)]
    [InlineData("tube 90 mm x 5 mm wall", "tube 60 mm x 5 mm wall", 0.1)]
    [InlineData("tube 60 mm x 5 mm wall", "tube 90 mm x 5 mm wall", 0.1)]
    [InlineData("round 70 mm", "round 80 mm", 1)]
    [InlineData("round 80 mm", "round 70 mm", 1)]
    public void Push_JobOfAnotherHeight_DepthIsTheStocksNotTheJobs(string real, string job, double net)
    {
        var section = Parse(real);
        var script = new SawScript(idle: 1).Wait(5);
        Cut(script, section, net, out _, out var through);
        var cut = Assert.Single(Detect(script, Parse(job), 0.1, 0.012, Everything, learnedKw: 1));
        Assert.Equal(CutOutcome.Completed, cut.Outcome);
        AssertTime(through, cut.CutEndedAt, 0.3);

        // The load alone has to tell, and may be some millimetres off: enough to see that the job does not fit.
        Assert.True(Math.Abs(cut.DepthMm - Parse(job).HeightMm) > Math.Max(3, 0.05 * Parse(job).HeightMm), $"depth {cut.DepthMm}");
        Assert.InRange(cut.DepthMm, section.HeightMm - 6, section.HeightMm + 6);
    }

    [Theory]
    [InlineData("break")]
    [InlineData("hold")]
    [InlineData("notch")]
    [InlineData("stall")]
    public void Push_CutThatDidNotGoItsWay_IsReadAsWithoutTheSection(string kind)
    {
        var section = Parse("rect 120 x 100 mm");
        var script = new SawScript(idle: 1).Wait(5);
        Begin(script, 100);
        script.Feed(40, 60, _ => 1);
        _ = kind switch
        {
            "break" => script.Feed(-4, 60, _ => -0.2).Cutting(false).Move(300, 6000).Wait(2).Cycle(false).Wait(8),
            "hold" => script.Wait(20, load: 1).Feed(0, 60, _ => 1).Move(-4, 60, load: 1).Cutting(false).CountUp().Move(300, 6000).Wait(2).Cycle(false).Wait(8),
            "notch" => script.Move(300, 6000, load: 1).Cutting(false).Wait(2).Cycle(false).Wait(8),
            _ => script.Wait(5, load: 2.9).Fault(20).Blade(false).Cutting(false).Cycle(false).Wait(5).Move(300, 2000).Wait(8),
        };
        var with = Assert.Single(Detect(script, section, 0.1, 0.012, Everything, learnedKw: 1));
        var without = Assert.Single(SawScript.Detect(script.Frames(0.1, Everything, noise: 0.012)));

        Assert.Equal(kind switch { "hold" => CutOutcome.Completed, "notch" => CutOutcome.Partial, _ => CutOutcome.Aborted }, with.Outcome);
        Assert.Equal(without.Outcome, with.Outcome);
        Assert.Equal(without.Notes, with.Notes);
        Assert.Equal(without.HoldSeconds, with.HoldSeconds, 0.2);
        AssertTime((without.CutStartedAt!.Value - SawScript.Epoch).TotalSeconds, with.CutStartedAt, 0.3);
        AssertTime((without.CutEndedAt!.Value - SawScript.Epoch).TotalSeconds, with.CutEndedAt, 0.3);
    }

    [Fact]
    public void Of_Round_SlackIsWhereTheChordIsAThirdOfTheMean()
    {
        // Chord 2 sqrt(d (D - d)) = pi D / 12 at the depth d, by hand.
        var shape = StockShape.Of(Parse("round 100 mm"));
        var depth = (100 - Math.Sqrt((100.0 * 100) - Math.Pow(Math.PI * 100 / 12, 2))) / 2;
        Assert.Equal(depth, shape.TopSlackMm, 0.3);
        Assert.Equal(depth, shape.BottomSlackMm, 0.3);
        Assert.Equal(1.0 / 3, shape.LeastShare, 1e-9);
    }

    [Fact]
    public void Of_RectangularTube_SidesAreItsLeastShare()
    {
        // Sides 2 x 3 mm, by hand; area 120 x 60 - 114 x 54 = 1044 mm2 over 60 mm: 17.4 mm on average. Square corners.
        var shape = StockShape.Of(SectionFactory.RectangularTube(120, 60, 3, 0, 0));
        Assert.Equal(0, shape.TopSlackMm);
        Assert.Equal(0, shape.BottomSlackMm, 1e-9);
        Assert.Equal(1.0 / 3, shape.LeastShare, 1e-9);
        Assert.Equal(6 / (((200.0 * 40) - (194 * 34)) / 40), StockShape.Of(SectionFactory.RectangularTube(200, 40, 3, 0, 0)).LeastShare, 0.001);
    }

    private static Section Parse(string notation) => SectionNotation.Parse(notation).Section ?? throw new ArgumentException(SectionNotation.Parse(notation).Problem);

    private static void Begin(SawScript script, double height) =>
        script.Cycle(true).Wait(3).Wait(1, load: 10).Wait(2).Move(height + 5, 3000).Cutting(true).Move(height, 60);

    // A whole cycle at a constant descent: the net load follows the width, and is so much on average.
    private static void Cut(SawScript script, Section section, double netKw, out double contact, out double through)
    {
        Begin(script, section.HeightMm);
        contact = script.Now;
        script.Feed(0, 60, share => netKw * section.WidthAt(share * section.HeightMm) / section.MeanWidthMm);
        through = script.Now;
        script.Move(-4, 60, load: script.Idle).Cutting(false).CountUp().Move(300, 6000, load: script.Idle).Wait(2).Cycle(false).Wait(8);
    }

    private static IReadOnlyList<Cut> Detect(SawScript script, Section section, double interval, double noise, Signal[] signals, double? learnedKw = null)
    {
        var detector = new CycleDetector { Stock = _ => StockShape.Of(section) };
        if (learnedKw is not null)
            detector.Restore(new DetectorMemory { IdleLoadKw = learnedKw });
        return SawScript.Detect(script.Frames(interval, signals, noise: noise), detector);
    }

    private static void AssertFull(Cut cut, Section section, double contact, double through, double interval)
    {
        Assert.Equal(CutOutcome.Completed, cut.Outcome);
        Assert.Empty(cut.Notes);
        Assert.InRange(cut.DepthMm, section.HeightMm - 1.5, section.HeightMm + 1.5);
        AssertTime(contact, cut.CutStartedAt, Math.Max(0.2, interval));
        AssertTime(through, cut.CutEndedAt, Math.Max(0.2, interval));
        Assert.NotNull(cut.Profile);
    }

    private static void AssertTime(double expected, DateTimeOffset? actual, double within)
    {
        Assert.NotNull(actual);
        Assert.Equal(expected, (actual.Value - SawScript.Epoch).TotalSeconds, within);
    }
}
