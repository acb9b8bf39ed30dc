using SawEdge.Core.Cutting;
using SawEdge.Core.Cycles;
using SawEdge.Core.Materials;
using SawEdge.Core.Signals;
using SawEdge.Core.Tests.Cycles;

namespace SawEdge.Core.Tests;

public sealed class SawPipelineTests
{
    private static readonly Signal[] Signals = [Signal.HeadPosition, Signal.MotorLoad, Signal.CycleActive, Signal.Job, Signal.PartCount];

    private static JobBook Jobs { get; } = Book("job,material,section,part_length,blade,standard\nJ-1,S355,rect 120 x 100 mm,250 mm,bimetal 3/4 tpi,90 s\nJ-2,S355,rect 120 x 100 mm,250 mm,bimetal 3/4 tpi,\n");

    [Fact]
    public void TryTake_KnownJob_RecordHoldsExpectationAndFigures()
    {
        var script = new SawScript().Wait(5).FullCut(out var contact, out var through, stock: 100, feed: 60, net: 4);
        var record = Assert.Single(Run(script)).Record;

        Assert.Equal("Saw 1", record.Saw);
        Assert.Equal(CutOutcome.Completed, record.Outcome);
        Assert.Equal(90, record.StandardCutTimeS);
        Assert.Equal(through - contact, record.CutTimeS!.Value, 0.1);
        Assert.Equal(record.CutTimeS.Value / 90, record.CutTimeRatio!.Value, 1e-5);
        Assert.Equal(120, record.CutAreaCm2);
        Assert.Equal(120 / record.CutTimeS.Value * 60, record.CuttingRateCm2Min!.Value, 1e-3);

        // 4 kW net over the cut, in 12 000 mm2 times the kerf.
        var kerf = Jobs.Find("J-1")!.Blade!.KerfMm;
        Assert.Equal(4 * (through - contact) * 1000 / (12_000 * kerf), record.SpecificEnergyJMm3!.Value, 0.02);
        Assert.Equal(250, record.PartLengthMm);
        Assert.Equal("cut: head+load+bits; standard: plant time; level: section by depth; shape: none; pace: none; loop: none", record.Basis);
        Assert.Equal("", record.Notes);
    }

    [Fact]
    public void TryTake_CatalogueJob_StandardIsTheModels()
    {
        var script = new SawScript().Job("J-2").Wait(5).FullCut(out _, out _);
        var record = Assert.Single(Run(script)).Record;
        var expected = CuttingModel.Standard(Jobs.Find("J-2")!, new SawMachine { Name = "Saw 1" });
        Assert.Equal(expected.CutSeconds, record.StandardCutTimeS!.Value, 0.001);
        Assert.Contains("; standard: catalogue; ", record.Basis, StringComparison.Ordinal);
    }

    [Fact]
    public void TryTake_UnknownJob_IsRecordedWithoutExpectationAndSaysWhy()
    {
        var script = new SawScript().Job("nobody's").Wait(5).FullCut(out _, out _);
        var record = Assert.Single(Run(script)).Record;
        Assert.Null(record.StandardCutTimeS);
        Assert.Null(record.CutAreaCm2);
        Assert.Null(record.CutTimeRatio);
        Assert.NotNull(record.CutTimeS);
        Assert.Equal("job 'nobody's' is not in the job list", record.Notes);
        Assert.Equal("cut: head+load+bits; standard: none; level: earlier cuts of the job; shape: none; pace: none; loop: none", record.Basis);
    }

    [Fact]
    public void TryTake_PartialCut_IsHeldAgainstThePartThatWasCut()
    {
        var script = new SawScript().Wait(5).FullCut(out _, out _).Cycle(true).Wait(3).Move(100, 3000);
        script.Feed(40, 60, _ => 4).Move(300, 3000).Wait(2).Cycle(false).Wait(20);
        var record = Run(script)[1].Record;
        Assert.Equal(CutOutcome.Partial, record.Outcome);
        Assert.Equal(72, record.CutAreaCm2!.Value, 0.5);
        Assert.Equal(54, record.StandardCutTimeS!.Value, 0.5);
    }

    [Fact]
    public void TryTake_Identifiers_AreTheStartAndStayTheSame()
    {
        var script = new SawScript().Wait(5).FullCut(out _, out _).FullCut(out _, out _);
        var first = Run(script);
        var second = Run(script);
        Assert.Equal(first.Select(cut => cut.Record), second.Select(cut => cut.Record));
        Assert.Equal("Saw 1-20260302T060005000Z", first[0].Record.CycleId);
        Assert.Equal(2, first.Select(cut => cut.Record.CycleId).Distinct().Count());
    }

    [Fact]
    public void TryTake_LearnedTime_FollowsTheSawAndNarrowsWhileTheStandardStays()
    {
        var script = new SawScript().Job("J-2").Wait(5);
        for (var i = 0; i < 12; i++)
            script.FullCut(out _, out _, feed: 60 + (i % 3));
        var records = Run(script).ConvertAll(cut => cut.Record);

        Assert.Single(records.Select(record => record.StandardCutTimeS).Distinct());
        Assert.Equal(records[0].StandardCutTimeS, records[0].LearnedCutTimeS);
        Assert.Equal(98.5, records[^1].LearnedCutTimeS!.Value, 1.5);
        Assert.All(records, record => Assert.InRange(record.LearnedCutTimeS!.Value, record.LearnedLowS!.Value, record.LearnedHighS!.Value));
        Assert.True(Width(records[^1]) < Width(records[1]) / 2);

        static double Width(CycleRecord record) => record.LearnedHighS!.Value - record.LearnedLowS!.Value;
    }

    [Fact]
    public void TryTake_UnknownJob_IsHeldAgainstItsOwnNumber()
    {
        var script = new SawScript().Job("nobody's").Wait(5).FullCut(out _, out _).FullCut(out _, out _);
        var records = Run(script).ConvertAll(cut => cut.Record);
        Assert.Null(records[0].LearnedCutTimeS);
        Assert.Equal(records[0].CutTimeS!.Value, records[1].LearnedCutTimeS!.Value, 0.01);
    }

    [Fact]
    public void TryTake_CutWithAHold_IsNotLearnedFrom()
    {
        var script = new SawScript().Job("nobody's").Wait(5).Cycle(true).Wait(3).Move(100, 3000).Feed(50, 60, _ => 4).Wait(30, load: 2).Feed(0, 60, _ => 4).Move(-4, 60).CountUp().Move(300, 6000).Cycle(false).Wait(8).FullCut(out _, out _);
        Assert.Null(Run(script)[1].Record.LearnedCutTimeS);
    }

    [Fact]
    public void TryTake_BladeArea_AddsUpAndIsForgottenWhereACutIsUnknown()
    {
        var script = new SawScript().Wait(5).FullCut(out _, out _).FullCut(out _, out _).Job("?").FullCut(out _, out _).Job("J-1").FullCut(out _, out _);
        var cuts = Run(script, blade: "B-7");
        Assert.Equal([0.012, 0.024, null, null], cuts.Select(cut => cut.Record.BladeAreaM2));
        Assert.All(cuts, cut => Assert.Equal("B-7", cut.Record.Blade));
    }

    [Fact]
    public void TryTake_BladeThatCameAfterAnother_IsBrokenIn()
    {
        var script = new SawScript().Job("J-2").Wait(5);
        for (var i = 0; i < 8; i++)
            script.FullCut(out _, out _);
        var cuts = 0;
        var frames = script.Frames(0.1, Signals).Select(frame =>
        {
            cuts = (int)frame.Number(Signal.PartCount);
            frame.Set(Signal.BladeId, cuts < 2 ? "old" : "new");
            return frame;
        });
        var standards = Run(frames, blade: null).ConvertAll(cut => cut.Record.StandardCutTimeS!.Value);

        // 62.5 in2 (403 cm2) at half the rate to begin with, ramped up: each cut is 120 cm2.
        Assert.Equal(standards[0], standards[1]);
        Assert.True(standards[2] > 1.6 * standards[0]);
        Assert.True(standards[2] > standards[3] && standards[3] > standards[4] && standards[4] > standards[5]);
        Assert.Equal(standards[0], standards[6]);
    }

    [Fact]
    public void Restore_ContinuesBladeAndIdentity()
    {
        var script = new SawScript().Wait(5).FullCut(out _, out _).FullCut(out _, out _).FullCut(out _, out _);
        var frames = script.Frames(0.1, Signals).ToList();
        var whole = Run(frames, "B-7");
        var first = new SawPipeline(Machine(), Jobs, "B-7");
        var cuts = new List<FinishedCut>();
        var i = 0;
        while (cuts.Count < 2 || first.HasOpenEnds)
            Push(first, frames[i++], cuts);
        var memory = first.Save();

        var second = new SawPipeline(Machine(), Jobs, "B-7");
        second.Restore(memory);
        foreach (var frame in second.NotHandedOut(frames.Take(i)).Concat(frames.Skip(i)))
            Push(second, frame, cuts);
        second.Complete();
        while (second.TryTake(out var cut))
            cuts.Add(cut);
        Assert.Equal(whole.Select(cut => cut.Record), cuts.Select(cut => cut.Record));
    }

    // A record's times are whole milliseconds: a frame a little later than its end is still the one at its end.
    [Theory]
    [InlineData(0)]
    [InlineData(0.0004)]
    [InlineData(0.0006)]
    public void NotHandedOut_TheFrameAtTheEndOfACutThatBrokeOff_IsNotTakenAgain(double offset)
    {
        var script = new SawScript().Wait(5).FullCut(out var contact, out _).Wait(30);
        var frames = script.Frames(0.1, Signals, offset).ToList();
        var before = frames.TakeWhile(frame => (frame.Time - frames[0].Time).TotalSeconds < contact + 20).ToList();
        var stored = before.Concat(frames.TakeLast(60)).ToList();
        var pipeline = new SawPipeline(Machine(), Jobs, "B-7");
        var cuts = new List<FinishedCut>();
        foreach (var frame in stored)
            Push(pipeline, frame, cuts);

        Assert.Equal(CutOutcome.UnobservedEnd, Assert.Single(cuts).Record.Outcome);
        Assert.Equal(60, pipeline.NotHandedOut(stored).Count());
    }

    [Theory]
    [InlineData(1234.56789, 1234.57)]
    [InlineData(0.000123456789, 0.000123457)]
    [InlineData(-98.7654321, -98.7654)]
    [InlineData(123456789, 123457000)]
    [InlineData(0, 0)]
    public void Figure_RoundsToSixSignificantDigits(double value, double expected) => Assert.Equal(expected, CutFigureRounding.Figure(value));

    [Fact]
    public void Figure_NotFinite_IsNull()
    {
        Assert.Null(CutFigureRounding.Figure(double.NaN));
        Assert.Null(CutFigureRounding.Figure(double.PositiveInfinity));
    }

    private static SawMachine Machine() => new() { Name = "Saw 1" };

    private static JobBook Book(string text)
    {
        var parse = JobBook.Parse(text, MaterialCatalogue.BuiltIn);
        Assert.Empty(parse.Errors);
        return parse.Book;
    }

    private static List<FinishedCut> Run(SawScript script, string? blade = null) => Run(script.Frames(0.1, Signals), blade);

    private static List<FinishedCut> Run(IEnumerable<SignalFrame> frames, string? blade)
    {
        var pipeline = new SawPipeline(Machine(), Jobs, blade);
        var cuts = new List<FinishedCut>();
        foreach (var frame in frames)
            Push(pipeline, frame, cuts);
        pipeline.Complete();
        while (pipeline.TryTake(out var cut))
            cuts.Add(cut);
        return cuts;
    }

    private static void Push(SawPipeline pipeline, in SignalFrame frame, List<FinishedCut> cuts)
    {
        pipeline.Push(frame);
        while (pipeline.TryTake(out var cut))
            cuts.Add(cut);
    }
}
