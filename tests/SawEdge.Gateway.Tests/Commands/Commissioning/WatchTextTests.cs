using SawEdge.Core.Cycles;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Commands.Commissioning;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Tests.Commands.Commissioning;

public sealed class WatchTextTests
{
    private static readonly DateTimeOffset At = new(2026, 3, 2, 6, 0, 0, TimeSpan.Zero);
    private static readonly WatchHead Head = new("north", "plc, 192.168.10.21:502, unit 1", TimeSpan.FromMilliseconds(100), "Some devices take one client only.");

    [Fact]
    public void Draw_ASawInACut_IsThisPicture()
    {
        var moment = Moment(
            Number(Signal.HeadPosition, "holding 100", "090A", 231.4, 0, 412.3),
            Number(Signal.MotorLoad, "input 20117", "4029 999A", 2.65, 0.58, 3.1),
            Number(Signal.BladeSpeed, "holding 101", "0322", 80.2, 79.6, 80.2),
            Flag(Signal.CycleActive, "discrete 0", "1", true, 3),
            new SignalMoment { Place = Place(Signal.Job, "holding 300", "ascii"), Raw = "4F42 2D31 3138 3000", Quality = SignalQuality.Good, Text = "OB-1180", Age = TimeSpan.FromSeconds(0.13), Changes = 1 },
            Number(Signal.PartCount, "holding 4", "0007", 7, 6, 7)) with
        {
            Cycle = InACut,
            HeadMm = 231.4,
            LoadKw = 2.65,
        };
        Assert.Equal(
            """
            north: plc, 192.168.10.21:502, unit 1                                   00:01:25
            signal          from          raw          age             value     min     max
            head_position   holding 100   090A       0.1 s good    231.40 mm    0.00  412.30
            motor_load      input 20117   4029 999A  0.1 s good      2.65 kW    0.58    3.10
            blade_speed     holding 101   0322       0.1 s good   80.2 m/min    79.6    80.2
            cycle_active    discrete 0    1          0.1 s good          yes       3 changes
            job             holding 300              0.1 s good      OB-1180        1 change
              raw 4F42 2D31 3138 3000
            part_count      holding 4     0007       0.1 s good            7       6       7

            cycle     In a cut since 12 s: contact at 250.00 mm, head at 231.40 mm, load
                      2.05 kW above idle 0.60 kW. It ends when the load is gone or the head
                      comes up; the cycle when the cycle bit falls.
            last      no finished cycle since the start
            reading   every 100 ms with 2 requests; an answer takes 1.2 ms (median), 8.4 ms
                      at most; 850 polls, 851 frames
            """.Split('\n'),
            Texts(moment));
    }

    [Fact]
    public void Draw_InInches_ShowsTheUnitsThatThePersonChose()
    {
        var text = string.Join('\n', new WatchText(Head, [], new WatchUnits(DisplayUnits.Inch)).Draw(
            Moment(Number(Signal.HeadPosition, "holding 100", "090A", 254, 25.4, 508), Number(Signal.BladeSpeed, "holding 101", "0322", 80, 80, 80)), []).Select(line => line.Text));
        Assert.Contains("10.000 in   1.000  20.000", text, StringComparison.Ordinal);
        Assert.Contains("262 ft/min     262     262", text, StringComparison.Ordinal);
    }

    public static TheoryData<int, string, double, string> Qualities() => new()
    {
        { (int)SignalQuality.OutOfRange, "7FFF", 327.67, "out of range: 327.67 kW is above the maximum of 30.00 kW in the configuration" },
        { (int)SignalQuality.OutOfRange, "FFFF", -1, "out of range: -1.00 kW is below the minimum of 0.00 kW in the configuration" },
        { (int)SignalQuality.Invalid, "7FC0 0000", double.NaN, "not usable: '7FC0 0000' is no number as float32; check type and order" },
        { (int)SignalQuality.SourceFault, "090A", double.NaN, "no answer; the last value came 0.1 s ago" },
        { (int)SignalQuality.NotRead, "null", double.NaN, "nothing to use: it came empty, as null, or as old news that the broker had kept" },
        { (int)SignalQuality.NotRead, "", double.NaN, "nothing came yet" },
    };

    [Theory]
    [MemberData(nameof(Qualities))]
    public void Draw_ASignalThatIsNotGood_SaysWhyBelowIt(int quality, string raw, double outOfRange, string why)
    {
        var signal = Number(Signal.MotorLoad, "holding 2", raw, double.NaN, double.NaN, double.NaN) with { Quality = (SignalQuality)quality, OutOfRange = outOfRange };
        signal = signal with { Place = signal.Place with { Minimum = 0, Maximum = 30, Form = "float32" } };
        var lines = new WatchText(Head, [], new WatchUnits(DisplayUnits.Metric)).Draw(Moment(signal), []);
        var below = lines.Skip(3).TakeWhile(line => line.Text.Length > 0).ToList();
        Assert.Equal(why, string.Join(' ', below.Select(line => line.Text.Trim())));
        Assert.All(below, line => Assert.Equal(LineTone.Bad, line.Tone));
        Assert.Equal(LineTone.Bad, lines[2].Tone);
        Assert.DoesNotContain("good", lines[2].Text, StringComparison.Ordinal);
    }

    [Fact]
    public void Draw_Troubles_StandBelowWithTheHint()
    {
        var lines = Texts(Moment(), new SaidTrouble(At, "Device plc cannot be reached: no signals from north. 192.168.10.21:502: the connection was refused.", false, 2101), new SaidTrouble(At, "Broker hall is listened to again after 4.0 s.", true, 2202));
        Assert.Equal(
            [
                "trouble   Device plc cannot be reached: no signals from north.",
                "          192.168.10.21:502: the connection was refused.",
                "over      Broker hall is listened to again after 4.0 s.",
                "          Some devices take one client only.",
            ],
            lines[1..5]);
    }

    [Theory]
    [InlineData("plant/riverbend/hall-2/saws/north/drive/motor/power/actual", "12.71")]
    [InlineData("holding 100", "0123456789ABCDEF0123456789ABCDEF0123456789ABCDEF0123456789ABCDEF0123456789ABCDEF0123456789ABCDEF")]
    [InlineData("日本語のとても長いトピックの名前がここにある", "値段は百円です値段は百円です")]
    [InlineData("[red]markup[/] [[x]]", "[bold]1[/]")]
    public void Draw_LongOrStrangeNames_AreWholeAndFit(string from, string raw)
    {
        var signals = SignalInfo.All.Where(info => info.Kind == SignalKind.Number).Select(info => Number(info.Signal, from, raw, -123456.789, -1e300, 1e300))
            .Append(new SignalMoment { Place = Place(Signal.Job, from, ""), Raw = raw, Quality = SignalQuality.Good, Text = string.Concat(Enumerable.Repeat("very long job name ", 6)).Trim() });
        var lines = Texts(Moment([.. signals]));
        Assert.All(lines, line => Assert.True(TextCells.Width(line) <= 80, line));
        var all = string.Concat(lines.Select(line => line.Trim()));
        Assert.Contains(from.Replace(" ", "", StringComparison.Ordinal), all.Replace(" ", "", StringComparison.Ordinal), StringComparison.Ordinal);
        Assert.Contains(raw.Replace(" ", "", StringComparison.Ordinal), all.Replace(" ", "", StringComparison.Ordinal), StringComparison.Ordinal);
        Assert.Contains("verylongjobnameverylongjobnameverylongjobname", all.Replace(" ", "", StringComparison.Ordinal), StringComparison.Ordinal);
    }

    [Fact]
    public void Picture_IsOnePieceThatClearsNothingBefore()
    {
        var picture = TerminalDisplay.Picture([new TextLine("one", LineTone.Heading), new TextLine("two"), new TextLine("three", LineTone.Bad)], 80, 24);
        Assert.StartsWith("\u001b[H", picture, StringComparison.Ordinal);
        Assert.DoesNotContain("\u001b[2J", picture, StringComparison.Ordinal);
        Assert.Equal(3, picture.Split("\r\n").Length - 1);
        Assert.EndsWith("\u001b[K\u001b[J", picture, StringComparison.Ordinal);
    }

    [Fact]
    public void Picture_WindowTooLow_SaysHowManyLinesAreMissing()
    {
        var lines = Enumerable.Range(0, 30).Select(i => new TextLine($"line {i}")).ToList();
        var picture = TerminalDisplay.Picture(lines, 80, 12);
        Assert.Equal(11, picture.Split("\r\n").Length - 1);
        Assert.Contains("line 9", picture, StringComparison.Ordinal);
        Assert.DoesNotContain("line 10", picture, StringComparison.Ordinal);
        Assert.Contains("(20 more lines: make the window taller)", picture, StringComparison.Ordinal);
    }

    [Fact]
    public void Words_OfEveryPhase_AreWholeSentences()
    {
        var words = new CycleWords(new WatchUnits(DisplayUnits.Metric), readsLoad: true, readsHead: true);
        var idle = Moment() with { Cycle = new CycleNow { Phase = CyclePhase.Idle, WaitsFor = CycleWait.Cycle, IdleKw = double.NaN, TopMm = 300, CycleBit = false }, PhaseSince = At.AddSeconds(-35), HeadMm = 300, LoadKw = 0.2 };
        Assert.Equal("Between cycles since 35 s, head at 300.00 mm, load 0.20 kW (idle load not known yet). A cycle begins when the cycle bit comes, or the head goes below 298.00 mm.", words.Of(idle));
        Assert.Equal("Nothing came yet: the cycle detector waits for the first frame.", words.Of(Moment() with { Cycle = new CycleNow() }));
        Assert.Equal(
            "In a cycle since 8.0 s, begun by the head that went down; blade and stock have not met yet, head at 120.00 mm, load at idle 0.60 kW. The cut begins where the load rises and stays.",
            words.Of(Moment() with { Cycle = InACut with { HasCut = false, ContactAt = null, StartedAt = At.AddSeconds(-8), Beginning = CycleBeginning.CuttingOrHead, WaitsFor = CycleWait.Contact }, HeadMm = 120, LoadKw = 0.55 }));
        Assert.Equal(
            "The cut is over since 3.0 s, left at 0.30 mm, head at 40.00 mm, load at idle 0.60 kW. The cycle ends when the head has come up by 5.00 mm, out of the stock, and stands.",
            words.Of(Moment() with { Cycle = InACut with { LeftAt = At.AddSeconds(-3), LeaveHeadMm = 0.3, WaitsFor = CycleWait.HeadUp }, HeadMm = 40, LoadKw = 0.6 }));
        Assert.Equal(
            "Stopped in the stock: the cycle bit fell 14 s ago, head at 70.00 mm, load at idle 0.60 kW. Waits whether somebody carries on with the cut; it ends when the head comes up by 5.00 mm, or after 10 min.",
            words.Of(Moment() with { Cycle = InACut with { Phase = CyclePhase.Stopped, StoppedAt = At.AddSeconds(-14), WaitsFor = CycleWait.CarryOn }, HeadMm = 70, LoadKw = 0.6 }));
    }

    private static CycleNow InACut => new()
    {
        Phase = CyclePhase.Cycle,
        Beginning = CycleBeginning.CycleBit,
        WaitsFor = CycleWait.Leave,
        StartedAt = At.AddSeconds(-20),
        HasCut = true,
        ContactAt = At.AddSeconds(-12),
        ContactHeadMm = 250,
        LeaveHeadMm = double.NaN,
        IdleKw = 0.6,
        TopMm = double.NaN,
    };

    private static string[] Texts(WatchMoment moment, params SaidTrouble[] troubles) =>
        [.. new WatchText(Head, [Place(Signal.MotorLoad, "", ""), Place(Signal.HeadPosition, "", "")], new WatchUnits(DisplayUnits.Metric)).Draw(moment, troubles).Select(line => line.Text)];

    private static WatchMoment Moment(params SignalMoment[] signals) => new()
    {
        Running = TimeSpan.FromSeconds(85),
        Frames = 851,
        LastFrameAt = At,
        Signals = signals,
        Cycle = new CycleNow(),
        Polls = new PollFigures(850, 2, TimeSpan.FromMilliseconds(1.2), TimeSpan.FromMilliseconds(8.4)),
    };

    private static SignalPlace Place(Signal signal, string from, string form) => new(signal, from, form, null, null);

    private static SignalMoment Number(Signal signal, string from, string raw, double value, double minimum, double maximum) =>
        new() { Place = Place(signal, from, ""), Raw = raw, Quality = SignalQuality.Good, Number = value, Minimum = minimum, Maximum = maximum, Age = TimeSpan.FromSeconds(0.13) };

    private static SignalMoment Flag(Signal signal, string from, string raw, bool value, long changes) =>
        new() { Place = Place(signal, from, "bit"), Raw = raw, Quality = SignalQuality.Good, Flag = value, Changes = changes, Age = TimeSpan.FromSeconds(0.13) };
}
