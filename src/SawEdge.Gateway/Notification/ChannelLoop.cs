using System.Diagnostics;
using Microsoft.Extensions.Logging;
using Polly;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Telemetry;

namespace SawEdge.Gateway.Notification;

/// <summary>
/// Brings what the journal holds for one channel to its receiver. Its cursor moves when the receiver has said yes or has refused a
/// message for good, so that no message is lost by a failure of the network or of power; one may come twice, and has the same
/// identity then. Each channel has its own loop and cursor, and holds up no other.
/// </summary>
public sealed class ChannelLoop : IAsyncDisposable
{
    private const int Page = 500;

    // What waits is held in memory up to here; the rest waits in the journal.
    private const int MostWaiting = 500;

    // Passing over what is for others is written down only now and then: a restart reads it again, which does no harm.
    private const int UnsavedMost = 2000;

    // The writer wakes this loop; this look is for what it may have missed.
    private static readonly TimeSpan SlowLook = TimeSpan.FromSeconds(30);
    private static readonly TimeSpan HistoryRetry = TimeSpan.FromSeconds(5);

    private readonly ChannelOptions _options;
    private readonly IOutlet _outlet;
    private readonly HistoryReader _reader;
    private readonly PatientReading _history;
    private readonly HistoryWriter _writer;
    private readonly TimeProvider _time;
    private readonly ILogger _logger;
    private readonly SendPlan _plan;
    private readonly ChannelHealth _health;
    private readonly ResiliencePipeline<SendResult> _retry;
    private readonly List<JournalEntry> _waiting = [];
    private long _read;
    private long _saved;
    private long _cursor;

    /// <summary>Prepares a channel; <see cref="RunAsync"/> does the work.</summary>
    /// <param name="options">The channel; its name is the consumer's in the history.</param>
    /// <param name="outlet">Its way out; disposed of with this.</param>
    /// <param name="reader">Reads the journal.</param>
    /// <param name="writer">Keeps the cursor, and wakes this when there is something new.</param>
    /// <param name="time">The clock.</param>
    /// <param name="logger">Where trouble is said.</param>
    internal ChannelLoop(ChannelOptions options, IOutlet outlet, HistoryReader reader, HistoryWriter writer, TimeProvider time, ILogger<ChannelLoop> logger)
    {
        _options = options;
        _outlet = outlet;
        _reader = reader;
        _history = new PatientReading(HistoryRetry, time, why => NotificationLog.HistoryTrouble(logger, Name, why), () => NotificationLog.HistoryRecovered(logger, Name));
        _writer = writer;
        _time = time;
        _logger = logger;
        _plan = new SendPlan(outlet.Gathering, outlet.GroupOf, options.GiveUpAfter);
        _health = new ChannelHealth(logger, time, options.Name, outlet.Receiver);
        _retry = SendRetry.Build(time);
    }

    /// <summary>Name of the channel.</summary>
    public string Name => _options.Name;

    /// <summary>The last journal entry up to which this channel is done with everything.</summary>
    public long Cursor => Interlocked.Read(ref _cursor);

    /// <summary>Whether the receiver takes nothing at the moment.</summary>
    public bool InTrouble => _health.InTrouble;

    /// <summary>Whether the receiver has been tried since the start, so that <see cref="InTrouble"/> says something.</summary>
    public bool IsTroubleKnown => _health.IsKnown;

    /// <summary>What came of the tries so far.</summary>
    public DeliveryCounts Counts { get; } = new();

    /// <summary>Sends until cancelled.</summary>
    /// <exception cref="OperationCanceledException">Cancelled; what was not sent stays in the journal.</exception>
    /// <exception cref="HistoryCorruptException">The history is damaged.</exception>
    public async Task RunAsync(CancellationToken cancellation)
    {
        _read = _saved = await _history.AskAsync(() => _reader.CursorAsync(Name, cancellation), cancellation);
        Interlocked.Exchange(ref _cursor, _read);
        NotificationLog.Started(_logger, Name, _outlet.Receiver, _read);
        while (true)
        {
            // Taken before reading: what is committed after the reading wakes the wait below.
            var heard = _writer.Journal.Last;
            await FillAsync(cancellation);
            if (_waiting.Count > 0)
                await _retry.ExecuteAsync(static async (loop, token) => await loop.StepAsync(token), this, cancellation);
            else
                await _writer.Journal.WaitBeyondAsync(heard, SlowLook, _time, cancellation);
        }
    }

    /// <inheritdoc/>
    public ValueTask DisposeAsync() => _outlet.DisposeAsync();

    // Each try looks anew at what waits: after an outage much may leave together.
    private async Task<SendResult> StepAsync(CancellationToken cancellation)
    {
        await FillAsync(cancellation);
        var parcel = _plan.Next(_waiting, _time.GetUtcNow());
        if (parcel.SetAside is { } reason)
        {
            await SettleAsync(parcel, reason, cancellation);
            return SendResult.Delivered;
        }

        var othersWereTaken = !_health.InTrouble;
        using var span = Spans.Root("message", ActivityKind.Client);
        span?.SetTag("sawedge.channel", Name);
        span?.SetTag("sawedge.entries", parcel.Entries.Count);
        var began = _time.GetTimestamp();
        var result = await _history.AskAsync(() => _outlet.SendAsync(parcel.Entries, parcel.Waited, cancellation), cancellation);
        Counts.Tried(result.Verdict == SendVerdict.Delivered);
        NotificationLog.Tried(_logger, Name, parcel.Entries.Count, result.Verdict, _time.GetElapsedTime(began).TotalMilliseconds);
        if (result.Verdict != SendVerdict.Delivered)
            span.Failed(result.Words);
        if (result.IsTrouble)
        {
            _plan.Failed(parcel, result.Words, othersWereTaken, _time.GetUtcNow());
            _health.Trouble(result);
            return result;
        }

        _health.Answers();
        await SettleAsync(parcel, result.Verdict == SendVerdict.Refused ? result.Words : result.PartlyRefused, cancellation);
        return result;
    }

    private async Task SettleAsync(Parcel parcel, string refusal, CancellationToken cancellation)
    {
        if (refusal.Length > 0)
            _health.SetAside(parcel.Entries.Count, refusal);
        else
            _health.Taken();
        List<Refusal> refusals = refusal.Length == 0 ? [] : [.. parcel.Entries.Select(entry => new Refusal(entry.Sequence, refusal))];
        _plan.Settled(parcel);
        var settled = parcel.Entries.Select(entry => entry.Sequence).ToHashSet();
        _waiting.RemoveAll(entry => settled.Contains(entry.Sequence));
        await MoveAsync(refusals, save: true, cancellation);
    }

    private async Task FillAsync(CancellationToken cancellation)
    {
        while (_waiting.Count < MostWaiting)
        {
            var entries = await _history.AskAsync(() => _reader.JournalAsync(_read, Page, cancellation), cancellation);
            if (entries.Count == 0)
                return;
            _waiting.AddRange(entries.Where(_outlet.Takes));
            _read = entries[^1].Sequence;
            await MoveAsync([], save: false, cancellation);
        }
    }

    private async Task MoveAsync(List<Refusal> refusals, bool save, CancellationToken cancellation)
    {
        var cursor = _waiting.Count > 0 ? _waiting[0].Sequence - 1 : _read;
        if ((save && cursor != _saved) || refusals.Count > 0 || cursor - _saved >= UnsavedMost)
        {
            await _writer.SaveCursorAsync(Name, cursor, refusals, cancellation);
            _saved = cursor;
        }

        Interlocked.Exchange(ref _cursor, cursor);
    }
}
