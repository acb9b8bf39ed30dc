using SawEdge.Core;
using SawEdge.Gateway.Commands;
using SawEdge.Simulator.Demo;
using SawEdge.Simulator.Recordings;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Commands.Alarms;

public sealed class BacktestAgreementTests
{
    private static readonly DateTimeOffset Start = new(2026, 3, 2, 6, 0, 0, TimeSpan.Zero);

    // Three ways to the same: the recording through the live code, the history that it left, and that history computed anew.
    [Fact]
    public async Task Recording_ItsHistory_AndThatComputedAnew_GiveTheSameAlarms()
    {
        using var asked = new Asked();
        using var folder = new TempFolder();
        var (recording, history) = (folder.File("plant.csv"), folder.File("history"));
        await using (var text = new StreamWriter(recording))
            RecordingGenerator.Write([.. Plant.Create(Start).Saws.Select(saw => saw.Options)], new RecordingOptions { Interval = TimeSpan.FromMilliseconds(500), End = Start.AddHours(8) }, text);
        var settings = new ReplaySettings { Inputs = [recording], OutFolder = history, ConfigFile = asked.ConfigFile };
        using var said = new StringWriter();
        var replay = new Replay(settings, (asked, options, cancellation) => ReplayRun.StartAsync(asked, options, TimeProvider.System, said.WriteLine, cancellation), TimeProvider.System);
        Assert.Equal(ExitCodes.Done, await replay.RunAsync(said, said, null, CancellationToken.None));

        string[] Table(params string[] more) => [.. asked.RunRaw(["alarm", "backtest", "--config", asked.ConfigFile, "--csv", .. more]).Output.Where(line => !line.Contains("controller_fault", StringComparison.Ordinal))];
        var live = Table("--input", recording);

        Assert.True(live.Length > 2, string.Join('\n', live));
        Assert.Equal(live, Table("--data", history));
        Assert.Equal(live, Table("--data", history, "--anew"));
    }
}
