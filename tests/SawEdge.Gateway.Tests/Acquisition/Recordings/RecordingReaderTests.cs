using System.Text;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition.Recordings;

namespace SawEdge.Gateway.Tests.Acquisition.Recordings;

public class RecordingReaderTests
{
    private const string Everything =
        """
        time,saw,head_position,motor_load,blade_speed,cycle_active,cutting,blade_running,fault_code,mode,job,part_count,bar_id,blade_id,blade_deviation,scrap_count
        2026-03-02T06:00:00.000Z,saw-1,250.5,1.25,70,true,false,1,0,automatic,J-100,41,B7,BL-3,-0.05,2
        2026-03-02T06:00:00.100Z,saw-1,,,,,,,,,,,,,,
        """;

    [Fact]
    public async Task TryRead_EverySignal_IsRead()
    {
        var frames = await Recorded.ReadAsync(Everything);

        Assert.Equal(2, frames.Count);
        var frame = frames[0].Frame;
        Assert.Equal("saw-1", frames[0].Saw);
        Assert.Equal(new DateTimeOffset(2026, 3, 2, 6, 0, 0, TimeSpan.Zero), frame.Time);
        Assert.Equal(250.5, frame.Number(Signal.HeadPosition));
        Assert.Equal(1.25, frame.Number(Signal.MotorLoad));
        Assert.Equal(70, frame.Number(Signal.BladeSpeed));
        Assert.True(frame.Flag(Signal.CycleActive));
        Assert.False(frame.Flag(Signal.Cutting));
        Assert.True(frame.Flag(Signal.BladeRunning));
        Assert.Equal(0, frame.Number(Signal.FaultCode));
        Assert.Equal("automatic", frame.Text(Signal.Mode));
        Assert.Equal("J-100", frame.Text(Signal.Job));
        Assert.Equal(41, frame.Number(Signal.PartCount));
        Assert.Equal("B7", frame.Text(Signal.BarId));
        Assert.Equal("BL-3", frame.Text(Signal.BladeId));
        Assert.Equal(-0.05, frame.Number(Signal.BladeDeviation));
        Assert.Equal(2, frame.Number(Signal.ScrapCount));
    }

    [Fact]
    public async Task TryRead_EmptyFields_AreNotRead()
    {
        var frames = await Recorded.ReadAsync(Everything);
        Assert.All(SignalInfo.All, info => Assert.Equal(SignalQuality.NotRead, frames[1].Frame.QualityOf(info.Signal)));
    }

    [Theory]
    [InlineData("\n", false, false)]
    [InlineData("\r\n", false, true)]
    [InlineData("\n", true, true)]
    [InlineData("\r\n", true, false)]
    public async Task TryRead_LineEndsAndByteOrderMark_MakeNoDifference(string lineEnd, bool mark, bool lastLineEnds)
    {
        var problems = new RecordingProblems();
        var text = Everything.ReplaceLineEndings(lineEnd) + (lastLineEnds ? lineEnd : "");
        var bytes = Encoding.UTF8.GetBytes((mark ? "\uFEFF" : "") + text);

        var frames = await Recorded.ReadAsync(bytes, problems);

        var plain = await Recorded.ReadAsync(Everything);
        Assert.Equal(plain.Select(Recorded.Show), frames.Select(Recorded.Show));
        Assert.Empty(problems.All);
    }

    [Fact]
    public async Task TryRead_SignalsInAnyOrder_AreFoundByName()
    {
        var frames = await Recorded.ReadAsync("motor_load,saw,job,time,head_position\n1.5,s,J,2026-03-02T07:00:00+01:00,99\n");
        Assert.Equal("s 2026-03-02T06:00:00.0000000+00:00 head_position=4058C00000000000 motor_load=3FF8000000000000 job='J'", Assert.Single(frames).Show());
    }

    // RFC 4180, section 2, rules 5 to 7: quoted fields, with a comma, a line break and doubled quotes inside.
    [Fact]
    public async Task TryRead_QuotedFields_FollowRfc4180()
    {
        var problems = new RecordingProblems();
        var frames = await Recorded.ReadAsync(
            "time,saw,\"job\",mode\r\n\"2026-03-02T06:00:00Z\",\"saw, left\",\"6\"\" pipe\",\"b\r\nbb\"\r\n2026-03-02T06:00:01Z,s,\"\",x\r\n", problems);

        Assert.Empty(problems.All);
        Assert.Equal(2, frames.Count);
        Assert.Equal("saw, left", frames[0].Saw);
        Assert.Equal("6\" pipe", frames[0].Frame.Text(Signal.Job));
        Assert.Equal("bbb", frames[0].Frame.Text(Signal.Mode));
        Assert.Equal(SignalQuality.NotRead, frames[1].Frame.QualityOf(Signal.Job));
    }

    [Theory]
    [InlineData("True", true)]
    [InlineData("TRUE", true)]
    [InlineData("1.0", true)]
    [InlineData("False", false)]
    [InlineData(" 0 ", false)]
    [InlineData("0.0", false)]
    public async Task TryRead_FlagAsSpreadsheetsWriteIt_IsRead(string text, bool value)
    {
        var problems = new RecordingProblems();
        var frames = await Recorded.ReadAsync($"time,saw,cutting\n2026-03-02T06:00:00Z,s,{text}\n", problems);
        Assert.Equal(value, Assert.Single(frames).Frame.Flag(Signal.Cutting));
        Assert.Empty(problems.All);
    }

    [Fact]
    public async Task TryRead_BlankAndAllEmptyLines_ArePassedOver()
    {
        var problems = new RecordingProblems();
        var frames = await Recorded.ReadAsync("\ntime,saw,cutting\n\n2026-03-02T06:00:00Z,s,1\n,,\n\r\n2026-03-02T06:00:01Z,s,0,,,\n\n", problems);
        Assert.Equal(2, frames.Count);
        Assert.Empty(problems.All);
    }

    [Fact]
    public async Task OpenAsync_NoSawColumn_TakesTheGivenSawOrTheFilesName()
    {
        const string Text = "time,cutting\n2026-03-02T06:00:00Z,1\n";
        var problems = new RecordingProblems();

        Assert.Equal("given", Assert.Single(await Recorded.ReadAsync(Text, problems, "given")).Saw);
        Assert.Empty(problems.All);
        Assert.Equal("saw-4", Assert.Single(await Recorded.ReadAsync(Encoding.UTF8.GetBytes(Text), problems, name: "/data/saw-4.2026-03.csv.gz")).Saw);
        Assert.Contains("'saw-4'", Assert.Single(problems.All).Message, StringComparison.Ordinal);
    }

    [Fact]
    public async Task TryRead_HostileText_IsCleaned()
    {
        var frames = await Recorded.ReadAsync("time,saw,job\n2026-03-02T06:00:00Z,s\u0007aw,\u202Etxt.\u001B[2Jexe\n");
        Assert.Equal("saw", Assert.Single(frames).Saw);
        Assert.Equal("txt.[2Jexe", frames[0].Frame.Text(Signal.Job));
    }

    [Fact]
    public async Task TryRead_LongSession_AllocatesNothingForARow()
    {
        const int Rows = 20_000;
        var text = new StringBuilder("time,saw,head_position,motor_load,cutting,mode,job\n");
        for (var i = 0; i < Rows; i++)
            text.Append(System.Globalization.CultureInfo.InvariantCulture, $"2026-03-02T06:{i / 1000 % 60:00}:{i / 10 % 60:00}.{i % 10}00Z,saw-{i % 3},{250 - (i * 0.01):R},{1.5 + (i % 7)},true,automatic,J-{i / 5000}\n");
        var bytes = Encoding.UTF8.GetBytes(text.ToString());
        await using var reader = await RecordingReader.OpenAsync("test.csv", new MemoryStream(bytes), new RecordingProblems());
        var row = default(RecordedFrame);
        for (var i = 0; i < 100; i++)
            Assert.True(reader.TryRead(ref row));

        var before = GC.GetAllocatedBytesForCurrentThread();
        var read = 100;
        do
        {
            while (reader.TryRead(ref row))
                read++;
        }
        while (await reader.FillAsync());
        var allocated = GC.GetAllocatedBytesForCurrentThread() - before;

        Assert.Equal(Rows, read);
        Assert.InRange(allocated, 0, 20_000);
    }
}
