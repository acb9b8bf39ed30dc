using System.CommandLine;
using System.Text;
using Microsoft.Extensions.Time.Testing;
using SawEdge.Core;
using SawEdge.Gateway.Commands.Export;
using SawEdge.Gateway.Tests.Configuration;
using SawEdge.Gateway.Tests.History;
using SawEdge.TestSupport;
using Spectre.Console;

namespace SawEdge.Gateway.Tests.Commands.Export;

/// <summary>What a run of <c>export</c> left behind.</summary>
/// <param name="Code">The exit code.</param>
/// <param name="Bytes">Standard output, where rows went there.</param>
/// <param name="Output">What it said there.</param>
/// <param name="Error">What it said on standard error.</param>
internal sealed record ExportOutcome(int Code, byte[] Bytes, string[] Output, string[] Error)
{
    public string Text => Encoding.UTF8.GetString(Bytes);
}

/// <summary>A history with its writer running, and <c>export</c> run on it as a shell would, on a Monday noon in a place an hour ahead of UTC.</summary>
internal sealed class Exporting : IAsyncDisposable
{
    private readonly TempFolder _folder = new();
    private readonly FakeTimeProvider _time = new(new DateTimeOffset(2026, 3, 9, 12, 0, 0, TimeSpan.Zero));

    public Exporting() => _time.SetLocalTimeZone(TimeZoneInfo.CreateCustomTimeZone("here", TimeSpan.FromHours(1), "here", "here"));

    public RunningHistory History { get; } = new();

    /// <summary>Where standard output is a terminal.</summary>
    public bool IsTerminal { get; init; }

    /// <summary>The terminal of the progress bar, if there is one.</summary>
    public IAnsiConsole? Progress { get; init; }

    public string Folder => _folder.Path;

    public string File(string name) => _folder.File(name);

    public async Task AppendAsync(params CycleRecord[] cycles)
    {
        foreach (var cycle in cycles)
            await History.AppendAsync(cycle);
    }

    /// <summary>Runs <c>export</c> on the history.</summary>
    public Task<ExportOutcome> RunAsync(params string[] arguments) => RunRawAsync([.. arguments, "--data", History.Folder]);

    /// <summary>Runs <c>export</c> as it stands.</summary>
    public async Task<ExportOutcome> RunRawAsync(params string[] arguments)
    {
        using var bytes = new MemoryStream();
        using var output = new StringWriter();
        using var error = new StringWriter();
        var root = new RootCommand { ExportCommand.Create(Sample.NoEnvironment, _time, console => new ExportPlaces(() => bytes, IsTerminal, console.Output, console.Error, Progress)) };
        var code = await root.Parse(["export", .. arguments]).InvokeAsync(new InvocationConfiguration { Output = output, Error = error });
        return new ExportOutcome(code, bytes.ToArray(), Lines(output), Lines(error));
    }

    /// <summary>Runs an export that must succeed without a word on standard error.</summary>
    public async Task<ExportOutcome> DoneAsync(params string[] arguments)
    {
        var outcome = await RunAsync(arguments);
        Assert.Empty(outcome.Error);
        Assert.Equal(0, outcome.Code);
        return outcome;
    }

    /// <summary>Runs an export that must be refused with one line, before anything is written.</summary>
    public async Task<string> RefusedAsync(params string[] arguments)
    {
        var outcome = await RunAsync(arguments);
        Assert.Equal((1, ""), (outcome.Code, outcome.Text));
        Assert.Empty(outcome.Output);
        return Assert.Single(outcome.Error);
    }

    public async ValueTask DisposeAsync()
    {
        await History.DisposeAsync();
        _folder.Dispose();
    }

    private static string[] Lines(StringWriter writer)
    {
        var lines = writer.ToString().Split(Environment.NewLine);
        return lines[^1].Length == 0 ? lines[..^1] : lines;
    }
}
