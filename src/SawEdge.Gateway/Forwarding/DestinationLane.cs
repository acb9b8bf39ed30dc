using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Forwarding;

/// <summary>
/// One kind of points on its way to a destination, with a place of its own in the history. The place moves only when the server has said
/// yes, or has refused single points for good; whatever happens in between is sent again, which changes nothing, because the same row is the
/// same point. What it makes points of, and how it waits for more, is for those derived from it.
/// </summary>
public abstract class DestinationLane
{
    private static readonly TimeSpan HistoryRetry = TimeSpan.FromSeconds(5);

    private readonly PatientReading _history;
    private readonly HistoryWriter _writer;
    private readonly LaneRefusals _refusals;
    private BatchLimit _limit;
    private long _cursor;

    /// <summary>Prepares a lane; <see cref="RunAsync"/> does the work.</summary>
    /// <param name="destination">Where it leads.</param>
    /// <param name="name">Its name as a consumer in the history: that of the destination, for other lanes with what <see cref="Lanes"/> names behind it.</param>
    /// <param name="reader">Reads the history.</param>
    /// <param name="writer">Keeps its place.</param>
    private protected DestinationLane(Destination destination, string name, HistoryReader reader, HistoryWriter writer)
    {
        Destination = destination;
        Name = name;
        Reader = reader;
        _writer = writer;
        _history = new PatientReading(HistoryRetry, destination.Time, why => ForwardingLog.HistoryTrouble(destination.Logger, name, why), () => ForwardingLog.HistoryRecovered(destination.Logger, name));
        _limit = new BatchLimit(destination.Options.BatchSize);
        _refusals = new LaneRefusals(destination.Logger, name, destination);
    }

    /// <summary>Where it leads.</summary>
    public Destination Destination { get; }

    /// <summary>Its name as a consumer in the history.</summary>
    public string Name { get; }

    /// <summary>The last place that this lane is done with.</summary>
    public long Cursor => Interlocked.Read(ref _cursor);

    /// <summary>The history.</summary>
    protected HistoryReader Reader { get; }

    /// <summary>The clock.</summary>
    protected TimeProvider Time => Destination.Time;

    /// <summary>Points of a request at most, as the server takes them.</summary>
    protected int MostPoints => _limit.Current;

    /// <summary>Delivers until cancelled.</summary>
    /// <exception cref="OperationCanceledException">Cancelled; what was not sent is sent after the next start.</exception>
    /// <exception cref="HistoryCorruptException">The history is damaged.</exception>
    public async Task RunAsync(CancellationToken cancellation)
    {
        Interlocked.Exchange(ref _cursor, await AskAsync(() => Reader.CursorAsync(Name, cancellation), cancellation));
        await BeginAsync(cancellation);
        var next = NextAsync(Cursor, cancellation);
        while (true)
        {
            var batch = await next;

            // While there is a backlog the next batch is read and encoded as this one is on its way. The place that is kept does not run ahead.
            var ahead = batch.HasMore ? NextAsync(batch.End, cancellation) : null;
            await DeliverAsync(batch, cancellation);
            next = ahead ?? NextAsync(Cursor, cancellation);
        }
    }

    /// <summary>The place was read; nothing is delivered yet.</summary>
    private protected virtual Task BeginAsync(CancellationToken cancellation) => Task.CompletedTask;

    /// <summary>Waits until there is something after a place, and makes points of it. One at a time; where a batch says that there is more, while that one is being delivered.</summary>
    /// <param name="after">The place.</param>
    /// <param name="cancellation">Ends the waiting.</param>
    private protected abstract Task<LaneBatch> NextAsync(long after, CancellationToken cancellation);

    /// <summary>A batch is done with.</summary>
    /// <param name="batch">The batch.</param>
    /// <param name="refused">The numbers of its points that the server has refused for good; all others it has taken.</param>
    private protected virtual void Done(LaneBatch batch, IReadOnlySet<int> refused)
    {
    }

    /// <summary>Asks the history until it answers.</summary>
    private protected Task<T> AskAsync<T>(Func<Task<T>> question, CancellationToken cancellation) => _history.AskAsync(question, cancellation);

    private async Task DeliverAsync(LaneBatch batch, CancellationToken cancellation)
    {
        if (_limit.Most != Destination.Options.BatchSize)
            _limit = new BatchLimit(Destination.Options.BatchSize);
        var lines = batch.Lines;
        var plan = new DeliveryPlan(lines.Count, MostPoints);
        var refused = new List<Refusal>();
        var refusedPoints = new HashSet<int>();
        var (tooLarge, largestTaken) = (false, 0);
        while (plan.TryNext(out _, out _))
        {
            var answer = await Destination.SendAsync(plan, lines, cancellation);
            plan.TryNext(out var start, out var count);
            var verdict = DeliveryRules.Judge(answer, count);
            if (answer.Status == 413)
            {
                tooLarge = true;
                Destination.Health.TooLarge(count);
            }

            if (verdict == Verdict.Split)
            {
                plan.Split();
                continue;
            }

            if (verdict == Verdict.SetAside)
            {
                refusedPoints.UnionWith(Enumerable.Range(start, count));
                Refuse(batch, start, count, answer.Message, refused);
            }
            else
            {
                largestTaken = Math.Max(largestTaken, count);
                _limit.Taken(count);
                Destination.Counts.Took(count);
            }

            plan.Settle();
            await MoveAsync(Settled(batch, plan.Done), refused, cancellation);
        }

        if (tooLarge || plan.IsTooSlow)
            _limit.TooLarge(largestTaken);
        if (lines.Count == 0)
            await MoveAsync(batch.End, [], cancellation);
        else if (refusedPoints.Count == 0)
            _refusals.AllTaken();
        Done(batch, refusedPoints);
    }

    // What is not made into points is passed over together with the last point before it. A place with points that are still to come is not reached.
    private static long Settled(LaneBatch batch, int done)
    {
        if (done == batch.Lines.Count)
            return batch.End;
        var last = batch.Lines.PlaceOf(done - 1);
        return batch.Lines.PlaceOf(done) == last ? last - 1 : last;
    }

    // One entry for a place: where several of its points are refused, the reason of the first.
    private void Refuse(LaneBatch batch, int start, int count, string reason, List<Refusal> refused)
    {
        for (var i = start; i < start + count; i++)
        {
            _refusals.SetAside(batch.Describe(i), reason);
            var place = batch.Lines.PlaceOf(i);
            if (refused.Count == 0 || refused[^1].Sequence != place)
                refused.Add(new Refusal(place, reason));
        }
    }

    // A refusal is kept with the move past its place: until then it would come anew after a start.
    private async Task MoveAsync(long place, List<Refusal> refused, CancellationToken cancellation)
    {
        var passed = refused.FindAll(refusal => refusal.Sequence <= place);
        await _writer.SaveCursorAsync(Name, place, passed, cancellation);
        refused.RemoveAll(refusal => refusal.Sequence <= place);
        Interlocked.Exchange(ref _cursor, place);
    }
}
