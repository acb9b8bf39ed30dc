using System.Globalization;
using Microsoft.Extensions.Logging.Abstractions;
using SawEdge.Core.Alarms;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Tests.History;

/// <summary>Stores steps of alarms until it is killed, printing the number of each as soon as it is acknowledged. It goes on where the memory says.</summary>
internal static class AlarmingProcess
{
    public static async Task RunAsync(string folder)
    {
        using var database = HistoryDatabase.Open(folder);
        var writer = new HistoryWriter(database, TimeProvider.System, NullLogger<HistoryWriter>.Instance);
        var memory = await new HistoryReader(database).AlarmMemoryAsync();
        var first = memory is null ? 1 : int.Parse(memory.Board, CultureInfo.InvariantCulture) + 1;
        var run = writer.RunAsync(CancellationToken.None);
        await Task.WhenAny(run, AppendAsync(writer, first, Console.Out));
    }

    private static async Task AppendAsync(HistoryWriter writer, int first, TextWriter output)
    {
        for (var number = first; ; number++)
        {
            var alarm = Occurrences.Make(number) with { Text = new string('x', 2000) };
            var batch = new AlarmBatch
            {
                Events = [Occurrences.Event(alarm), Occurrences.Event(alarm with { State = AlarmState.ReturnedUnacknowledged, IsActive = false }, AlarmEventKind.Cleared, 5, AlarmState.Unacknowledged)],
                Notices = [Occurrences.Notice("mail", number)],
                Memory = new AlarmMemory(number.ToString(CultureInfo.InvariantCulture), ""),
            };
            await writer.AppendAlarmsAsync(batch, CancellationToken.None);
            // One write call a line: half a line at the kill is not taken for an acknowledgement.
            output.Write(string.Create(CultureInfo.InvariantCulture, $"{number:D6}\n"));
            output.Flush();
        }
    }
}
