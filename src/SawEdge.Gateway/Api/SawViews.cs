using SawEdge.Core;
using SawEdge.Core.Alarms;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Api;

/// <summary>Puts together what is shown of the saws now: what they do, their last cycles, open alarms, the shift.</summary>
/// <param name="context">The gateway.</param>
internal sealed class SawViews(ApiContext context)
{
    private readonly ShiftFigures _shifts = new(context);

    /// <summary>What a saw does at the moment.</summary>
    public SawMoment Read(string saw) => context.Live?.Read(saw) ?? SawMoment.Nothing;

    /// <summary>All of some saws, in their order.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public async Task<IReadOnlyList<SawNow>> OfAsync(IReadOnlyList<SawOptions> saws, CancellationToken cancellation)
    {
        var cycles = await context.Reader.LastCyclesAsync(saws.Select(saw => saw.Name), cancellation);
        var alarms = await OpenAlarmsAsync(cancellation);
        var views = new List<SawNow>(saws.Count);
        foreach (var saw in saws)
        {
            var last = cycles.GetValueOrDefault(saw.Name);
            var own = alarms[saw.Name].ToList();
            views.Add(new SawNow(Tick(saw, last))
            {
                Group = saw.Group,
                OpenAlarms = own.Count,
                HighestSeverity = own.Count > 0 ? own.Max(alarm => alarm.Severity).ToName() : null,
                LastCycle = last,
                Shift = await _shifts.OfAsync(saw, cancellation),
            });
        }

        return views;
    }

    /// <summary>What changes from moment to moment of a saw.</summary>
    /// <param name="saw">The saw.</param>
    /// <param name="last">Its last cycle, or null.</param>
    public SawTick Tick(SawOptions saw, CycleRecord? last) => SawTick.Of(saw.Name, Read(saw.Name), context.Now, Known.Text(last?.Blade) ?? saw.Blade);

    // Those that call for somebody: not what was put aside or is silenced by another.
    private async Task<ILookup<string, Alarm>> OpenAlarmsAsync(CancellationToken cancellation)
    {
        var open = new List<Alarm>();
        await foreach (var alarm in context.Reader.AlarmsAsync(new AlarmFilter { OnlyOpen = true }, cancellation))
        {
            if (alarm.Subject.Kind == AlarmSubjectKind.Saw && alarm.State is not (AlarmState.Shelved or AlarmState.SuppressedByDesign or AlarmState.OutOfService))
                open.Add(alarm);
        }

        return open.ToLookup(alarm => alarm.Subject.Name, StringComparer.Ordinal);
    }
}
