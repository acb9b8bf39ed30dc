using System.Globalization;
using System.Text;
using CsCheck;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition.Recordings;

namespace SawEdge.Gateway.Tests.Acquisition.Recordings;

public class BrokenRecordingTests
{
    private const string Header = "time,saw,head_position,motor_load,cutting,job,part_count\n";

    [Theory]
    [InlineData("", "the file is empty", "time,saw")]
    [InlineData("\n\n", "the file is empty", "time,saw")]
    [InlineData("2026-03-02T06:00:00Z,s,1\n", "no header of a recording", "time,saw")]
    [InlineData("time;saw;motor_load\n", "no header of a recording", "';'")]
    [InlineData("time\tsaw\tmotor_load\n", "no header of a recording", "tabs")]
    [InlineData("saw,motor_load\n", "no column 'time'", "2026-03-02T06:00:00.000Z")]
    [InlineData("Time,saw,motor_load\n", "no column 'time'", "'Time' should be 'time'")]
    [InlineData("time,saw\n", "no column is a signal", "head_position")]
    [InlineData("time,saw,motor_load,cutting,motor_load\n", "'motor_load' is there 2 times", "once")]
    [InlineData("time,time,motor_load\n", "'time' is there 2 times", "once")]
    [InlineData("\"time,saw,motor_load\n", "no header of a recording", "quotes")]
    [InlineData("PK\u0003\u0004", "zip archive", "gzip")]
    public async Task OpenAsync_NoRecording_OneErrorSaysWhatWouldBeRight(string text, string wrong, string right)
    {
        var e = await Assert.ThrowsAsync<RecordingException>(() => Recorded.ReadAsync(text));
        Assert.StartsWith("test.csv: ", e.Message, StringComparison.Ordinal);
        Assert.Contains(wrong, e.Message, StringComparison.Ordinal);
        Assert.Contains(right, e.Message, StringComparison.Ordinal);
    }

    [Fact]
    public async Task OpenAsync_Utf16_IsNamed()
    {
        var e = await Assert.ThrowsAsync<RecordingException>(() => Recorded.ReadAsync([0xFF, 0xFE, .. Encoding.Unicode.GetBytes(Header)]));
        Assert.Contains("UTF-8", e.Message, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("moter_load", "'motor_load'")]
    [InlineData("Head Position", "'head_position'")]
    [InlineData("headPosition", "'head_position'")]
    [InlineData("temperature", "known are time, saw, head_position")]
    [InlineData("", "column 3 has no name")]
    public async Task OpenAsync_UnknownColumn_OneWarningNamesTheNearest(string column, string expected)
    {
        var problems = new RecordingProblems();
        var frames = await Recorded.ReadAsync($"time,saw,{column},blade_speed\n2026-03-02T06:00:00Z,s,99,70\n2026-03-02T06:00:01Z,s,99,71\n", problems);

        Assert.Equal([70.0, 71.0], frames.Select(row => row.Frame.Number(Signal.BladeSpeed)));
        var problem = Assert.Single(problems.All);
        Assert.Equal(1, problem.Count);
        Assert.StartsWith("test.csv:1: ", problem.ToString(), StringComparison.Ordinal);
        Assert.Contains(expected, problem.Message, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("2026-03-02T06:00:00Z,s,abc,1,true,J,5", Signal.HeadPosition, "head_position: 'abc' is no number")]
    [InlineData("2026-03-02T06:00:00Z,s,9,NaN,true,J,5", Signal.MotorLoad, "motor_load: 'NaN' is no number")]
    [InlineData("2026-03-02T06:00:00Z,s,9,1e999,true,J,5", Signal.MotorLoad, "motor_load: '1e999' is no number")]
    [InlineData("2026-03-02T06:00:00Z,s,9,\"1,5\",true,J,5", Signal.MotorLoad, "motor_load: '1,5' is no number")]
    [InlineData("2026-03-02T06:00:00Z,s,9,1,yes,J,5", Signal.Cutting, "cutting: 'yes' is neither true nor false")]
    [InlineData("2026-03-02T06:00:00Z,s,9,1,true,J,5.5", Signal.PartCount, "part_count: '5.5' is no whole number")]
    [InlineData("2026-03-02T06:00:00Z,s,9,1,true,J,1e300", Signal.PartCount, "part_count: '1e300' is no whole number")]
    public async Task TryRead_BadValue_MarksThatSignalOnly(string row, Signal bad, string message)
    {
        var problems = new RecordingProblems();
        var frames = await Recorded.ReadAsync(Header + row + "\n" + row.Replace("06:00:00", "06:00:01", StringComparison.Ordinal) + "\n", problems);

        Assert.Equal(2, frames.Count);
        var numeric = new[] { Signal.HeadPosition, Signal.MotorLoad, Signal.Cutting, Signal.Job, Signal.PartCount };
        Assert.All(numeric, signal => Assert.Equal(signal == bad ? SignalQuality.Invalid : SignalQuality.Good, frames[0].Frame.QualityOf(signal)));
        var problem = Assert.Single(problems.All);
        Assert.Equal(2, problem.Count);
        Assert.StartsWith($"test.csv:2: {message}", problem.ToString(), StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("yesterday,s,9,1,true,J,5", "time: 'yesterday' is no moment")]
    [InlineData("2026-03-02T06:00:00,s,9,1,true,J,5", "time: '2026-03-02T06:00:00' is no moment")]
    [InlineData(",s,9,1,true,J,5", "time: '' is no moment")]
    [InlineData("2026-03-02T06:00:01Z, ,9,1,true,J,5", "saw: the row names no saw")]
    [InlineData("2026-03-02T06:00:01Z,s,9,1,5,true,J,5", "the row has 8 fields where the header has 7")]
    [InlineData("2026-03-02T06:00:01Z,s,9,1", "the row has 4 fields where the header has 7")]
    [InlineData("2026-03-02T06:00:01Z,s,9,1,true,\"J,5", "a quoted text is not closed")]
    [InlineData("2026-03-02T06:00:01Z,s,9,1,true,\"J\"x,5", "a quoted text is not closed")]
    public async Task TryRead_BrokenRow_CostsThatRowOnly(string broken, string message)
    {
        var problems = new RecordingProblems();
        var text = Header + "2026-03-02T06:00:00Z,s,9,1,true,J,5\n" + broken + "\n2026-03-02T06:00:02Z,s,8,1,true,\"J\",5\n2026-03-02T06:00:03Z,s,7,1,true,J,5\n";

        var frames = await Recorded.ReadAsync(text, problems);

        Assert.Equal([9.0, 8.0, 7.0], frames.Select(row => row.Frame.Number(Signal.HeadPosition)));
        Assert.StartsWith($"test.csv:3: {message}", Assert.Single(problems.All).ToString(), StringComparison.Ordinal);
    }

    [Fact]
    public async Task TryRead_TwoStrayQuotes_CostTheirTwoLinesOnly()
    {
        var problems = new RecordingProblems();
        var rows = Enumerable.Range(0, 60).Select(i => string.Create(CultureInfo.InvariantCulture, $"2026-03-02T06:00:{i:00}Z,s,{i},1,true,{(i is 10 or 40 ? "\"J" : "J")},5"));

        var frames = await Recorded.ReadAsync(Header + string.Join('\n', rows) + "\n", problems);

        Assert.Equal(Enumerable.Range(0, 60).Where(i => i is not (10 or 40)).Select(i => (double)i), frames.Select(row => row.Frame.Number(Signal.HeadPosition)));
        Assert.Equal(2, problems.Count);
        Assert.Equal(12, problems.All[0].Line);
    }

    [Fact]
    public async Task TryRead_QuoteNeverClosedInALongFile_CostsItsLineOnly()
    {
        const int Rows = 5000;
        var text = new StringBuilder(Header);
        for (var i = 0; i < Rows; i++)
            text.Append(CultureInfo.InvariantCulture, $"2026-03-02T{6 + (i / 3600):00}:{i / 60 % 60:00}:{i % 60:00}Z,s,{i},1,true,{(i == 100 ? "\"" : "")}J,5\n");
        var problems = new RecordingProblems();

        var frames = await Recorded.ReadAsync(text.ToString(), problems);

        Assert.Equal(Rows - 1, frames.Count);
        Assert.Equal(102, Assert.Single(problems.All).Line);
    }

    [Fact]
    public async Task TryRead_LineWithoutEnd_IsPassedOver()
    {
        var problems = new RecordingProblems();
        var text = Header + "2026-03-02T06:00:00Z,s,9,1,true,J,5\n" + new string('x', 1_000_000) + "\n2026-03-02T06:00:02Z,s,8,1,true,J,5\n";

        var frames = await Recorded.ReadAsync(text, problems);

        Assert.Equal(2, frames.Count);
        Assert.Equal("line too long", Assert.Single(problems.All).Kind);
        Assert.Equal(3, problems.All[0].Line);
    }

    [Fact]
    public async Task TryRead_TimesThatDoNotRise_AreSaidAndPassedOn()
    {
        var problems = new RecordingProblems();
        var frames = await Recorded.ReadAsync(
            "time,saw,cutting\n2026-03-02T06:00:05Z,a,1\n2026-03-02T06:00:00Z,b,1\n2026-03-02T06:00:04Z,a,1\n2026-03-02T06:00:04Z,a,1\n2026-03-02T06:00:01Z,b,1\n", problems);

        Assert.Equal(5, frames.Count);
        var problem = Assert.Single(problems.All);
        Assert.Equal((4L, 2L), (problem.Line, problem.Count));
        Assert.Contains("'a'", problem.Message, StringComparison.Ordinal);
    }

    [Fact]
    public async Task TryRead_GzipThatBreaksOff_EverythingBeforeIsUsed()
    {
        var random = new Random(7);
        var text = new StringBuilder(Header);
        for (var i = 0; i < 3000; i++)
            text.Append(CultureInfo.InvariantCulture, $"2026-03-02T06:{i / 60:00}:{i % 60:00}Z,s,{i},{random.NextDouble():R},true,J,5\n");
        var whole = Recorded.Gzip(text.ToString());

        var problems = new RecordingProblems();
        var frames = await Recorded.ReadAsync(whole[..(whole.Length * 2 / 3)], problems);

        Assert.InRange(frames.Count, 1900, 2100);
        Assert.Equal(Enumerable.Range(0, frames.Count).Select(i => (double)i), frames.Select(row => row.Frame.Number(Signal.HeadPosition)));
        Assert.Contains("everything before it is used", Assert.Single(problems.All).Message, StringComparison.Ordinal);
    }

    [Fact]
    public async Task TryRead_ArbitraryBytes_NeitherThrowsNorHangs()
    {
        var piece = Gen.OneOf(
            Gen.Byte.Array[0, 30],
            Gen.OneOf("\n", "\r\n", ",", "\"", "\"\"", "2026-03-02T06:00:00Z", "s", "1.5", "true", "\uFEFF", "NaN", "-", "\u202E", "\r").Select(text => Encoding.UTF8.GetBytes(text)));
        await piece.Array[0, 60].SampleAsync(
            async pieces =>
            {
                byte[] body = [.. pieces.SelectMany(bytes => bytes)];
                var problems = new RecordingProblems();
                var frames = await Recorded.ReadAsync([.. Encoding.UTF8.GetBytes(Header), .. body], problems);

                // What follows on a line of its own is found again, whatever came before, unless a quote joins on to it rightly.
                Assert.True(frames.Count <= body.Count(b => b == '\n') + 1);
                try
                {
                    await Recorded.ReadAsync(body, problems);
                }
                catch (RecordingException)
                {
                    // The one error that a file which is no recording may give.
                }
            },
            iter: 10_000);
    }

    [Fact]
    public async Task TryRead_DamagedGzip_NeitherThrowsNorHangs()
    {
        var whole = Recorded.Gzip(Header + string.Concat(Enumerable.Range(0, 200).Select(i => string.Create(CultureInfo.InvariantCulture, $"2026-03-02T06:{i / 60:00}:{i % 60:00}Z,s,{i},{i * 0.37},true,J,5\n"))));
        await Gen.Select(Gen.Int[0, whole.Length - 1], Gen.Byte[1, 255], Gen.Int[0, whole.Length]).SampleAsync(
            async (at, change, length) =>
            {
                var damaged = whole.ToArray();
                damaged[at] ^= change;
                try
                {
                    await Recorded.ReadAsync(damaged[..length]);
                }
                catch (RecordingException)
                {
                    // The header itself was damaged.
                }
            },
            iter: 2_000);
    }
}
