using SawEdge.Core.Alarms;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Commands;

/// <summary>
/// The life of the alarms in a replay: conditions of the saws' signals, findings, cycles and blades through the board of live operation,
/// into the replay's history. Time is that of the frames. Nobody answers and nobody is told. What the recordings do not hold has no part in it:
/// silence of a controller, the disk, destinations, OEE.
/// </summary>
/// <param name="options">The configuration, or null: the program's own rules.</param>
internal sealed class ReplayAlarms(GatewayOptions? options)
{
    // The desk of live operation looks each second; a gap in the recordings is passed in this many looks at most.
    private static readonly long LookTicks = TimeSpan.TicksPerSecond;
    private const int LooksInAGap = 4096;

    private readonly AlarmOptions _options = options?.Alarms ?? new AlarmOptions { Rules = DefaultRules.All };
    private readonly AlarmBoard _board = new(options?.Alarms.Rules ?? DefaultRules.All, new AlarmBoardSettings
    {
        Quantity = (value, unit) => DisplayText.Text(options?.Units ?? DisplayUnits.Metric, value, unit),
        IsAtWork = options?.Calendar is { } calendar ? calendar.Calendar.IsAtWork : null,
    });

    private readonly List<AlarmEvent> _events = [];
    private long _now;

    /// <summary>Events that are not stored yet.</summary>
    public int Waiting => _events.Count;

    /// <summary>The rules about one saw.</summary>
    public SawAlarmWatch For(string saw) => new(saw, _options.Rules);

    /// <summary>
    /// By how much the clock of a saw is ahead, told by its first frame: the clocks of the saws need not agree, and time passes for all of them at once. Saws
    /// that come one after the other differ by less than a look.
    /// </summary>
    public TimeSpan Ahead(DateTimeOffset first) => TimeSpan.FromTicks(_now == 0 ? 0 : Math.Max(0, first.UtcTicks - _now - LookTicks));

    /// <summary>Lets time pass: hours begin and end, chattering settles.</summary>
    public void Pass(DateTimeOffset until)
    {
        var ticks = until.UtcTicks;
        if (ticks < _now + LookTicks)
            return;
        var step = _now == 0 ? ticks : Math.Max(LookTicks, (ticks - _now) / LooksInAGap);
        while (_now + step <= ticks)
        {
            _now += step;
            _board.Advance(new DateTimeOffset(_now, TimeSpan.Zero));
        }

        Collect();
    }

    /// <summary>Takes what came and went.</summary>
    public void Take(SawAlarmWatch watch)
    {
        var any = false;
        while (watch.TryTake(out var change))
        {
            _board.Take(change);
            any = true;
        }

        if (any)
            Collect();
    }

    /// <summary>Stores what happened.</summary>
    /// <param name="writer">The replay's history.</param>
    /// <param name="isLast">Whether nothing follows: then what a gateway would go on from is stored too.</param>
    public async Task StoreAsync(HistoryWriter writer, bool isLast)
    {
        var memory = isLast ? new AlarmMemory(_board.Save(), new NoticePlan(_options.Contacts).Save()) : null;
        if (_events.Count == 0 && memory is null)
            return;
        await writer.AppendAlarmsAsync(new AlarmBatch { Events = [.. _events], Memory = memory }, CancellationToken.None);
        _events.Clear();
    }

    private void Collect()
    {
        while (_board.TryTake(out var happened))
            _events.Add(happened);
    }
}
