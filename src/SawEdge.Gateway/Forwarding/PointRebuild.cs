using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Forwarding;

/// <summary>
/// Sends the points of a period to a destination once more, for a server that is new or was restored: a walk of its own over the rows of the
/// history, beside a running gateway or without one. It touches no cursor and writes nothing into the history.
/// </summary>
/// <remarks>
/// The same row is the same point, so nothing is counted twice. A row that is corrected while it is on its way could be overtaken by its own
/// correction, which the running gateway sends by itself: what changed since the walk began is sent again as it is then, until nothing has.
/// </remarks>
public sealed partial class PointRebuild : IDisposable
{
    private readonly int _batch;
    private readonly PointChoice _wanted;
    private readonly HistoryReader _reader;
    private readonly StopNames _names;
    private readonly PointMapper _cycles;
    private readonly LoadProfilePointMapper _profiles;
    private readonly AlarmPointMapper _alarms;
    private readonly HourLines _hours;
    private readonly SignalPointMapper _signals;
    private readonly HealthPointMapper _health;
    private readonly InfluxSender _sender;
    private readonly BatchLimit _limit;
    private readonly DeliveryRetry _retry;
    private readonly Action<string?> _onTrouble;
    private readonly List<Point> _waiting = [];
    private readonly RebuildResult _result = new();
    private bool _inTrouble;
    private DateTimeOffset? _from;
    private DateTimeOffset? _to;

    /// <summary>Prepares it; <see cref="RunAsync"/> does the work, once.</summary>
    /// <param name="options">The destination.</param>
    /// <param name="site">Name of the plant, a tag.</param>
    /// <param name="gateway">Name of the gateway, a tag.</param>
    /// <param name="reader">The history.</param>
    /// <param name="time">The clock.</param>
    /// <param name="onTrouble">Told once why the server takes nothing at the moment, and with null that it does again.</param>
    public PointRebuild(InfluxOptions options, string site, string gateway, HistoryReader reader, TimeProvider time, Action<string?> onTrouble)
    {
        _batch = options.BatchSize;
        _wanted = options.Points;
        _reader = reader;
        _names = new StopNames(reader, writer: null);
        _cycles = new PointMapper(site, gateway);
        _profiles = new LoadProfilePointMapper(site, gateway);
        _signals = new SignalPointMapper(site, gateway);
        _health = new HealthPointMapper(site, gateway);
        _alarms = new AlarmPointMapper(site, gateway);
        _hours = new HourLines(site, gateway, _names.TagOf, options.Points);
        _sender = new InfluxSender(options, time);
        _limit = new BatchLimit(options.BatchSize);
        _onTrouble = onTrouble;
        _retry = new DeliveryRetry(time, (_, answer) => Trouble(answer.Message), untilMended: false);
    }

    /// <summary>Sends until all is taken or refused for good. A server in trouble that passes by itself is waited for.</summary>
    /// <param name="from">Only what has its time at this moment or later; null: from the beginning. Of hours those that touch the period.</param>
    /// <param name="to">Only what has its time before this moment; null: to the end.</param>
    /// <param name="progress">Told of what was sent so far.</param>
    /// <param name="cancellation">Breaks off.</param>
    /// <returns>What was sent, or why it was not gone on with.</returns>
    /// <exception cref="OperationCanceledException">Cancelled.</exception>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public async Task<RebuildResult> RunAsync(DateTimeOffset? from, DateTimeOffset? to, Action<RebuildResult> progress, CancellationToken cancellation)
    {
        (_from, _to) = (from, to);
        await _names.ReadAsync(cancellation);
        var journal = await _reader.LastSequenceAsync(cancellation);
        var hours = await _reader.LastAccountHourAsync(cancellation);
        var samples = await _reader.LastSampleAsync(cancellation);
        var isWhole = await CyclesAsync(progress, cancellation)
            && await AlarmsAsync(progress, cancellation)
            && await HoursAsync(progress, cancellation)
            && await SignalsAsync(progress, cancellation)
            && await HealthAsync(progress, cancellation);
        while (isWhole)
        {
            var entries = await _reader.JournalAsync(journal, _batch, cancellation);
            var changed = await _reader.AccountHoursAsync(hours, MostHours, cancellation);
            var again = await _reader.SamplesAfterAsync(samples, MostSamples, cancellation);
            if (entries.Count == 0 && changed.Count == 0 && again.Count == 0)
                break;
            isWhole = await ChangedAsync(entries, changed, again, cancellation);
            (journal, hours, samples) = (entries.Count > 0 ? entries[^1].Sequence : journal, changed.Count > 0 ? changed[^1].Sequence : hours, again.Count > 0 ? again[^1].Sequence : samples);
            progress(_result);
        }

        return _result;
    }

    /// <inheritdoc/>
    public void Dispose()
    {
        _sender.Dispose();
        _retry.Dispose();
    }

    private async Task<bool> AddAsync(Point point, Action<RebuildResult> progress, CancellationToken cancellation)
    {
        _waiting.Add(point);
        return _waiting.Count < _limit.Current || await FlushAsync(progress, cancellation);
    }

    /// <summary>Sends what waits; a part that cannot go as a whole goes in halves, down to the single points that are at fault.</summary>
    /// <returns>False where somebody has to mend something first.</returns>
    private async Task<bool> FlushAsync(Action<RebuildResult> progress, CancellationToken cancellation)
    {
        var plan = new DeliveryPlan(_waiting.Count);
        var lines = new LineBatch();
        foreach (var point in _waiting)
            lines.Add(0, point.Line);
        var (tooLarge, largestTaken) = (false, 0);
        while (plan.TryNext(out _, out _))
        {
            var answer = await _retry.ExecuteAsync(static (state, token) => state.Sender.SendAsync(state.Plan, state.Lines, token), (Sender: _sender, Plan: plan, Lines: lines), cancellation);
            plan.TryNext(out var start, out var count);
            tooLarge |= answer.Status == 413;
            switch (DeliveryRules.Judge(answer, count))
            {
                case Verdict.Mend:
                    _result.NeedsMending = FormattableString.Invariant($"{DestinationHealth.Advice(answer.Status)} The server said: {answer.Message} (status {answer.Status})");
                    return false;
                case Verdict.Split:
                    plan.Split();
                    break;
                case Verdict.SetAside:
                    foreach (var point in _waiting.GetRange(start, count))
                        _result.Refuse(point.What, answer.Message);
                    plan.Settle();
                    break;
                default:
                    Taken(start, count);
                    largestTaken = Math.Max(largestTaken, count);
                    _limit.Taken(count);
                    plan.Settle();
                    break;
            }

            Trouble(null);
        }

        if (tooLarge || plan.IsTooSlow)
            _limit.TooLarge(largestTaken);
        _waiting.Clear();
        progress(_result);
        return true;
    }

    private void Taken(int start, int count)
    {
        foreach (var point in _waiting.GetRange(start, count))
        {
            _result.Points++;
            switch (point.Kind)
            {
                case PointChoice.Cycles:
                    _result.Cycles++;
                    break;
                case PointChoice.Alarms:
                    _result.AlarmEvents++;
                    break;
                case PointChoice.Profiles:
                    _result.Profiles++;
                    break;
                case PointChoice.Signals:
                    _result.Signals++;
                    break;
                case PointChoice.Gateway:
                    _result.Health++;
                    break;
                default:
                    _result.OfHours++;
                    break;
            }
        }
    }

    private void Trouble(string? why)
    {
        if (why is null == !_inTrouble)
            return;
        _inTrouble = why is not null;
        _onTrouble(why);
    }

    /// <summary>What goes to the server.</summary>
    /// <param name="Line">Its line.</param>
    /// <param name="Kind">What it is.</param>
    /// <param name="What">The same in words.</param>
    private sealed record Point(string Line, PointChoice Kind, string What);
}
