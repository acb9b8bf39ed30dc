using System.Globalization;
using Microsoft.Extensions.Logging.Abstractions;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Tests.History;

/// <summary>Appends cycles of several saws until it is killed, printing the identity of each as soon as it is acknowledged.</summary>
internal static class AppendingProcess
{
    public const int Saws = 4;

    public static async Task RunAsync(string folder)
    {
        using var database = HistoryDatabase.Open(folder);
        var writer = new HistoryWriter(database, TimeProvider.System, NullLogger<HistoryWriter>.Instance);
        var output = Console.Out;
        var run = writer.RunAsync(CancellationToken.None);
        await Task.WhenAny(run, Task.WhenAll(Enumerable.Range(0, Saws).Select(saw => AppendAsync(writer, saw, output))));
    }

    private static async Task AppendAsync(HistoryWriter writer, int saw, TextWriter output)
    {
        for (var number = 0; ; number++)
        {
            var name = string.Create(CultureInfo.InvariantCulture, $"saw{saw}");
            var record = Cycles.Make(name, number);
            await writer.SaveOpenFramesAsync(name, 0, new byte[2000], CancellationToken.None);
            await writer.AppendAsync(
                new FinishedCycle { Record = record, Profile = Cycles.Profile(number), SawState = new SawState(1, BitConverter.GetBytes(number)) },
                CancellationToken.None);
            // One write call a line: half a line at the kill is not taken for an acknowledgement.
            lock (output)
            {
                output.Write(record.CycleId + "\n");
                output.Flush();
            }
        }
    }
}
