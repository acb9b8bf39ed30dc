using Microsoft.Extensions.Logging;
using Polly;
using SawEdge.Core.Alarms;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Forwarding;

/// <summary>
/// Brings the journal to one InfluxDB destination. Its cursor moves only when the server has said yes, or has refused
/// a single point for good; whatever happens in between is sent again, which changes nothing, because the same cycle or
/// event is the same point. One destination has one forwarder and its own cursor, and holds up no other.
/// </summary>
public sealed class InfluxForwarder : IDisposable
{
    // The writer wakes this loop; this look is for what it may have missed.
    private static readonly TimeSpan SlowLook = TimeSpan.FromSeconds(30);
    private static readonly TimeSpan HistoryRetry = TimeSpan.FromSeconds(5);

    private readonly InfluxOptions _options;
    private readonly string _server;
    private readonly HistoryReader _reader;
    private readonly PatientReading _history;
    private readonly HistoryWriter _writer;
    private readonly TimeProvider _time;
    private readonly ILogger _logger;
    private readonly PointMapper _cycles;
    private readonly AlarmPointMapper _alarms;
    private readonly InfluxSender _sender;
    private readonly BatchLimit _limit;
    private readonly DestinationHealth _health;
    private readonly ResiliencePipeline<ServerAnswer> _retry;
    private int _pointsInRequest;
    private long _cursor;

    /// <summary>Prepares a forwarder; <see cref="RunAsync"/> does the work.</summary>
    /// <param name="options">The destination; its name is the consumer's in the history.</param>
    /// <param name="site">Name of the plant, a tag.</param>
    /// <param name="gateway">Name of the gateway, a tag.</param>
    /// <param name="reader">Reads the journal.</param>
    /// <param name="writer">Keeps the cursor, and wakes this when there is something new.</param>
    /// <param name="time">The clock.</param>
    /// <param name="logger">Where trouble is said.</param>
    public InfluxForwarder(InfluxOptions options, string site, string gateway, HistoryReader reader, HistoryWriter writer, TimeProvider time, ILogger<InfluxForwarder> logger)
    {
        _options = options;
        // Only host and port: an address may hold a password.
        _server = options.Url.GetComponents(UriComponents.SchemeAndServer, UriFormat.UriEscaped);
        _reader = reader;
        _history = new PatientReading(HistoryRetry, time, why => ForwardingLog.HistoryTrouble(logger, Name, why), () => ForwardingLog.HistoryRecovered(logger, Name));
        _writer = writer;
        _time = time;
        _logger = logger;
        _cycles = new PointMapper(site, gateway);
        _alarms = new AlarmPointMapper(site, gateway);
        _sender = new InfluxSender(options, time);
        _limit = new BatchLimit(options.BatchSize);
        _health = new DestinationHealth(logger, time, options.Name, _server);
        _retry = DeliveryRetry.Build(time, () => _pointsInRequest, _health.Trouble);
    }

    /// <summary>Name of the destination.</summary>
    public string Name => _options.Name;

    /// <summary>The last journal entry that this destination is done with.</summary>
    public long Cursor => Interlocked.Read(ref _cursor);

    /// <summary>Whether the destination takes nothing at the moment.</summary>
    public bool InTrouble => _health.InTrouble;

    /// <summary>Whether the destination has been tried since the start, so that <see cref="InTrouble"/> says something.</summary>
    public bool IsTroubleKnown => _health.IsKnown;

    /// <summary>Forwards until cancelled.</summary>
    /// <exception cref="OperationCanceledException">Cancelled; what was not sent stays in the journal.</exception>
    /// <exception cref="HistoryCorruptException">The history is damaged.</exception>
    public async Task RunAsync(CancellationToken cancellation)
    {
        var cursor = await _history.AskAsync(() => _reader.CursorAsync(Name, cancellation), cancellation);
        Interlocked.Exchange(ref _cursor, cursor);
        var pending = await _history.AskAsync(() => _reader.CountAfterAsync(cursor, cancellation), cancellation);
        ForwardingLog.Started(_logger, Name, _server, cursor, pending);
        var waitedFor = 0L;
        while (true)
        {
            // Taken before reading: what is committed after the reading wakes the wait below.
            var heard = _writer.Journal.Last;
            var entries = await _history.AskAsync(() => _reader.JournalAsync(Cursor, _limit.Current, cancellation), cancellation);
            if (entries.Count == 0)
            {
                await _writer.Journal.WaitBeyondAsync(heard, SlowLook, _time, cancellation);
                continue;
            }

            if (entries.Count < _limit.Current && entries[0].Sequence != waitedFor)
            {
                waitedFor = entries[0].Sequence;
                if (await FillAsync(entries, heard, cancellation))
                    continue;
            }

            await DeliverAsync(entries, cancellation);
        }
    }

    /// <inheritdoc/>
    public void Dispose() => _sender.Dispose();

    /// <summary>Waits until a batch that is not full may go.</summary>
    /// <returns>Whether something came meanwhile, so that it is worth reading again.</returns>
    private async Task<bool> FillAsync(IReadOnlyList<JournalEntry> entries, long heard, CancellationToken cancellation)
    {
        var came = false;
        while (true)
        {
            var last = entries[^1].Sequence;
            var waiting = entries.Count + Math.Max(0, heard - last);
            var wait = DeliveryRules.Fill(waiting, _limit.Current, _time.GetUtcNow() - entries[0].At, _options.MaximumWait);
            if (wait == TimeSpan.Zero)
                return came;
            var started = _time.GetTimestamp();
            await _writer.Journal.WaitBeyondAsync(heard, wait, _time, cancellation);
            came |= _writer.Journal.Last > heard;
            heard = _writer.Journal.Last;
            // Measured apart from the wall clock: a clock that is set back must not make a batch wait for ever.
            if (_time.GetElapsedTime(started) >= wait)
                return came;
        }
    }

    private async Task DeliverAsync(IReadOnlyList<JournalEntry> entries, CancellationToken cancellation)
    {
        var points = entries.Select(Map).OfType<Point>().ToList();
        var plan = new DeliveryPlan(points.Count);
        var refusedAny = false;
        var tooLarge = false;
        var largestTaken = 0;
        while (plan.TryNext(out var start, out var count))
        {
            var answer = await SendAsync(points.GetRange(start, count).ConvertAll(point => point.Line), cancellation);
            var verdict = DeliveryRules.Judge(answer, count);
            if (answer.Status == 413)
            {
                tooLarge = true;
                _health.TooLarge(count);
            }

            if (verdict == Verdict.Split)
            {
                plan.Split();
                continue;
            }

            Refusal[] refusals = [];
            if (verdict == Verdict.SetAside)
            {
                refusedAny = true;
                refusals = [.. points.GetRange(start, count).Select(point => new Refusal(point.Sequence, answer.Message))];
                foreach (var point in points.GetRange(start, count))
                    _health.SetAside(point.What, answer.Message);
            }
            else
            {
                largestTaken = Math.Max(largestTaken, count);
                _limit.Taken(count);
            }

            plan.Settle();
            // Entries that are not forwarded, or whose row is gone, are passed over together with the last point.
            await MoveAsync(plan.Done == points.Count ? entries[^1].Sequence : points[plan.Done - 1].Sequence, refusals, cancellation);
        }

        if (tooLarge)
            _limit.TooLarge(largestTaken);
        if (points.Count == 0)
            await MoveAsync(entries[^1].Sequence, [], cancellation);
        else if (!refusedAny)
            _health.AllTaken();
    }

    /// <summary>The point of an entry; null where it is of a kind that is not forwarded, or its row is gone.</summary>
    private Point? Map(JournalEntry entry) => entry switch
    {
        { Cycle: { } cycle } => new Point(entry.Sequence, _cycles.ToLine(cycle), $"cycle {cycle.CycleId}"),
        { AlarmEvent: { Event: var happened } stored } => new Point(entry.Sequence, _alarms.ToLine(happened), $"event {stored.Id} of an alarm ({happened.Rule}, {happened.Subject}: {happened.Kind.ToName()})"),
        _ => null,
    };

    private async Task<ServerAnswer> SendAsync(List<string> lines, CancellationToken cancellation)
    {
        _pointsInRequest = lines.Count;
        var answer = await _retry.ExecuteAsync(
            static async (state, token) => await state.Sender.SendAsync(state.Lines, token),
            (Sender: _sender, Lines: lines),
            cancellation);
        _health.Answers();
        return answer;
    }

    private async Task MoveAsync(long sequence, Refusal[] refusals, CancellationToken cancellation)
    {
        await _writer.SaveCursorAsync(Name, sequence, refusals, cancellation);
        Interlocked.Exchange(ref _cursor, sequence);
    }

    /// <summary>What goes to the server for one entry of the journal.</summary>
    /// <param name="Sequence">The entry's number.</param>
    /// <param name="Line">Its line.</param>
    /// <param name="What">What it is, in words.</param>
    private sealed record Point(long Sequence, string Line, string What);
}
