using SawEdge.Core.Cycles;
using SawEdge.Core.Oee;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.History;

namespace SawEdge.TestPlant;

/// <summary>What people entered about a past: why saws stood, for about half of the long stops, and parts that were not good.</summary>
internal static class PeopleRun
{
    private static readonly TimeSpan Long = TimeSpan.FromMinutes(6);

    private static readonly (string Reason, StopClass Class)[] Reasons =
    [
        ("waiting for crane", StopClass.Delay),
        ("no operator", StopClass.Delay),
        ("blade change", StopClass.Setup),
        ("<b>coolant</b> & \"hydraulics\"", StopClass.Down),
    ];

    /// <summary>Enters it.</summary>
    public static async Task EnterAsync(GatewayOptions options, HistoryReader reader, HistoryWriter writer, DateTimeOffset from, DateTimeOffset to)
    {
        foreach (var saw in options.Saws)
        {
            var stops = 0;
            foreach (var stop in await reader.StatesAsync(saw.Name, new Period(from, to.AddHours(-2))))
            {
                // Whole nights need no word.
                if (stop.State != TimelineState.NotExecuting || stop.To - stop.From < Long || stop.To - stop.From > TimeSpan.FromHours(3) || stops++ % 2 > 0)
                    continue;
                var (reason, of) = Reasons[stops / 2 % Reasons.Length];
                var who = new AuditEntry("M. Ortega", "127.0.0.1", "stop.reason", saw.Name);
                await writer.EnterStopReasonAsync(saw.Name, new StopReason(new Period(stop.From, stop.To), reason, of, stop.To.AddMinutes(5), who.Who), who, CancellationToken.None);
            }

            var good = 0;
            foreach (var cut in await reader.CyclesInAsync(saw.Name, new Period(from, to.AddHours(-1))))
            {
                if (cut.Outcome != CutOutcome.Completed || good++ % 120 != 60)
                    continue;
                var who = new AuditEntry("J. Lind", "127.0.0.1", "scrap", saw.Name);
                await writer.EnterScrapAsync(saw.Name, new ScrapEntry(cut.EndedAt, cut.CycleId, 1, cut.Job ?? "", good % 240 == 61 ? "not square" : "too short", who.Who), who, CancellationToken.None);
            }
        }
    }
}
