using System.Globalization;
using System.Text;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition.Recordings;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Tests.Configuration;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Acquisition.Recordings;

/// <summary>Recordings that other loggers wrote, read by what the configuration says of their columns.</summary>
public sealed class MappedRecordingTests
{
    private const string German = """
        "timeColumn": "Zeitstempel", "timeFormat": "dd.MM.yyyy HH:mm:ss,fff", "separator": ";", "decimal": ",", "skipRows": 1,
        "signals": { "head_position": { "column": "Höhe", "unit": "cm" }, "motor_load": { "column": "Leistung", "unit": "percent of rated" },
          "cutting": { "column": "Zustand", "values": [ "3", "SÄGEN" ] }, "part_count": { "column": "Stück" }, "job": { "column": "Auftrag" } }
        """;

    private readonly RecordingProblems _problems = new();

    [Fact]
    public async Task Read_ALogInAnotherTongueAndOtherUnits_BecomesFrames()
    {
        const string Log = "\uFEFFAuftrag;\"Höhe\"; Zeitstempel ;Leistung;Zustand;Stück;Bemerkung\r\n;cm;;%;;;\r\n"
            + "\"A;1\";12,5;02.03.2026 07:00:00,250;50;SÄGEN;7;\r\n"
            + "A-2;;02.03.2026 07:00:00,350;-3,5;4;;\"ein \"\"Wort\"\"\"\r\n"
            + ";;;;;;\r\n";
        var rows = await ReadAsync(Log, German);
        Assert.Empty(_problems.All);
        Assert.Equal(2, rows.Count);
        var (first, second) = (rows[0].Frame, rows[1].Frame);
        Assert.Equal("saw-3", rows[0].Saw);

        // 07:00 in Berlin in March is 06:00 UTC.
        Assert.Equal(new DateTimeOffset(2026, 3, 2, 6, 0, 0, 250, TimeSpan.Zero), first.Time);
        Assert.Equal((125.0, 2.75, true, 7.0, "A;1"), (first.Number(Signal.HeadPosition), first.Number(Signal.MotorLoad), first.Flag(Signal.Cutting), first.Number(Signal.PartCount), first.Text(Signal.Job)));
        Assert.Equal(SignalQuality.NotRead, second.QualityOf(Signal.HeadPosition));
        Assert.Equal(SignalQuality.NotRead, second.QualityOf(Signal.PartCount));
        Assert.Equal((-0.1925, false), (Math.Round(second.Number(Signal.MotorLoad), 9), second.Flag(Signal.Cutting)));
    }

    [Theory]
    [InlineData("tab", ".", "2026-03-02T06:00:00.25Z\t4\t1", null)]
    [InlineData("|", ".", "1772431200.25|4|1", null)]
    [InlineData(";", ",", "1772431200,25;4,0;1", null)]
    [InlineData(",", ".", "1772431200250,4.0,true", null)]
    [InlineData(",", ".", "2026-03-02 07:00:00.250,4,TRUE", null)]
    [InlineData(",", ".", "03/02/26 07:00:00.250 AM,4,1", "MM/dd/yy hh:mm:ss.fff tt")]
    [InlineData(",", ".", "2026-03-02 01:00:00.250 -05:00,4,1", "yyyy-MM-dd HH:mm:ss.fff zzz")]
    public async Task Read_FormsOfTimesAndNumbers_GiveTheSameFrame(string separator, string point, string row, string? format)
    {
        var between = separator == "tab" ? "\t" : separator;
        var rows = await ReadAsync($"t{between}x{between}c\n{row}\n", $$"""
            "timeColumn": "t", {{(format is null ? "" : $"\"timeFormat\": \"{format}\",")}} "separator": "{{separator}}", "decimal": "{{point}}",
            "signals": { "head_position": { "column": "x", "unit": "in" }, "cutting": { "column": "c" } }
            """);
        Assert.Empty(_problems.All);
        var frame = Assert.Single(rows).Frame;
        Assert.Equal(new DateTimeOffset(2026, 3, 2, 6, 0, 0, 250, TimeSpan.Zero), frame.Time);
        Assert.Equal((101.6, true), (frame.Number(Signal.HeadPosition), frame.Flag(Signal.Cutting)));
    }

    [Fact]
    public async Task Read_DateAndTimeInTwoColumnsBelowAPreamble_AreTakenTogether()
    {
        var rows = await ReadAsync("Logger 7;\"v1\n\nDate;Time;Pos\n02.03.2026;07:00:00;4\n02.03.2026;07:00:01;5\n", """
            "timeColumn": "Time", "dateColumn": "Date", "timeFormat": "dd.MM.yyyy HH:mm:ss", "separator": ";", "headerLine": 3,
            "signals": { "head_position": { "column": "Pos" } }
            """);
        Assert.Empty(_problems.All);
        Assert.Equal(["06:00:00", "06:00:01"], rows.Select(row => row.Frame.Time.ToString("HH:mm:ss", CultureInfo.InvariantCulture)));
    }

    /// <summary>Berlin leaves summer time at 03:00 on 25 October 2026: 02:00 to 03:00 comes twice.</summary>
    [Fact]
    public async Task Read_TheHourThatComesTwice_IsTheSecondOneOnceTimesFallBack()
    {
        string[] times = ["01:59", "02:00", "02:30", "02:59", "02:00", "02:30", "02:59", "03:00"];
        var rows = await ReadAsync("t,x\n" + string.Concat(times.Select(time => $"2026-10-25 {time},1\n")), """
            "timeColumn": "t", "timeFormat": "yyyy-MM-dd HH:mm", "signals": { "head_position": { "column": "x" } }
            """.Replace("HH:mm\"", "HH:mm:ss\"", StringComparison.Ordinal), text => text.Replace(",1\n", ":00,1\n", StringComparison.Ordinal));
        Assert.Empty(_problems.All);
        Assert.Equal(["23:59", "00:00", "00:30", "00:59", "01:00", "01:30", "01:59", "02:00"], rows.Select(row => row.Frame.Time.ToString("HH:mm", CultureInfo.InvariantCulture)));
    }

    [Fact]
    public async Task Read_SeveralSawsInOneFile_GoByTheirColumn()
    {
        var saws = $$"""
            { "name": "north", "source": "recording", "timeColumn": "t", "sawColumn": "Machine", "sawValue": "SAW 1", "signals": { "head_position": { "column": "x" }, "motor_load": { "column": "p" } } },
            { "name": "south", "source": "recording", "timeColumn": "t", "sawColumn": "Machine", "signals": { "head_position": { "column": "x", "unit": "cm" }, "motor_load": { "column": "p" } } }
            """;
        var rows = await ReadWithAsync("any.csv", "t,Machine,x,p\n2026-03-02T06:00:00Z,SAW 1,4,1\n2026-03-02T06:00:00Z,south,4,1\n2026-03-02T06:00:00Z,east,4,1\n2026-03-02T06:00:01Z,east,4,1\n", saws);
        Assert.Equal(["north 4", "south 40"], rows.Select(row => $"{row.Saw} {row.Frame.Number(Signal.HeadPosition)}"));
        var problem = Assert.Single(_problems.All);
        Assert.Equal((2, "any.csv:4: Machine: no saw of the configuration is 'east' here; its rows are left out. Known are: SAW 1, south."), (problem.Count, problem.ToString()));
    }

    [Fact]
    public async Task Read_SawsOfTheSameColumns_GoByTheNameOfTheFileOrBySaw()
    {
        var saws = string.Join(',', new[] { "north", "south" }.Select(name => $$"""{ "name": "{{name}}", "source": "recording", "timeColumn": "t", "signals": { "head_position": { "column": "x" } } }"""));
        const string Log = "t,x\n2026-03-02T06:00:00Z,4\n";
        Assert.Equal("south", Assert.Single(await ReadWithAsync("logs/south.2026-03.csv", Log, saws)).Saw);
        Assert.Equal("north", Assert.Single(await ReadWithAsync("any.csv", Log, saws, "north")).Saw);
        var e = await Assert.ThrowsAsync<RecordingException>(() => ReadWithAsync("any.csv", Log, saws));
        Assert.Equal("any.csv: its columns fit the saws 'north', 'south'; which one is it about? Name one with --saw, or the file after it.", e.Message);
    }

    [Fact]
    public async Task Read_ARecordingOfTheGatewaysOwn_ReadsAsEver()
    {
        var own = "time,saw,head_position,motor_load\n2026-03-02T06:00:00.000Z,saw-3,12.5,1\n";
        Assert.Equal(12.5, Assert.Single(await ReadAsync(own, German)).Frame.Number(Signal.HeadPosition));

        // Even where the logger's names are the gateway's: the name of the file tells it.
        const string SameNames = """ "timeColumn": "time", "signals": { "head_position": { "column": "head_position", "unit": "in" }, "motor_load": { "column": "motor_load" } } """;
        Assert.Equal(12.5, Assert.Single(await ReadWithAsync("recording-2026-03-02T060000Z.csv", own, Saw(SameNames))).Frame.Number(Signal.HeadPosition));
        Assert.Equal(317.5, Assert.Single(await ReadWithAsync("log.csv", own, Saw(SameNames))).Frame.Number(Signal.HeadPosition));
    }

    [Fact]
    public async Task Read_HeaderOfAnOldProgram_IsRead()
    {
        var bytes = Encoding.Latin1.GetBytes("Zeitstempel;Höhe;Leistung;Zustand;Stück;Auftrag\n;;;;;\n02.03.2026 07:00:00,250;1;;;;\n");
        Assert.Equal(10, Assert.Single(await ReadAsync(bytes, "log.csv", Saw(German))).Frame.Number(Signal.HeadPosition));
    }

    [Theory]
    [InlineData("Zeitstempel,Höhe,Leistung,Zustand,Stück,Auftrag\n", "log.csv: the header is one column with ';' as the separator, and it holds ',': write \"separator\": \",\" for saw 'saw-3'.")]
    [InlineData("Zeitstempel;Hoehe;Leistung;Zustand;Stück;Auftrag\n", "log.csv: there is no column 'Höhe' (signals.head_position of saw 'saw-3'). Is 'Hoehe' meant? The columns are: Zeitstempel, Hoehe, Leistung, Zustand, Stück, Auftrag.")]
    [InlineData("Zeit;Höhe;Leistung\n", "log.csv: there is no column 'Zeitstempel' (timeColumn of saw 'saw-3'). The columns are: Zeit, Höhe, Leistung.")]
    [InlineData("Zeitstempel;Höhe;Leistung;Leistung;Zustand;Stück;Auftrag\n", "log.csv: the column 'Leistung' is there 2 times; which one is meant for signals.motor_load of saw 'saw-3'? Leave it once.")]
    [InlineData("", "log.csv: the file is empty; its first line should be time,saw and signal names, separated by commas.")]
    public async Task Open_AHeaderThatDoesNotFit_IsSaidInOneSentence(string header, string message)
    {
        var e = await Assert.ThrowsAsync<RecordingException>(() => ReadAsync(header, German));
        Assert.Equal(message, e.Message);
    }

    [Fact]
    public async Task Read_WrongValues_CostThemselvesOnlyAndAreSaidOnceEach()
    {
        const string Head = "Zeitstempel;Höhe;Leistung;Zustand;Stück;Auftrag\n\n";
        const string Time = "02.03.2026 07:00:0";
        var log = Head + $"{Time}0,000;1.234;1;3;1;A\n{Time}1,000;1.234,5;1;3;1;A\n{Time}2,000;viel;1;3;1,5;A\n2026-03-02 07:00:03;1;1;3;1;A\n{Time}4,000;1;1\n{Time}4,000;1;1;3;1;A;1\n{Time}4,500;1;1;3;1;A\n{Time}4,500;1;1;3;1;A\n{Time}4,100;1;1;3;1;A\n";
        var rows = await ReadAsync(log, German.Replace("\"skipRows\": 1,", "", StringComparison.Ordinal));
        Assert.Equal(6, rows.Count);
        Assert.All(rows.Take(3), row => Assert.Equal(SignalQuality.Invalid, row.Frame.QualityOf(Signal.HeadPosition)));
        Assert.Equal(SignalQuality.Invalid, rows[2].Frame.QualityOf(Signal.PartCount));
        Assert.Equal(
            [
                "3 log.csv:3: Höhe: '1.234' is not a number (head_position of saw 'saw-3'); the value is marked invalid. '.' is taken for neither: nothing may stand between thousands, and before decimals ',' is expected.",
                "1 log.csv:5: Stück: '1,5' is not a whole number (part_count of saw 'saw-3'); the value is marked invalid.",
                "1 log.csv:6: Zeitstempel: '2026-03-02 07:00:03' is no time that is written as 'dd.MM.yyyy HH:mm:ss,fff'; the row is left out.",
                "2 log.csv:7: the row has 3 fields where the header has 6; the row is left out.",
                "2 log.csv:10: the time of 'saw-3' is not later than the row before; times should rise for each saw.",
            ],
            _problems.All.Select(problem => string.Create(CultureInfo.InvariantCulture, $"{problem.Count} {problem}")));
    }

    [Fact]
    public async Task Read_DecimalCommasBetweenCommas_AreSaid()
    {
        var rows = await ReadAsync("t,x\n2026-03-02T06:00:00Z,12,5\n2026-03-02T06:00:01Z,12\n2026-03-02T06:00:02Z,\"12,5\"\n", """ "timeColumn": "t", "signals": { "head_position": { "column": "x" } } """);
        Assert.Equal(2, rows.Count);
        Assert.Equal(
            [
                "log.csv:2: the row has 3 fields where the header has 2; the row is left out. Where decimals are written with ',', the separator must be another one, or such numbers stand in double quotes.",
                "log.csv:4: x: '12,5' is not a number (head_position of saw 'saw-3'); the value is marked invalid. If ',' stands before the decimals, write \"decimal\": \",\".",
            ],
            _problems.All.Select(problem => problem.ToString()));
    }

    [Fact]
    public async Task Read_AnotherHeaderInTheMiddle_CountsFromThereOn()
    {
        const string Settings = """ "timeColumn": "t", "signals": { "head_position": { "column": "x" }, "motor_load": { "column": "p" } } """;
        var rows = await ReadAsync("t,x,p\n2026-03-02T06:00:00Z,1,2\nt,x,p\n2026-03-02T06:00:01Z,1,2\np,new,x,t\n2,9,1,2026-03-02T06:00:02Z\nt,x\n2026-03-02T06:00:03Z,1\nt,p,x\n2026-03-02T06:00:04Z,2,1\n", Settings);
        Assert.Equal([0, 1, 2, 4], rows.Select(row => row.Frame.Time.Second));
        Assert.All(rows, row => Assert.Equal((1.0, 2.0), (row.Frame.Number(Signal.HeadPosition), row.Frame.Number(Signal.MotorLoad))));
        var problem = Assert.Single(_problems.All);
        Assert.Equal((4, 3), (problem.Count, problem.Line));
    }

    [Fact]
    public async Task Read_OwnRecordingsPutTogether_AreReadByTheirHeaders()
    {
        var rows = await Recorded.ReadAsync("time,saw,head_position,motor_load\n2026-03-02T06:00:00Z,s,1,2\nmotor_load,time,saw,head_position\n2,2026-03-02T06:00:01Z,s,1\ntime,saw,motor_load\n2026-03-02T06:00:02Z,s,2\ntime,saw\n2026-03-02T06:00:03Z,s\n", _problems);
        Assert.Equal([0, 1, 2], rows.Select(row => row.Frame.Time.Second));
        Assert.All(rows, row => Assert.Equal(2.0, row.Frame.Number(Signal.MotorLoad)));
        Assert.Equal(3, _problems.All[0].Count);
    }

    [Fact]
    public async Task Read_ArbitraryBytesUnderAGoodHeader_NeverThrow()
    {
        var random = new Random(7);
        var likely = ";,\"\n\r.0159:Zt "u8.ToArray();
        for (var run = 0; run < 300; run++)
        {
            var bytes = new byte[random.Next(0, 3000)];
            for (var i = 0; i < bytes.Length; i++)
                bytes[i] = random.Next(4) == 0 ? (byte)random.Next(256) : likely[random.Next(likely.Length)];
            byte[] all = [.. Encoding.UTF8.GetBytes("Zeitstempel;Höhe;Leistung;Zustand;Stück;Auftrag\n\n"), .. bytes];
            await ReadAsync(all, "log.csv", Saw(German));
        }
    }

    [Theory]
    [InlineData("\"timeColumn\": \"t\", \"separator\": \",\", \"decimal\": \",\"", "is both between columns and before decimals")]
    [InlineData("\"timeColumn\": \"t\", \"timeFormat\": \"HH:mm:ss\"", "is no pattern of a whole time")]
    [InlineData("\"timeColumn\": \"t\", \"separator\": \"::\"", "is not known")]
    [InlineData("\"timeColumn\": \"t\", \"sawValue\": \"x\"", "goes with \"sawColumn\"")]
    [InlineData("\"timeColumn\": \"t\", \"dateColumn\": \"d\"", "goes with \"timeFormat\"")]
    [InlineData("\"separator\": \";\"", "is missing; write for example \"Pos\"")]
    [InlineData("\"timeColumn\": \"t\", \"unit\": 1", "belongs to source \"modbus\"; here source is \"recording\"")]
    public void Load_AMistake_IsSaid(string members, string message)
    {
        var loaded = Load(Saw($$"""{{members}}, "signals": { "head_position": { "column": "x" }, "motor_load": { "column": "p" } }"""));
        Assert.Contains(message, Assert.Single(loaded.Findings).Message, StringComparison.Ordinal);
    }

    private static string Saw(string source) => $$"""{ "name": "saw-3", "source": "recording", "machine": { "ratedPower": "5.5 kW" }, {{source}} }""";

    private static LoadedConfiguration Load(string saws)
    {
        using var folder = new TempFolder();
        var file = folder.File("sawedge.json");
        File.WriteAllText(file, $$"""{ "site": "Riverbend", "gateway": "g", "dataFolder": "data", "timeZone": "Europe/Berlin", "saws": [ {{saws}} ] }""");
        return ConfigurationFile.Load(file, Sample.NoEnvironment);
    }

    private Task<List<RecordedFrame>> ReadAsync(string log, string source, Func<string, string>? change = null) => ReadWithAsync("log.csv", change is null ? log : change(log), Saw(source));

    private Task<List<RecordedFrame>> ReadWithAsync(string name, string log, string saws, string? defaultSaw = null) => ReadAsync(Encoding.UTF8.GetBytes(log), name, saws, defaultSaw);

    private async Task<List<RecordedFrame>> ReadAsync(byte[] log, string name, string saws, string? defaultSaw = null)
    {
        var layouts = new RecordingLayouts(Load(saws).Options());
        await using var reader = await RecordingReader.OpenAsync(name, new MemoryStream(log), _problems, defaultSaw, layouts);
        return await Recorded.ReadAsync(reader);
    }
}
