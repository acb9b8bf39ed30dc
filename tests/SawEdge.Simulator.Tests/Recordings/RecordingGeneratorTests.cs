using System.Globalization;
using SawEdge.Core.Cycles;
using SawEdge.Core.Signals;
using SawEdge.Simulator.Faults;
using SawEdge.Simulator.Recordings;
using SawEdge.Simulator.Saws;

namespace SawEdge.Simulator.Tests.Recordings;

public sealed class RecordingGeneratorTests
{
    private static readonly RecordingOptions FourCycles = new() { Cycles = 4, Interval = TimeSpan.FromMilliseconds(250) };

    [Fact]
    public void Write_SameSeed_IsByteEqual()
    {
        var noisy = Make.Quiet() with { Noise = new NoiseModel(), Work = new WorkPattern() };
        Assert.Equal(Write([noisy], FourCycles).Text, Write([noisy], FourCycles).Text);
        Assert.NotEqual(Write([noisy], FourCycles).Text, Write([noisy with { Seed = 9 }], FourCycles).Text);
    }

    [Fact]
    public void Write_Header_AndRows_FollowTheContract()
    {
        var options = FourCycles with { Signals = [Signal.HeadPosition, Signal.MotorLoad, Signal.Cutting, Signal.Job, Signal.PartCount] };
        var (text, _, _) = Write([Make.Quiet() with { Noise = new NoiseModel() }], options);
        var lines = text.Split('\n');
        Assert.Equal("time,saw,head_position,motor_load,cutting,job,part_count", lines[0]);
        Assert.Equal("2026-03-02T06:00:00.000Z,saw-1", lines[1][..30]);
        Assert.Matches(@"^2026-03-02T06:0\d:\d\d\.\d{3}Z,saw-1,-?\d+(\.\d)?,\d(\.\d{1,3})?,(true|false),J-100,\d+$", lines[200]);
        Assert.Equal("", lines[^1]);
        Assert.DoesNotContain('\r', text);
    }

    [Fact]
    public void Write_TextsThatNeedIt_AreQuoted()
    {
        var saw = Make.Quiet(faults: new WrongJob(FaultTrigger.Onward(1), "a,\"b\""));
        var (text, truth, _) = Write([saw], FourCycles with { Signals = [Signal.Job] });
        Assert.Contains(",saw-1,\"a,\"\"b\"\"\"\n", text, StringComparison.Ordinal);
        Assert.Contains(",\"a,\"\"b\"\"\",", truth, StringComparison.Ordinal);
    }

    [Fact]
    public void Write_SeveralSaws_AreMergedByTime()
    {
        var second = Make.Quiet() with { Machine = new MachineProfile { Name = "saw-2" }, Seed = 12, Start = Make.Start.AddMilliseconds(40) };
        var (text, _, truths) = Write([Make.Quiet(), second], FourCycles);
        var times = Rows(text).Select(row => row[0]).ToList();
        Assert.Equal(times.Order(StringComparer.Ordinal), times);
        Assert.Equal(["saw-1", "saw-2"], Rows(text).Select(row => row[1]).Distinct());
        Assert.Equal(8, truths.Count);
    }

    [Fact]
    public void Write_Truth_HasOneRowACycle_AndTheContactOfTheRecordedHead()
    {
        var (text, truth, truths) = Write([Make.Quiet()], FourCycles);
        var rows = Rows(truth);
        Assert.Equal([CutOutcome.Trim, CutOutcome.Completed, CutOutcome.Completed, CutOutcome.Completed], truths.Select(cycle => cycle.Outcome!.Value));
        Assert.Equal(4, rows.Count);
        Assert.Equal(["saw-1", "2"], rows[1][..2]);
        // Interpolated between the two frames around it, the recorded head passes the stock's top at the stated time.
        var head = Rows(text).Select(row => (Time: DateTimeOffset.Parse(row[0], CultureInfo.InvariantCulture), Mm: double.Parse(row[2], CultureInfo.InvariantCulture))).ToList();
        var contact = truths[1].Contact!.Value;
        var i = head.FindIndex(frame => frame.Time > contact);
        // Up to contact the head feeds at 180 mm/min, behind it slower or as fast: both ways bound the height.
        Assert.InRange(head[i].Mm, 100 - (0.003 * (head[i].Time - contact).TotalMilliseconds) - 1e-5, 100);
        Assert.InRange(head[i - 1].Mm, 100, 100 + (0.003 * (contact - head[i - 1].Time).TotalMilliseconds) + 1e-5);
    }

    [Fact]
    public void Write_IdleMargin_LeavesOutIdleFramesAndNothingElse()
    {
        var saw = Make.Quiet() with { Noise = new NoiseModel(), Work = new WorkPattern { BarChangeS = 3600 } };
        var options = FourCycles with { Cycles = 14 };
        var all = Write([saw], options);
        var lean = Write([saw], options with { IdleMargin = TimeSpan.FromSeconds(5) });
        var kept = lean.Text.Split('\n').ToHashSet(StringComparer.Ordinal);
        Assert.Subset(all.Text.Split('\n').ToHashSet(StringComparer.Ordinal), kept);
        var active = all.Text.Split('\n').Where(line => line.Contains(",true,", StringComparison.Ordinal)).ToHashSet(StringComparer.Ordinal);
        Assert.Subset(kept, active);
        Assert.True(kept.Count < all.Text.Count(c => c == '\n') * 0.4);
        Assert.Equal(all.Truth, lean.Truth);
    }

    [Fact]
    public void Write_LossAndJitter_ThinAndShiftTheFrames()
    {
        var options = FourCycles with { LossChance = 0.3, Jitter = 0.3 };
        var rows = Rows(Write([Make.Quiet()], options).Text);
        var whole = Rows(Write([Make.Quiet()], FourCycles).Text);
        Assert.Equal(0.7, (double)rows.Count / whole.Count, 0.06);
        var times = rows.Select(row => row[0]).ToList();
        Assert.Equal(times.Order(StringComparer.Ordinal), times);
        Assert.True(times.Count(time => !time.EndsWith("00.000Z", StringComparison.Ordinal) && whole.Exists(row => row[0] == time)) < times.Count / 10);
    }

    [Fact]
    public void Write_ControllerDoesNotAnswer_LeavesAGap()
    {
        var saw = Make.Quiet(faults: new ControllerRestart(FaultTrigger.AtCycle(3), 30, 0.5));
        var times = Rows(Write([saw], FourCycles).Text).Select(row => DateTimeOffset.Parse(row[0], CultureInfo.InvariantCulture)).ToList();
        var gap = times.Zip(times.Skip(1), (a, b) => b - a).Max();
        Assert.InRange(gap.TotalSeconds, 30, 30.5);
    }

    [Fact]
    public void Write_BeginAndOutages_LeaveOutTheirFramesOnly()
    {
        var all = Write([Make.Quiet()], FourCycles);
        var contact = all.Truths[1].Contact!.Value;
        var begin = contact.AddSeconds(10);
        (DateTimeOffset From, DateTimeOffset To) outage = (all.Truths[2].Contact!.Value.AddSeconds(-3), all.Truths[2].Contact!.Value.AddSeconds(4));
        var less = Write([Make.Quiet()], FourCycles with { Begin = begin, Outages = [outage] });
        var expected = all.Text.Split('\n', StringSplitOptions.RemoveEmptyEntries).Skip(1).Where(line =>
            DateTimeOffset.Parse(line[..24], CultureInfo.InvariantCulture) is var time && time >= begin && !(time >= outage.From && time < outage.To));
        Assert.Equal(expected, less.Text.Split('\n', StringSplitOptions.RemoveEmptyEntries).Skip(1));
        Assert.Equal(all.Truth, less.Truth);
    }

    [Fact]
    public void Write_EndByTime_StopsThere()
    {
        var options = new RecordingOptions { End = Make.Start.AddMinutes(2), Interval = TimeSpan.FromSeconds(1) };
        Assert.Equal(120, Rows(Write([Make.Quiet()], options).Text).Count);
    }

    [Fact]
    public void Validate_SaysWhatWouldBeRight()
    {
        Assert.Contains("Cycles or End", Assert.Throws<ArgumentException>(() => new RecordingOptions().Validate()).Message, StringComparison.Ordinal);
        Assert.Throws<ArgumentException>(() => (FourCycles with { Interval = TimeSpan.Zero }).Validate());
        Assert.Throws<ArgumentException>(() => (FourCycles with { Jitter = 0.5 }).Validate());
        Assert.Throws<ArgumentException>(() => (FourCycles with { LossChance = 2 }).Validate());
    }

    private static (string Text, string Truth, IReadOnlyList<SawTruth> Truths) Write(IReadOnlyList<VirtualSawOptions> saws, RecordingOptions options)
    {
        using var text = new StringWriter();
        using var truth = new StringWriter();
        var truths = RecordingGenerator.Write(saws, options, text, truth);
        return (text.ToString(), truth.ToString(), truths);
    }

    private static List<string[]> Rows(string csv) => [.. csv.Split('\n', StringSplitOptions.RemoveEmptyEntries).Skip(1).Select(line => line.Split(','))];
}
