using System.CommandLine;
using Microsoft.Extensions.Time.Testing;
using SawEdge.Core;
using SawEdge.Core.Blades;
using SawEdge.Core.Cycles;
using SawEdge.Gateway.Commands.Alarms;
using SawEdge.Gateway.Commands.Blades;
using SawEdge.Gateway.Commands.Comparing;
using SawEdge.Gateway.Commands.Explain;
using SawEdge.Gateway.Commands.Histories;
using SawEdge.Gateway.Commands.Outbox;
using SawEdge.Gateway.Commands.Status;
using SawEdge.Gateway.Commands.Tokens;
using SawEdge.Gateway.Processing;
using SawEdge.Gateway.Tests.Configuration;
using SawEdge.Gateway.Tests.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Commands;

/// <summary>A gateway's folder with its configuration, for commands that are run as a shell would, at a fixed time in a place an hour ahead of UTC.</summary>
internal sealed class Asked : IDisposable
{
    public static readonly DateTimeOffset Now = new(2026, 3, 9, 12, 0, 0, TimeSpan.Zero);

    private readonly TempFolder _folder = new();
    private readonly FakeTimeProvider _time = new(Now);

    public Asked()
    {
        _time.SetLocalTimeZone(TimeZoneInfo.CreateCustomTimeZone("here", TimeSpan.FromHours(1), "here", "here"));
        File.WriteAllText(ConfigFile, Sample.With(("saws[0].name", "\"north\""), ("saws[1].name", "\"quay\"")));
    }

    public string Data => _folder.File("data");

    public string ConfigFile => _folder.File("sawedge.json");

    /// <summary>The clock that the commands ask.</summary>
    public FakeTimeProvider Time => _time;

    /// <summary>What a person answers to a question; null where nobody can be asked.</summary>
    public Func<string, string?>? Answer { get; set; }

    public RunningHistory Open() => new(Data);

    /// <summary>Writes another configuration beside the first.</summary>
    public string Configure(string name, params (string Path, string? Json)[] changes)
    {
        var file = _folder.File(name);
        File.WriteAllText(file, Sample.With([("saws[0].name", "\"north\""), ("saws[1].name", "\"quay\""), .. changes]));
        return file;
    }

    /// <summary>A file in the same place.</summary>
    public string Beside(string name) => _folder.File(name);

    /// <summary>Stores what a saw has learned, as its processing would.</summary>
    public static Task RememberAsync(RunningHistory history, string saw, long entries, params BladeAccount[] blades) =>
        history.Writer.SaveStateAsync(
            saw,
            MemoryCodec.Encode(new PipelineMemory { Detector = new DetectorMemory(), LastCycleEnd = Now.AddHours(-1), Recorder = new RecorderMemory { Blades = blades } }, entries, 0),
            null,
            CancellationToken.None);

    /// <summary>Runs a command on the configuration and takes everything it says.</summary>
    public (int Code, string[] Output, string[] Error) Run(params string[] arguments) => RunRaw([.. arguments, "--config", ConfigFile]);

    /// <summary>Runs a command as it stands.</summary>
    public (int Code, string[] Output, string[] Error) RunRaw(params string[] arguments)
    {
        using var output = new StringWriter();
        using var error = new StringWriter();
        var root = new RootCommand { BladeCommand.Create(Sample.NoEnvironment, _time), ExplainCommand.Create(Sample.NoEnvironment, _time), AlarmCommand.Create(Sample.NoEnvironment, _time), TokenCommand.Create(Sample.NoEnvironment, _time), HistoryCommand.Create(Sample.NoEnvironment, _time), StandardsCommand.Create(Sample.NoEnvironment, _time), CompareCommand.Create(Sample.NoEnvironment, _time), OutboxCommand.Create(Sample.NoEnvironment, _time, Answer), StatusCommand.Create(Sample.NoEnvironment, _time) };
        var code = root.Parse(arguments).Invoke(new InvocationConfiguration { Output = output, Error = error });
        var lines = Lines(output);
        if (!arguments.Any(argument => argument is "json" or "--json" or "--diff" or "--csv" or "journal"))
            Assert.All(lines, line => Assert.True(line.Length <= 96, line));
        return (code, lines, Lines(error));
    }

    /// <summary>Runs a command that must succeed.</summary>
    public string[] Done(params string[] arguments)
    {
        var (code, output, error) = Run(arguments);
        Assert.Empty(error);
        Assert.Equal(0, code);
        return output;
    }

    /// <summary>Runs a command that must be refused with one line.</summary>
    public string Refused(params string[] arguments)
    {
        var (code, output, error) = Run(arguments);
        Assert.Empty(output);
        Assert.Equal(1, code);
        return Assert.Single(error);
    }

    public void Dispose() => _folder.Dispose();

    private static string[] Lines(StringWriter writer)
    {
        var lines = writer.ToString().Split(Environment.NewLine);
        return lines[^1].Length == 0 ? lines[..^1] : lines;
    }
}
