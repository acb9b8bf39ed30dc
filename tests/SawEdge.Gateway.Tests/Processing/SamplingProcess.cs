using System.Globalization;
using Microsoft.Extensions.Logging.Abstractions;
using SawEdge.Core;
using SawEdge.Core.Cutting;
using SawEdge.Core.Load;
using SawEdge.Core.Materials;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Processing;

namespace SawEdge.Gateway.Tests.Processing;

/// <summary>Processes frames of one saw until it is killed, printing the number of each as soon as all before it have been dealt with.</summary>
internal static class SamplingProcess
{
    /// <summary>Name of the saw.</summary>
    public const string Saw = "Saw 1";

    /// <summary>Length of its intervals.</summary>
    public static readonly TimeSpan Every = TimeSpan.FromSeconds(10);

    private static readonly DateTimeOffset Begin = new(2026, 3, 2, 5, 0, 3, TimeSpan.Zero);

    /// <summary>A frame, the same in every process.</summary>
    public static SignalFrame Frame(int number)
    {
        var frame = new SignalFrame(Begin.AddMilliseconds(number * 250L));
        frame.Set(Signal.MotorLoad, 1 + (number * 37 % 101 / 10.0));
        frame.Set(Signal.HeadPosition, 500 - (number % 400));
        frame.Set(Signal.BladeRunning, number % 90 > 30);
        return frame;
    }

    public static async Task RunAsync(string folder, int first)
    {
        using var database = HistoryDatabase.Open(folder);
        var writer = new HistoryWriter(database, TimeProvider.System, NullLogger<HistoryWriter>.Instance);
        var output = Console.Out;
        var run = writer.RunAsync(CancellationToken.None);
        var inbox = new SawInbox(Saw, 16);
        var (machine, number) = (new SawMachine { Name = Saw }, first);
        var room = new SemaphoreSlim(8);
        var processor = new SawProcessor(inbox, new SawPipeline(machine, JobBook.Empty), new SawSetup(machine, null, new LoadSettings(), MaterialCatalogue.BuiltIn), writer, TimeProvider.System, NullLogger<SawProcessor>.Instance, sampleEvery: Every, onFrame: (string _, in SignalFrame _) =>
        {
            // One write call a line: half a line at the kill is not taken for a number.
            output.Write(string.Create(CultureInfo.InvariantCulture, $"{number++:000000}\n"));
            output.Flush();
            room.Release();
        });
        var process = processor.RunAsync(new HistoryReader(database), CancellationToken.None);
        for (var next = first; !process.IsCompleted && !run.IsCompleted; next++)
        {
            await room.WaitAsync();
            inbox.Offer(Frame(next));
        }
    }
}
