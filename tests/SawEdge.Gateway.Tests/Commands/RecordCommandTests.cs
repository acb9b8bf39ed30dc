using System.CommandLine;
using System.Globalization;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition.Recordings;
using SawEdge.Gateway.Commands;
using SawEdge.Simulator.Demo;
using SawEdge.Simulator.Modbus;
using SawEdge.Simulator.Saws;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Commands;

public sealed class RecordCommandTests
{
    [Fact]
    public async Task Record_ASawOverModbus_WritesItsFramesAndNoHistory()
    {
        using var folder = new TempFolder();
        var start = TimeProvider.System.GetUtcNow();
        var saw = new LiveSaw(new VirtualSaw(Plant.Create(start, withFaults: false).Saws[0].Options), TimeProvider.System);
        await using var device = ModbusTcpServer.Start(new Dictionary<byte, ModbusUnit> { [1] = new(saw, RegisterLayout.Plain) });
        var file = folder.File("sawedge.json");
        await File.WriteAllTextAsync(file, string.Create(CultureInfo.InvariantCulture, $$"""
            { "site": "s", "gateway": "g", "dataFolder": "data",
              "devices": [ { "name": "d", "host": "127.0.0.1", "port": {{device.Port}} } ],
              "saws": [ { "name": "north", "source": "modbus", "device": "d", "unit": 1, "interval": "50 ms", "signals": {
                "head_position": { "address": "holding 0", "type": "int16", "unit": "0.1 mm" },
                "motor_load": { "address": "holding 2", "type": "float32", "unit": "kW" },
                "cycle_active": { "address": "discrete 0" } } } ] }
            """));

        var output = new StringWriter();
        var code = await RecordCommand.Create().Parse([file, "--out", folder.File("out"), "--for", "6"]).InvokeAsync(new InvocationConfiguration { Output = output, Error = output });

        Assert.True(code == ExitCodes.Done, output.ToString());
        Assert.False(Directory.Exists(folder.File("data")));
        var problems = new RecordingProblems();
        await using var reader = await RecordingReader.OpenAsync(Assert.Single(Directory.GetFiles(folder.File("out"))), problems);
        var row = default(RecordedFrame);
        var frames = 0;
        while (await reader.FillAsync())
        {
            while (reader.TryRead(ref row))
            {
                frames++;
                Assert.Equal("north", row.Saw);
                Assert.True(row.Frame.Has(Signal.HeadPosition) && row.Frame.Has(Signal.MotorLoad) && row.Frame.Has(Signal.CycleActive));
                Assert.InRange(row.Frame.Time, start, TimeProvider.System.GetUtcNow());
            }
        }

        Assert.Empty(problems.All);
        Assert.InRange(frames, 5, 121);
        Assert.Contains($"{frames} frames recorded.", output.ToString(), StringComparison.Ordinal);
    }

    [Fact]
    public async Task RecordAndRun_NoLiveSaw_AreRefused()
    {
        using var folder = new TempFolder();
        var file = folder.File("sawedge.json");
        await File.WriteAllTextAsync(file, """{ "site": "s", "gateway": "g", "dataFolder": "data", "http": { "enabled": false }, "saws": [ { "name": "n", "source": "recording", "timeColumn": "t", "signals": { "cutting": { "column": "c" }, "motor_load": { "column": "p" } } } ] }""");
        foreach (var (command, arguments) in new[] { (RecordCommand.Create(), new[] { file, "--out", folder.File("out") }), (RunCommand.Create(), [file]) })
        {
            var output = new StringWriter();
            var code = await command.Parse(arguments).InvokeAsync(new InvocationConfiguration { Output = output, Error = output });
            Assert.Equal((ExitCodes.WrongInput, $"{file}: no saw has a live source: \"source\": \"recording\" is for 'sawedge replay --config {file}' alone.\n"), (code, output.ToString()));
        }

        Assert.False(Directory.Exists(folder.File("data")));
    }

    [Theory]
    [InlineData("--for", "0", "--for: a number of seconds above 0 is wanted.")]
    public async Task Record_AnImpossibleTime_IsRefused(string option, string value, string message)
    {
        using var folder = new TempFolder();
        var file = folder.File("sawedge.json");
        await File.WriteAllTextAsync(file, """{ "site": "s", "gateway": "g", "dataFolder": "data", "devices": [ { "name": "d", "host": "127.0.0.1" } ], "saws": [ { "name": "n", "source": "modbus", "device": "d", "unit": 1, "signals": { "cutting": { "address": "coil 0" }, "motor_load": { "address": "input 0", "type": "float32", "unit": "kW" } } } ] }""");
        var output = new StringWriter();
        var code = await RecordCommand.Create().Parse([file, "--out", folder.File("out"), option, value]).InvokeAsync(new InvocationConfiguration { Output = output, Error = output });
        Assert.Equal(ExitCodes.WrongInput, code);
        Assert.Contains(message, output.ToString(), StringComparison.Ordinal);
    }
}
