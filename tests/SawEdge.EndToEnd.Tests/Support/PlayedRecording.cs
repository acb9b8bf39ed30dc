using System.Globalization;
using SawEdge.Core.Signals;
using SawEdge.Modbus.Tests.Peers;
using SawEdge.Simulator.Recordings;
using SawEdge.Simulator.Saws;
using SawEdge.TestSupport;

namespace SawEdge.EndToEnd.Tests.Support;

/// <summary>A recording that a Modbus server which is not ours plays into its registers, in real time, from the first request on.</summary>
internal sealed class PlayedRecording : IAsyncDisposable
{
    /// <summary>Time between two rows.</summary>
    public static readonly TimeSpan Step = TimeSpan.FromMilliseconds(50);

    /// <summary>Where the players lay the signals: every table, several types and orders.</summary>
    public const string Signals = """
        {
          "head_position": { "address": "holding 0", "type": "int16", "unit": "0.1 mm", "minimum": "-50 mm", "maximum": "400 mm" },
          "motor_load": { "address": "40011", "type": "float32", "order": "cdab" },
          "job": { "address": "holding 20", "type": "ascii", "registers": 8 },
          "blade_id": { "address": "holding 28", "type": "ascii", "registers": 8 },
          "part_count": { "address": "input 100", "type": "uint32" },
          "blade_speed": { "address": "input 102", "type": "uint16", "unit": "0.1 m/min" },
          "mode": { "address": "30104", "type": "uint16", "texts": { "0": "manual", "2": "automatic" } },
          "bar_id": { "address": "input 104", "type": "ascii", "registers": 8, "order": "badc" },
          "fault_code": { "address": "input 120", "type": "int16" },
          "cycle_active": { "address": "discrete 7" },
          "blade_running": { "address": "discrete 8" },
          "cutting": { "address": "00004" }
        }
        """;

    /// <summary>The same for a line that is shared: what changes seldom is read seldom.</summary>
    public const string SlowSignals = """
        {
          "head_position": { "address": "holding 0", "type": "int16", "unit": "0.1 mm", "minimum": "-50 mm", "maximum": "400 mm" },
          "motor_load": { "address": "40011", "type": "float32", "order": "cdab" },
          "job": { "address": "holding 20", "type": "ascii", "registers": 8, "every": "1 s" },
          "blade_id": { "address": "holding 28", "type": "ascii", "registers": 8, "every": "1 s" },
          "part_count": { "address": "input 100", "type": "uint32", "every": "500 ms" },
          "mode": { "address": "30104", "type": "uint16", "texts": { "0": "manual", "2": "automatic" }, "every": "1 s" },
          "cycle_active": { "address": "discrete 7" },
          "blade_running": { "address": "discrete 8" }
        }
        """;

    /// <summary>The unit in which the registers lie.</summary>
    public const int Unit = 5;

    private static readonly Signal[] Columns =
    [
        Signal.HeadPosition, Signal.MotorLoad, Signal.BladeSpeed, Signal.CycleActive, Signal.Cutting, Signal.BladeRunning,
        Signal.FaultCode, Signal.Mode, Signal.Job, Signal.PartCount, Signal.BarId, Signal.BladeId,
    ];

    private readonly TempFolder _folder;
    private readonly Peer _peer;

    private PlayedRecording(TempFolder folder, Peer peer, int port, IReadOnlyList<SawTruth> truth)
    {
        _folder = folder;
        _peer = peer;
        Port = port;
        Truth = truth;
    }

    public int Port { get; }

    /// <summary>What really happens in the recording.</summary>
    public IReadOnlyList<SawTruth> Truth { get; }

    /// <summary>Starts a player.</summary>
    /// <param name="libmodbus">Whether libmodbus plays, or pymodbus.</param>
    /// <param name="saw">The saw that is recorded.</param>
    /// <param name="cycles">Cycles in the recording.</param>
    /// <param name="change">Changes rows: gets the cells of a row by column, and its time since the first row.</param>
    public static async Task<PlayedRecording> StartAsync(bool libmodbus, VirtualSawOptions saw, int cycles, Action<Dictionary<string, string>, DateTimeOffset>? change = null)
    {
        var folder = new TempFolder();
        try
        {
            var (file, truth) = await RecordAsync(folder, [saw], cycles, change);
            var port = Peer.FreePort();
            string[] arguments = [port.ToString(CultureInfo.InvariantCulture), file];
            var peer = libmodbus
                ? Peer.Start(await ModbusPeers.CompileAsync("play_recording.c", folder), arguments)
                : Peer.Start(ModbusPeers.Python, [Pymodbus, .. arguments]);
            var played = new PlayedRecording(folder, peer, port, truth);

            // A connection is no request: time does not begin with it.
            await peer.ListensAsync(port);
            return played;
        }
        catch
        {
            folder.Dispose();
            throw;
        }
    }

    /// <summary>Starts RTU units: <see cref="Unit"/> for the first saw and so on; with libmodbus there is one, on a line.</summary>
    /// <param name="saws">The saws that are recorded.</param>
    /// <param name="cycles">Cycles of each in the recording.</param>
    /// <param name="line">The serial line where they are, or null for RTU over a TCP port.</param>
    /// <param name="libmodbus">Whether libmodbus plays, or pymodbus.</param>
    public static async Task<PlayedRecording> StartRtuAsync(IReadOnlyList<VirtualSawOptions> saws, int cycles, string? line = null, bool libmodbus = false)
    {
        var folder = new TempFolder();
        try
        {
            var (file, truth) = await RecordAsync(folder, saws, cycles, null);
            var port = line is null ? Peer.FreePort() : 0;
            string[] arguments = [line ?? string.Create(CultureInfo.InvariantCulture, $"rtu:{port}"), file];
            var peer = libmodbus
                ? Peer.Start(await ModbusPeers.CompileAsync("play_recording.c", folder), arguments)
                : Peer.Start(ModbusPeers.Python, [Pymodbus, .. arguments]);
            var played = new PlayedRecording(folder, peer, port, truth);
            await (line is null ? peer.ListensAsync(port) : peer.PrintsAsync("serving"));
            return played;
        }
        catch
        {
            folder.Dispose();
            throw;
        }
    }

    /// <summary>Starts an edge node whose devices are the saws, which reports what changes as metrics.</summary>
    /// <param name="saws">The saws that are recorded.</param>
    /// <param name="cycles">Cycles of each in the recording.</param>
    /// <param name="broker">Port of the broker.</param>
    public static async Task<PlayedRecording> StartSparkplugAsync(IReadOnlyList<VirtualSawOptions> saws, int cycles, int broker)
    {
        var folder = new TempFolder();
        try
        {
            var (file, truth) = await RecordAsync(folder, saws, cycles, null);
            var peer = Peer.Start(ModbusPeers.Python, [Path.Combine(AppContext.BaseDirectory, "Peers", "edge_node.py"), broker.ToString(CultureInfo.InvariantCulture), "Riverbend", "hall-1-edge", "0", "play", file]);
            await peer.PrintsAsync("playing from ");
            return new PlayedRecording(folder, peer, broker, truth);
        }
        catch
        {
            folder.Dispose();
            throw;
        }
    }

    /// <summary>When on the wall a moment of the recording was played.</summary>
    public DateTimeOffset WallOf(DateTimeOffset moment) => DateTimeOffset.FromUnixTimeMilliseconds(Said("playing from ")) + (moment - SmallSaw.Start);

    /// <summary>Waits until every row has been played.</summary>
    /// <returns>By how much the latest row was late.</returns>
    public async Task<TimeSpan> EndedAsync()
    {
        await _peer.PrintsAsync("played, latest row ");
        return TimeSpan.FromMilliseconds(Said("played, latest row "));
    }

    /// <inheritdoc/>
    public async ValueTask DisposeAsync()
    {
        await _peer.DisposeAsync();
        _folder.Dispose();
    }

    private static string Pymodbus => Path.Combine(AppContext.BaseDirectory, "Peers", "play_recording.py");

    private static async Task<(string File, IReadOnlyList<SawTruth> Truth)> RecordAsync(TempFolder folder, IReadOnlyList<VirtualSawOptions> saws, int cycles, Action<Dictionary<string, string>, DateTimeOffset>? change)
    {
        using var text = new StringWriter();
        var truth = RecordingGenerator.Write(saws, new RecordingOptions { Cycles = cycles, Interval = Step, Signals = Columns }, text);
        var file = folder.File("recording.csv");
        await File.WriteAllTextAsync(file, change is null ? text.ToString() : Changed(text.ToString(), change));
        return (file, truth);
    }

    private static string Changed(string text, Action<Dictionary<string, string>, DateTimeOffset> change)
    {
        var lines = text.Split('\n', StringSplitOptions.RemoveEmptyEntries);
        var names = lines[0].Split(',');
        return string.Join('\n', lines.Skip(1).Select(line =>
        {
            var cells = names.Zip(line.Split(',')).ToDictionary(cell => cell.First, cell => cell.Second, StringComparer.Ordinal);
            change(cells, DateTimeOffset.Parse(cells["time"], CultureInfo.InvariantCulture));
            return string.Join(',', names.Select(name => cells[name]));
        }).Prepend(lines[0])) + "\n";
    }

    private long Said(string before)
    {
        var line = _peer.Output.Split('\n').First(said => said.StartsWith(before, StringComparison.Ordinal));
        return long.Parse(line[before.Length..].Split(' ')[0], CultureInfo.InvariantCulture);
    }
}
