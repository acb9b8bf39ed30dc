using Microsoft.Extensions.Logging;
using Polly;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Forwarding;

/// <summary>
/// Brings what is known of the hours to one InfluxDB destination (figures, states, stops by reason), and each point again when it comes out
/// differently. It has a cursor of its own, over the numbers of the hours as they changed last, so whatever happens an hour is sent as it is in the end.
/// </summary>
public sealed class OeeForwarder : IDisposable
{
    // The running hour changes about once a minute.
    private static readonly TimeSpan LookEvery = TimeSpan.FromSeconds(10);

    // Each has tens of points.
    private const int MostHours = 500;

    private readonly HistoryReader _reader;
    private readonly PatientReading _history;
    private readonly HistoryWriter _writer;
    private readonly TimeProvider _time;
    private readonly ILogger _logger;
    private readonly HourLines _lines;
    private readonly InfluxSender _sender;
    private readonly DestinationHealth _health;
    private readonly ResiliencePipeline<ServerAnswer> _retry;
    private readonly int _batch;
    private int _pointsInRequest;
    private long _cursor;

    /// <summary>Prepares a forwarder; <see cref="RunAsync"/> does the work.</summary>
    /// <param name="options">The destination.</param>
    /// <param name="site">Name of the plant, a tag.</param>
    /// <param name="gateway">Name of the gateway, a tag.</param>
    /// <param name="reader">Reads the figures.</param>
    /// <param name="writer">Keeps the cursor.</param>
    /// <param name="time">The clock.</param>
    /// <param name="logger">Where trouble is said.</param>
    public OeeForwarder(InfluxOptions options, string site, string gateway, HistoryReader reader, HistoryWriter writer, TimeProvider time, ILogger<OeeForwarder> logger)
    {
        Name = ConsumerOf(options.Name);
        _reader = reader;
        _history = new PatientReading(LookEvery, time, why => ForwardingLog.HistoryTrouble(logger, Name, why), () => ForwardingLog.HistoryRecovered(logger, Name));
        _writer = writer;
        _time = time;
        _logger = logger;
        _lines = new HourLines(site, gateway, LineText.Tag);
        _sender = new InfluxSender(options, time);
        _batch = options.BatchSize;
        _health = new DestinationHealth(logger, time, Name, options.Url.GetComponents(UriComponents.SchemeAndServer, UriFormat.UriEscaped));
        _retry = DeliveryRetry.Build(time, () => _pointsInRequest, _health.Trouble);
    }

    /// <summary>Its name as a consumer.</summary>
    public string Name { get; }

    /// <summary>The number of the last hour that this destination is done with.</summary>
    public long Cursor => Interlocked.Read(ref _cursor);

    /// <summary>The name of the consumer that brings figures to a destination; no destination can be called so.</summary>
    public static string ConsumerOf(string destination) => destination + "/oee";

    /// <summary>Forwards until cancelled.</summary>
    /// <exception cref="OperationCanceledException">Cancelled; what was not sent is sent after the next start.</exception>
    /// <exception cref="HistoryCorruptException">The history is damaged.</exception>
    public async Task RunAsync(CancellationToken cancellation)
    {
        Interlocked.Exchange(ref _cursor, await _history.AskAsync(() => _reader.CursorAsync(Name, cancellation), cancellation));
        while (true)
        {
            var hours = await _history.AskAsync(() => _reader.AccountHoursAsync(Cursor, Math.Min(_batch, MostHours), cancellation), cancellation);
            if (hours.Count == 0)
                await Task.Delay(LookEvery, _time, cancellation);
            else
                await DeliverAsync(hours, cancellation);
        }
    }

    /// <inheritdoc/>
    public void Dispose() => _sender.Dispose();

    private async Task DeliverAsync(IReadOnlyList<AccountHour> hours, CancellationToken cancellation)
    {
        var points = hours.SelectMany(_lines.NewOf, (hour, line) => (Hour: hour, Line: line)).ToList();
        for (var first = 0; first < points.Count; first += _batch)
            await DeliverAsync(points.GetRange(first, Math.Min(_batch, points.Count - first)), cancellation);
        foreach (var hour in hours)
            _lines.Taken(hour);
        await MoveAsync(hours[^1].Sequence, cancellation);
    }

    private async Task DeliverAsync(List<(AccountHour Hour, string Line)> points, CancellationToken cancellation)
    {
        var plan = new DeliveryPlan(points.Count);
        var refusedAny = false;
        while (plan.TryNext(out var start, out var count))
        {
            _pointsInRequest = count;
            var answer = await _retry.ExecuteAsync(static async (state, token) => await state.Sender.SendAsync(state.Lines, token), (Sender: _sender, Lines: points.GetRange(start, count).ConvertAll(point => point.Line)), cancellation);
            _health.Answers();
            var verdict = DeliveryRules.Judge(answer, count);
            if (verdict == Verdict.Split)
            {
                plan.Split();
                continue;
            }

            // It is tried again when it changes and after the next start; nothing is kept of it, since all of it stays in the history.
            if (verdict == Verdict.SetAside)
            {
                refusedAny = true;
                foreach (var (hour, _) in points.GetRange(start, count))
                    _health.SetAside($"a point of {hour.Saw} from {hour.Hour.From:u} on", answer.Message);
            }

            plan.Settle();

            // The hour itself may have points that are still to come.
            await MoveAsync(points[plan.Done - 1].Hour.Sequence - 1, cancellation);
        }

        if (!refusedAny)
            _health.AllTaken();
    }

    private async Task MoveAsync(long sequence, CancellationToken cancellation)
    {
        await _writer.SaveCursorAsync(Name, sequence, [], cancellation);
        Interlocked.Exchange(ref _cursor, sequence);
    }
}
