using System.Diagnostics;
using System.Globalization;
using SawEdge.Modbus;
using SawEdge.TestSupport;

namespace SawEdge.Benchmarks.Modbus;

/// <summary>
/// Polls per second of this project's Modbus client beside libmodbus's own, both on the same libmodbus server over loopback:
/// function 3, 20 registers, one request after the other. The two take turns, so that whatever else the machine does meets both.
/// It is done twice: as the runtime completes socket operations by default, on a thread of its pool, and with the runtime's
/// setting that completes them on the thread that saw them come. The hop between the two threads is what a poll spends most on.
/// </summary>
public static class ModbusPolls
{
    private const int Rounds = 9;
    private const int PollsPerRound = 20_000;
    private const ushort Address = 100;
    private const string InlineSetting = "DOTNET_SYSTEM_NET_SOCKETS_INLINE_COMPLETIONS";

    /// <summary>Runs the comparison and prints it.</summary>
    /// <returns>Exit code: 0.</returns>
    public static async Task<int> RunAsync()
    {
        var isInline = Environment.GetEnvironmentVariable(InlineSetting) == "1";
        Console.WriteLine(isInline ? $"with {InlineSetting}=1:" : "with the runtime's defaults:");
        await CompareAsync();
        if (isInline)
            return 0;

        // The runtime reads the setting when a process starts.
        var (exitCode, output) = await Peer.RunAsync("dotnet", [typeof(ModbusPolls).Assembly.Location, "modbus"], new Dictionary<string, string> { [InlineSetting] = "1" });
        Console.WriteLine(output);
        return exitCode;
    }

    private static async Task CompareAsync()
    {
        using var folder = new TempFolder();
        var port = Peer.FreePort();
        var client = await CompileAsync("poll_client.c", folder);
        await using var server = Peer.Start(await CompileAsync("typed_values.c", folder), [Text(port)]);
        await server.ListensAsync(port);

        var theirs = new List<Round>();
        var ours = new List<Round>();
        Console.WriteLine("round  libmodbus polls/s  p50 us  p99 us   SawEdge polls/s  p50 us  p99 us   bytes/poll");
        for (var round = 0; round <= Rounds; round++)
        {
            var their = await PollWithLibmodbusAsync(client, port);
            var our = await PollWithOursAsync(port);
            if (round == 0)
                continue; // Warms both up; the compiler replaces what it first made of our code.
            theirs.Add(their);
            ours.Add(our);
            Console.WriteLine(Say($"{round,5}  {their.PerSecond,17:0}  {their.Median,6:0.0}  {their.High,6:0.0}   {our.PerSecond,15:0}  {our.Median,6:0.0}  {our.High,6:0.0}   {our.Bytes,10:0.0}"));
        }

        var ratios = ours.Zip(theirs, (our, their) => our.PerSecond / their.PerSecond).ToList();
        var medians = ours.Zip(theirs, (our, their) => their.Median / our.Median).ToList();
        Console.WriteLine(Say($"libmodbus {Median(theirs.Select(round => round.PerSecond)):0}/s, SawEdge {Median(ours.Select(round => round.PerSecond)):0}/s, ratio {Median(ratios):0.00} (from {ratios.Min():0.00} to {ratios.Max():0.00}), by the median poll {Median(medians):0.00}; {Environment.ProcessorCount} processors"));
    }

    private static async Task<Round> PollWithOursAsync(int port)
    {
        await using var reader = new ModbusTcpReader(new ModbusTcpOptions { Host = "127.0.0.1", Port = port }, TimeProvider.System);
        using var stop = new CancellationTokenSource();
        var registers = new ushort[20];
        var times = new double[PollsPerRound];
        for (var i = 0; i < PollsPerRound / 10; i++)
            await reader.ReadRegistersAsync(1, ModbusTable.HoldingRegisters, Address, registers, stop.Token);
        var bytes = GC.GetTotalAllocatedBytes(precise: true);
        var start = Stopwatch.GetTimestamp();
        var last = start;
        for (var i = 0; i < PollsPerRound; i++)
        {
            await reader.ReadRegistersAsync(1, ModbusTable.HoldingRegisters, Address, registers, stop.Token);
            var now = Stopwatch.GetTimestamp();
            times[i] = Stopwatch.GetElapsedTime(last, now).TotalMicroseconds;
            last = now;
        }

        bytes = GC.GetTotalAllocatedBytes(precise: true) - bytes;
        if (registers[0] != 54321)
            throw new InvalidOperationException($"The server's register {Address} holds 54321, read was {registers[0]}.");
        Array.Sort(times);
        return new Round(PollsPerRound / Stopwatch.GetElapsedTime(start, last).TotalSeconds, times[PollsPerRound / 2], times[^(1 + (PollsPerRound / 100))], bytes / (double)PollsPerRound);
    }

    private static async Task<Round> PollWithLibmodbusAsync(string program, int port)
    {
        var (exitCode, output) = await Peer.RunAsync(program, [Text(port), Text(PollsPerRound)]);
        if (exitCode != 0)
            throw new InvalidOperationException($"{program} ended with {exitCode}: {output}");
        var numbers = output.Split(' ', StringSplitOptions.RemoveEmptyEntries).Select(number => double.Parse(number, CultureInfo.InvariantCulture)).ToArray();
        return new Round(numbers[0], numbers[1], numbers[2], 0);
    }

    private static async Task<string> CompileAsync(string source, TempFolder folder)
    {
        var program = folder.File(Path.GetFileNameWithoutExtension(source));
        var (exitCode, output) = await Peer.RunAsync("gcc", ["-O2", Path.Combine(AppContext.BaseDirectory, "Modbus", source), "-o", program, "-lmodbus"]);
        return exitCode == 0 ? program : throw new InvalidOperationException($"{source} does not compile (libmodbus-dev is needed): {output}");
    }

    private static double Median(IEnumerable<double> values)
    {
        var sorted = values.Order().ToList();
        return sorted[sorted.Count / 2];
    }

    private static string Say(FormattableString text) => text.ToString(CultureInfo.InvariantCulture);

    private static string Text(int number) => number.ToString(CultureInfo.InvariantCulture);

    private sealed record Round(double PerSecond, double Median, double High, double Bytes);
}
