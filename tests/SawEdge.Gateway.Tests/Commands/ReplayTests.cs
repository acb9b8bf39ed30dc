using System.CommandLine;
using System.Globalization;
using System.IO.Compression;
using System.Text;
using SawEdge.Core;
using SawEdge.Core.Alarms;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition.Recordings;
using SawEdge.Gateway.Commands;
using SawEdge.Gateway.Commands.Alarms.Backtest;
using SawEdge.Gateway.Commands.Export;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Export;
using SawEdge.Gateway.History;
using SawEdge.Simulator.Demo;
using SawEdge.Simulator.Recordings;
using SawEdge.Simulator.Saws;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Commands;

/// <summary>Recordings of virtual saws through the command and the live code.</summary>
public sealed class ReplayTests : IDisposable
{
    private readonly TempFolder _folder = new();
    private readonly string[] _lines;
    private readonly IReadOnlyList<SawTruth> _truths;

    public ReplayTests()
    {
        var plant = Plant.Create(new DateTimeOffset(2026, 3, 2, 6, 0, 0, TimeSpan.Zero));
        var text = new StringWriter();
        _truths = RecordingGenerator.Write([.. plant.Saws.Select(saw => saw.Options)], new RecordingOptions { Cycles = 8, Interval = TimeSpan.FromMilliseconds(200), IdleMargin = TimeSpan.FromSeconds(20) }, text);
        _lines = text.ToString().Split('\n', StringSplitOptions.RemoveEmptyEntries);
        File.WriteAllText(_folder.File("jobs.csv"), plant.JobList);
    }

    public void Dispose() => _folder.Dispose();

    [Fact]
    public async Task Replay_VirtualSaws_EveryCycleIsRecorded()
    {
        await File.WriteAllLinesAsync(_folder.File("all.csv"), _lines);
        var cycles = await ReplayAsync("out", _folder.File("all.csv"));

        var rows = Encoding.UTF8.GetString(cycles).Split('\n', StringSplitOptions.RemoveEmptyEntries);
        Assert.Equal(string.Join(',', CycleColumns.All.Select(column => column.Name)), rows[0]);
        var counts = rows.Skip(1).CountBy(row => row.Split(',')[1]).ToDictionary();
        Assert.Equal(_truths.CountBy(truth => truth.Saw).ToDictionary(), counts);
        var starts = rows.Skip(1).Select(row => row.Split(',')[2]).ToList();
        Assert.Equal(starts.Order(StringComparer.Ordinal), starts);

        var history = HistoryReader.OpenFolder(_folder.File("out"));
        Assert.Equal(rows.Length - 1, await history.CountAsync(CycleFilter.All));
    }

    /// <summary>The virtual saws' faults raise alarms; what is written is what 'export alarms' makes of the replay's history, and what a backtest counts.</summary>
    [Fact]
    public async Task Replay_VirtualSawsWithFaults_WritesTheAlarmsThatTheRulesRaise()
    {
        await File.WriteAllLinesAsync(_folder.File("all.csv"), _lines);
        await ReplayAsync("out", _folder.File("all.csv"));

        var rows = (await File.ReadAllTextAsync(Path.Combine(_folder.File("out"), "alarms.csv"))).Split('\n', StringSplitOptions.RemoveEmptyEntries);
        Assert.Equal(string.Join(',', ExportTables.Alarms.Columns.Select(column => column.Name)), rows[0]);
        Assert.True(rows.Length > 2, string.Join('\n', rows));
        var raised = rows.Skip(1).Select(row => row.Split(',')).Select(row => $"{row[1]} {row[3]}").ToList();

        // The same conditions through the same board, put together another way.
        var options = new GatewayOptions { Site = "s", Gateway = "g", DataFolder = "", Saws = [], Alarms = new AlarmOptions { Rules = DefaultRules.All } };
        var jobs = await ReplayRun.ReadJobsAsync(_folder.File("jobs.csv"), options.Catalogue, _ => { }, CancellationToken.None);
        await using var set = await RecordingSet.OpenAsync([_folder.File("all.csv")], new RecordingProblems());
        var life = new TriedLife(options.Alarms.Rules, [], new AlarmBoardSettings { Quantity = (value, unit) => $"{value} {unit}" }, answerAfter: null);
        life.Run(await new RecordingPast(options, jobs, null, null).RunAsync(set, CancellationToken.None), CancellationToken.None);
        Assert.Equal(life.Events.Select(happened => happened.Alarm).OfType<Alarm>().DistinctBy(alarm => alarm.Number).OrderBy(alarm => alarm.RaisedAt).Select(alarm => $"{alarm.Rule} {alarm.Subject.Name}"), raised);

        var exported = new StringWriter();
        var root = new RootCommand { ExportCommand.Create() };
        var copy = _folder.File("exported.csv");
        Assert.Equal(0, await root.Parse(["export", "alarms", "--data", _folder.File("out"), "--out", copy]).InvokeAsync(new InvocationConfiguration { Output = exported, Error = exported }));
        Assert.Equal(await File.ReadAllTextAsync(Path.Combine(_folder.File("out"), "alarms.csv")), await File.ReadAllTextAsync(copy));
    }

    [Fact]
    public async Task Replay_SameFramesInOtherFiles_GivesTheSameBytes()
    {
        await File.WriteAllLinesAsync(_folder.File("all.csv"), _lines);
        var expected = await ReplayAsync("out-1", _folder.File("all.csv"));
        Assert.Equal(expected, await ReplayAsync("out-2", _folder.File("all.csv")));
        var samples = await SamplesAsync("out-1");
        Assert.True(samples.Count > 100);

        // A file a saw, packed, columns turned round, CRLF, a mark in front; and the whole cut into three by time.
        foreach (var saw in _lines.Skip(1).GroupBy(line => line.Split(',')[1]))
        {
            using var packed = new StreamWriter(new GZipStream(File.Create(_folder.File($"{saw.Key}.csv.gz")), CompressionLevel.Fastest), new UTF8Encoding(encoderShouldEmitUTF8Identifier: true)) { NewLine = "\r\n" };
            foreach (var line in saw.Prepend(_lines[0]))
                packed.WriteLine(string.Join(',', line.Split(',').Reverse()));
        }

        var third = (_lines.Length - 1) / 3;
        for (var part = 0; part < 3; part++)
            await File.WriteAllLinesAsync(_folder.File(string.Create(CultureInfo.InvariantCulture, $"part-{9 - part}.csv")), _lines.Skip(1 + (part * third)).Take(part < 2 ? third : int.MaxValue).Prepend(_lines[0]));

        Assert.Equal(expected, await ReplayAsync("out-3", _folder.File("*.csv.gz")));
        Assert.Equal(expected, await ReplayAsync("out-4", _folder.File("part-9.csv"), _folder.File("part-7.csv"), _folder.File("part-8.csv")));
        foreach (var other in (string[])["out-2", "out-3", "out-4"])
        {
            Assert.Equal(samples, await SamplesAsync(other));
            Assert.Equal(await File.ReadAllTextAsync(Path.Combine(_folder.File("out-1"), "alarms.csv")), await File.ReadAllTextAsync(Path.Combine(_folder.File(other), "alarms.csv")));
        }
    }

    /// <summary>The same frames as another logger would have written them: other names, semicolons, decimal commas, local times, states in place of flags.</summary>
    [Fact]
    public async Task Replay_TheSameFramesInTheFormOfAnotherLogger_GivesTheSameCycles()
    {
        await File.WriteAllLinesAsync(_folder.File("all.csv"), _lines);
        var expected = await ReplayAsync("out-own", _folder.File("all.csv"));

        var names = _lines[0].Split(',');
        var berlin = TimeZoneInfo.FindSystemTimeZoneById("Europe/Berlin");
        string Foreign(string value, string name) => name switch
        {
            "time" => TimeZoneInfo.ConvertTime(DateTimeOffset.Parse(value, CultureInfo.InvariantCulture), berlin).ToString("dd.MM.yyyy HH:mm:ss,fff", CultureInfo.InvariantCulture),
            "cutting" or "cycle_active" => value switch { "true" => "ON", "false" => "OFF", _ => "" },
            _ when SignalInfo.TryFind(name, out var info) && info.Kind == SignalKind.Number => value.Replace('.', ','),
            _ => value,
        };
        await File.WriteAllLinesAsync(_folder.File("foreign.csv"), _lines.Skip(1).Select(line => string.Join(';', line.Split(',').Select((value, i) => Foreign(value, names[i])))).Prepend(string.Join(';', names.Select(name => $"\"The {name}\""))));
        var signals = string.Join(", ", names.Except(["time", "saw"]).Select(name => $$"""
            "{{name}}": { "column": "The {{name}}"{{(name is "cutting" or "cycle_active" ? ", \"values\": [ \"ON\" ]" : "")}} }
            """));
        var saws = string.Join(", ", _truths.Select(truth => truth.Saw).Distinct().Select(saw => $$"""
            { "name": "{{saw}}", "source": "recording", "timeColumn": "The time", "timeFormat": "dd.MM.yyyy HH:mm:ss,fff", "separator": ";", "decimal": ",", "sawColumn": "The saw", "signals": { {{signals}} } }
            """));
        await File.WriteAllTextAsync(_folder.File("sawedge.json"), $$"""{ "site": "Riverbend", "gateway": "g", "dataFolder": "data", "timeZone": "Europe/Berlin", "saws": [ {{saws}} ] }""");

        Assert.Equal(expected, await ReplayAsync("out-foreign", _folder.File("foreign.csv"), "--config", _folder.File("sawedge.json")));
    }

    private async Task<List<string>> SamplesAsync(string folder)
    {
        var samples = new List<string>();
        await foreach (var (saw, sample) in HistoryReader.OpenFolder(_folder.File(folder)).SamplesAsync(SampleFilter.All))
            samples.Add($"{saw} {sample.From:O} {sample.Every} {sample.Frames} {string.Join(' ', sample.Figures.ToArray())}");
        return samples;
    }

    private async Task<byte[]> ReplayAsync(string folder, params string[] inputs)
    {
        var error = new StringWriter();
        var root = new RootCommand { ReplayCommand.Create((settings, options, cancellation) => ReplayRun.StartAsync(settings, options, TimeProvider.System, error.WriteLine, cancellation), TimeProvider.System) };
        var code = await root.Parse(["replay", "--input", .. inputs, "--out", _folder.File(folder), "--jobs", _folder.File("jobs.csv")])
            .InvokeAsync(new InvocationConfiguration { Output = TextWriter.Null, Error = error });
        Assert.Equal((0, ""), (code, error.ToString()));
        return await File.ReadAllBytesAsync(Path.Combine(_folder.File(folder), "cycles.csv"));
    }
}
