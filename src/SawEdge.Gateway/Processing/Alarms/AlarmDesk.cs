using Microsoft.Extensions.Logging;
using SawEdge.Core.Alarms;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Processing.Alarms;

/// <summary>
/// Where all alarms live: one loop takes what comes and goes from the saws, looks at the probes each second, and takes what people
/// answered from outside. What follows from one step (events, messages, what must be remembered, what became of answers) is stored in
/// one transaction before the next step begins: a power cut leaves the whole step or nothing of it, and what was not stored is told
/// again, since conditions are levels. Where the disk refuses, the desk waits, and looks at the probes all the same: that the disk refuses is one of them.
/// </summary>
internal sealed class AlarmDesk
{
    /// <summary>How often probes, answers and the passing of time are looked at, by the machine clock.</summary>
    public static readonly TimeSpan LookEvery = TimeSpan.FromSeconds(1);

    private static readonly TimeSpan ReadRetry = TimeSpan.FromSeconds(1);

    private AlarmBoard _board;
    private NoticePlan _plan;
    private ProbeWatch _probes;
    private Exchange? _exchange;
    private readonly AlarmQueue _queue;
    private readonly HistoryReader _reader;
    private readonly HistoryWriter _writer;
    private readonly TimeProvider _time;
    private readonly ILogger _logger;
    private readonly Action<AlarmEvent>? _onEvent;
    private readonly List<ConditionChange> _changes = [];
    private readonly List<ConditionChange> _seenMeanwhile = [];
    private AlarmMemory? _stored;
    private bool _answersInTrouble;

    /// <summary>Prepares the desk.</summary>
    /// <param name="board">The life of the alarms, without any alarm yet.</param>
    /// <param name="plan">Who is told, without any plan yet.</param>
    /// <param name="probes">What is looked at each second.</param>
    /// <param name="queue">Where the saws' conditions come from.</param>
    /// <param name="reader">For what the last run remembered, and for answers.</param>
    /// <param name="writer">Where each step goes.</param>
    /// <param name="time">The machine clock.</param>
    /// <param name="logger">Where it speaks.</param>
    /// <param name="onEvent">Told of each event once it is on the disk, in place of the log; or null.</param>
    public AlarmDesk(
        AlarmBoard board,
        NoticePlan plan,
        ProbeWatch probes,
        AlarmQueue queue,
        HistoryReader reader,
        HistoryWriter writer,
        TimeProvider time,
        ILogger<AlarmDesk> logger,
        Action<AlarmEvent>? onEvent = null)
    {
        _board = board;
        _plan = plan;
        _probes = probes;
        _queue = queue;
        _reader = reader;
        _writer = writer;
        _time = time;
        _logger = logger;
        _onEvent = onEvent;
    }

    /// <summary>Continues where the last run stopped, then works until the queue is completed and empty.</summary>
    /// <param name="looking">While not cancelled, probes are looked at: once the sources are being closed, silence says nothing.</param>
    /// <param name="cancellation">Ends at once; a clean stop completes the queue instead.</param>
    /// <exception cref="HistoryException">A step cannot be stored, though the disk does not refuse.</exception>
    public async Task RunAsync(CancellationToken looking, CancellationToken cancellation)
    {
        await RestoreAsync(cancellation);
        using var look = new PeriodicTimer(LookEvery, _time);
        Task<bool>? tick = null;
        Task<bool>? news = null;
        while (true)
        {
            tick ??= look.WaitForNextTickAsync(cancellation).AsTask();
            news ??= _queue.WaitAsync(cancellation).AsTask();
            await Task.WhenAny(tick, news);
            var isLook = tick.IsCompleted && await tick;
            var more = !news.IsCompleted || await news;
            if (tick.IsCompleted)
                tick = null;
            if (news.IsCompleted)
                news = null;

            // The last step is taken in full, but without the probes.
            await StepAsync(isLook || !more, isLook && more && !looking.IsCancellationRequested, looking, cancellation);
            if (!more)
                return;
        }
    }

    /// <summary>
    /// Has other rules and contacts hold from the next step on. What is open goes on, alarms of rules that are gone are closed, and what was
    /// planned for contacts that are gone is dropped, as at a restart. For another thread.
    /// </summary>
    /// <param name="board">The life of the alarms by the new rules, without any alarm.</param>
    /// <param name="plan">Who is told, without any plan.</param>
    /// <param name="probes">What is looked at, given the watch until now.</param>
    /// <param name="cancellation">Ends the wait.</param>
    /// <returns>Ends when they hold.</returns>
    public Task TakeOverAsync(AlarmBoard board, NoticePlan plan, Func<ProbeWatch, ProbeWatch> probes, CancellationToken cancellation)
    {
        var exchange = new Exchange(board, plan, probes, new TaskCompletionSource(TaskCreationOptions.RunContinuationsAsynchronously));
        Volatile.Write(ref _exchange, exchange);
        return exchange.Done.Task.WaitAsync(cancellation);
    }

    private void TakeOver()
    {
        if (Interlocked.Exchange(ref _exchange, null) is not { } exchange)
            return;
        exchange.Board.Restore(_board.Save());
        exchange.Plan.Restore(_plan.Save());
        (_board, _plan, _probes) = (exchange.Board, exchange.Plan, exchange.Probes(_probes));
        exchange.Done.SetResult();
    }

    private async Task RestoreAsync(CancellationToken cancellation)
    {
        _stored = await ReadAsync(_reader.AlarmMemoryAsync, cancellation);
        if (_stored is null)
            return;
        try
        {
            _board.Restore(_stored.Board);
        }
        catch (FormatException e)
        {
            AlarmLog.BoardUnusable(_logger, e.Message);
            var open = await ReadAsync(async token => await _reader.AlarmsAsync(new AlarmFilter { OnlyOpen = true }, token).ToListAsync(token), cancellation);
            _board.Adopt(open.OrderBy(alarm => alarm.Number), await ReadAsync(_reader.LastAlarmNumberAsync, cancellation));
        }

        try
        {
            _plan.Restore(_stored.Plan);
        }
        catch (FormatException e)
        {
            AlarmLog.PlanUnusable(_logger, e.Message);
        }

        if (_board.Open is { Count: > 0 } left)
            AlarmLog.Continued(_logger, left.Count);
    }

    private async Task<T> ReadAsync<T>(Func<CancellationToken, Task<T>> read, CancellationToken cancellation)
    {
        for (var isFirst = true; ; isFirst = false)
        {
            try
            {
                return await read(cancellation);
            }
            catch (HistoryException e) when (e is not HistoryCorruptException)
            {
                if (isFirst)
                    AlarmLog.MemoryUnread(_logger, e.Message);
            }

            await Task.Delay(ReadRetry, _time, cancellation);
        }
    }

    private async Task StepAsync(bool isLook, bool withProbes, CancellationToken looking, CancellationToken cancellation)
    {
        TakeOver();
        _queue.TakeAll(_changes);
        var now = _time.GetUtcNow();
        if (withProbes)
            _probes.Look(now, _changes);
        var changed = _changes.Count > 0;
        if (isLook)
            _board.Advance(now);

        // A saw's loop may still have told of a rule that is gone since.
        foreach (var change in _changes.Where(_board.Knows))
            _board.Take(change);
        _changes.Clear();
        var answered = isLook ? await TakeAnswersAsync(now, cancellation) : [];

        var events = new List<AlarmEvent>();
        while (_board.TryTake(out var happened))
        {
            events.Add(happened);
            _plan.Take(happened, now);
        }

        var notices = new List<Notice>();
        _plan.Advance(now);
        while (_plan.TryTake(out var notice))
            notices.Add(notice);
        if (changed || events.Count > 0 || notices.Count > 0 || answered.Count > 0)
            await StoreAsync(events, notices, answered, looking, cancellation);
    }

    private async Task StoreAsync(List<AlarmEvent> events, List<Notice> notices, List<AnswerOutcome> answered, CancellationToken looking, CancellationToken cancellation)
    {
        var memory = new AlarmMemory(_board.Save(), _plan.Save());
        if (events.Count == 0 && notices.Count == 0 && answered.Count == 0 && memory == _stored)
            return;
        await LookingAsync(_writer.AppendAlarmsAsync(new AlarmBatch { Events = events, Notices = notices, Memory = memory == _stored ? null : memory, Answered = answered }, cancellation), looking, cancellation);
        _stored = memory;
        foreach (var happened in events)
        {
            if (_onEvent is not null)
                _onEvent(happened);
            else
                Say(happened);
        }
    }

    // What a probe tells while the disk refuses comes behind what waits in the queue already; trouble that is over when the step is stored has been seen.
    private async Task LookingAsync(Task stored, CancellationToken looking, CancellationToken cancellation)
    {
        while (!stored.IsCompleted)
        {
            using var over = CancellationTokenSource.CreateLinkedTokenSource(cancellation);
            var isOver = await Task.WhenAny(stored, Task.Delay(LookEvery, _time, over.Token)) == stored;
            await over.CancelAsync();
            if (isOver || looking.IsCancellationRequested || cancellation.IsCancellationRequested)
                break;
            _probes.Look(_time.GetUtcNow(), _seenMeanwhile);
            foreach (var change in _seenMeanwhile)
                _queue.Offer(change);
            _seenMeanwhile.Clear();
        }

        await stored;
    }

    private async Task<List<AnswerOutcome>> TakeAnswersAsync(DateTimeOffset now, CancellationToken cancellation)
    {
        IReadOnlyList<StoredAnswer> answers;
        // The board holds what is open; people remark on what is closed too.
        var meant = new Dictionary<long, Alarm?>();
        try
        {
            answers = await _reader.OpenAnswersAsync(cancellation);
            foreach (var number in answers.Select(stored => stored.Answer.Number).Where(number => number > 0).Distinct())
                meant[number] = await _reader.AlarmAsync(number, cancellation);
        }
        catch (HistoryException e) when (e is not HistoryCorruptException)
        {
            if (!_answersInTrouble)
                AlarmLog.AnswersUnread(_logger, e.Message);
            _answersInTrouble = true;
            return [];
        }

        if (_answersInTrouble)
            AlarmLog.AnswersReadAgain(_logger);
        _answersInTrouble = false;
        return [.. answers.Select(stored => new AnswerOutcome(stored.Id, _board.Take(stored.Answer, now, meant.GetValueOrDefault(stored.Answer.Number))))];
    }

    private void Say(AlarmEvent happened)
    {
        if (happened.Alarm is not { } alarm)
            return;
        var isHeldBack = happened.After is AlarmState.Shelved or AlarmState.SuppressedByDesign or AlarmState.OutOfService;
        switch (happened.Kind)
        {
            case AlarmEventKind.Raised when isHeldBack:
                AlarmLog.Unannounced(_logger, alarm.Number, happened.After.ToName(), alarm.Text, alarm.Rule, alarm.Subject);
                break;
            case AlarmEventKind.Raised:
                AlarmLog.Raised(_logger, alarm.Number, alarm.Severity.ToName(), alarm.Text, alarm.Rule, alarm.Subject);
                break;
            case AlarmEventKind.Cleared:
                AlarmLog.Cleared(_logger, alarm.Number, alarm.Rule, alarm.Subject);
                break;
            case AlarmEventKind.Chattering:
                AlarmLog.Chattering(_logger, alarm.Number, alarm.Rule, alarm.Subject);
                break;
            default:
                if (happened.Who.Length > 0)
                    AlarmLog.Answered(_logger, alarm.Number, alarm.Rule, alarm.Subject, happened.Kind.ToName(), happened.Who, happened.Note);
                break;
        }
    }

    /// <summary>What takes the place of what holds.</summary>
    private sealed record Exchange(AlarmBoard Board, NoticePlan Plan, Func<ProbeWatch, ProbeWatch> Probes, TaskCompletionSource Done);
}
