using System.Globalization;
using System.Threading.Channels;
using SawEdge.Core;
using SawEdge.Core.Blades;
using SawEdge.Core.Cutting;
using SawEdge.Core.Cycles;
using SawEdge.Core.Load;
using SawEdge.Core.Signals;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Processing;

/// <content>What outlives a restart, entries about blades, and what is said of cuts.</content>
internal sealed partial class SawProcessor
{
    private readonly Channel<long> _news = Channel.CreateBounded<long>(new BoundedChannelOptions(1) { FullMode = BoundedChannelFullMode.DropOldest });
    private Task<bool>? _frames;
    private Task<bool>? _entries;
    private long _knownEntries;
    private long _newestEntry;
    private JobBook? _nextJobs;

    private bool HasNewEntries => Volatile.Read(ref _newestEntry) > _knownEntries;

    /// <summary>Says that entries about blades, of whatever saw, have come up to a number: they are taken over between two frames. For another thread.</summary>
    public void OfferEntries(long newest)
    {
        if (newest <= Volatile.Read(ref _newestEntry))
            return;
        Volatile.Write(ref _newestEntry, newest);
        _news.Writer.TryWrite(newest);
    }

    /// <summary>Gives another job list, which holds from the next cycle on that is finished; taken over between two frames. For another thread.</summary>
    public void OfferJobs(JobBook jobs) => Volatile.Write(ref _nextJobs, jobs);

    private void TakeJobs()
    {
        if (Volatile.Read(ref _nextJobs) is not null && Interlocked.Exchange(ref _nextJobs, null) is { } jobs)
            _pipeline.Jobs = jobs;
    }

    // Whether there are frames or entries; false once no frame will follow. Each wait goes on until it ends, however often it is asked for.
    private async Task<bool> FramesOrEntriesAsync(CancellationToken cancellation)
    {
        _frames ??= _inbox.Frames.WaitToReadAsync(cancellation).AsTask();
        if (!_frames.IsCompleted)
        {
            _entries ??= _news.Reader.WaitToReadAsync(cancellation).AsTask();
            await Task.WhenAny(_frames, _entries);
            if (_entries.IsCompleted)
            {
                await _entries;
                _entries = null;
                _news.Reader.TryRead(out _);
                if (!_frames.IsCompleted)
                    return true;
            }
        }

        var more = await _frames;
        _frames = null;
        return more;
    }

    private async Task RestoreAsync(HistoryReader reader, CancellationToken cancellation)
    {
        var saved = await reader.LoadSawAsync(_pipeline.Saw, cancellation);
        var entries = await reader.BladeEntriesAsync(_pipeline.Saw, cancellation);
        _pipeline.Recorder.Entries = entries.Book;
        var (memory, frames) = Decode(saved);
        _storage.SinceCheckpoint = memory?.SinceCheckpoint ?? 0;
        _knownEntries = memory?.Entries ?? 0;
        Volatile.Write(ref _newestEntry, entries.Last);
        if (memory is not null)
        {
            _shift?.Resume(memory.Clock);
            _stored = memory.WithoutRecorder;
            _pipeline.Restore(_stored);
        }

        if (await ResumeAsync(reader, memory, entries.Book, cancellation) is { } unusable)
            await RebuildAsync(reader, null, unusable, cancellation);
        await TakeEntriesAsync(reader, cancellation);
        if (_alarms is not null)
            await _alarms.WarmAsync(reader, _pipeline.Saw, isCutting: frames.Count > 0, cancellation);

        var finished = new List<FinishedCut>();
        foreach (var frame in _pipeline.NotHandedOut(frames))
            Take(frame, finished);

        // What these frames let the live watch find was said when they came; whether its alarm was stored before the stop is for the desk to know.
        var findings = new List<LiveFinding>();
        while (_pipeline.TryTakeFinding(out var finding))
            findings.Add(finding);
        var closedAt = finished.Count > 0 ? finished[^1].Record.EndedAt : DateTimeOffset.MinValue;
        TakeFindings(findings.Where(finding => finding.At <= closedAt));
        if (finished.Count > 0)
        {
            await StoreFinishedAsync(finished, reader, cancellation);
        }
        else if (memory is not null)
        {
            // What is stored stays, and further parts follow it.
            BeginParts();
            _part = saved.OpenFrames.Count;
        }

        TakeFindings(findings.Where(finding => finding.At > closedAt));

        // What stored frames tell of unseen parts was said when they came.
        while (_pipeline.TryTakeUnseen(out _))
        {
        }

        _pipeline.Resume(_statesUntil);
        if (_pipeline.HasOpenEnds)
            ProcessingLog.CycleContinued(_logger, _pipeline.Saw, frames.Count);
    }

    private (SavedMemory? Memory, List<SignalFrame> Frames) Decode(SavedSaw saved)
    {
        var frames = new List<SignalFrame>();
        if (saved.State is not { } state)
            return (null, frames);
        try
        {
            var memory = MemoryCodec.Decode(state);
            foreach (var part in saved.OpenFrames)
                frames.AddRange(FrameCodec.Read(part));
            return (memory, frames);
        }
        catch (FormatException e)
        {
            ProcessingLog.StateUnusable(_logger, _pipeline.Saw, e.Message);
            return (null, []);
        }
    }

    // Null where the recorder goes on; otherwise why it cannot.
    private async Task<string?> ResumeAsync(HistoryReader reader, SavedMemory? memory, BladeBook entries, CancellationToken cancellation)
    {
        if (memory?.Recorder is not { } recorder)
            return memory?.Unusable ?? "nothing usable was stored of what the saw had learned";
        try
        {
            _pipeline.Recorder = await Rebuild.ResumeAsync(reader, _setup, recorder, entries, cancellation);
            return null;
        }
        catch (FormatException e)
        {
            return e.Message;
        }
    }

    private async Task TakeEntriesAsync(HistoryReader reader, CancellationToken cancellation)
    {
        if (!HasNewEntries)
            return;
        var newest = Volatile.Read(ref _newestEntry);
        if (await reader.EarliestNewEntryAsync(_pipeline.Saw, _knownEntries, cancellation) is { } from)
            await RebuildAsync(reader, from, $"entries about blades from {from:yyyy-MM-dd HH:mm}Z on", cancellation);

        // Others were of other saws.
        _knownEntries = Math.Max(_knownEntries, newest);
    }

    private async Task RebuildAsync(HistoryReader reader, DateTimeOffset? from, string reason, CancellationToken cancellation)
    {
        var started = _time.GetTimestamp();
        var outcome = await new Rebuild(reader, _history, _setup) { OnCycle = Turned }.RunAsync(from, cancellation);
        _pipeline.Recorder = outcome.Recorder;
        ShowBlades();
        _storage.SinceCheckpoint = outcome.SinceCheckpoint;
        _knownEntries = outcome.Entries;

        // A saw of which nothing is known yet has nothing to be said or stored.
        if (outcome.Cycles == 0 && from is null)
            return;
        await _history.SaveMemoryAsync(_pipeline.Saw, MemoryCodec.Encode(outcome.Into(_storing && _stored is not null ? _stored : _pipeline.Save()), _knownEntries, _storage.SinceCheckpoint, _shift?.Saved), cancellation);
        ProcessingLog.Rebuilt(_logger, _pipeline.Saw, outcome.Cycles, _time.GetElapsedTime(started).TotalSeconds, outcome.Changed, reason);
        if (outcome.StayedUpTo is { } stayed)
            ProcessingLog.RecordsStayed(_logger, _pipeline.Saw, stayed);
        if (outcome.Unreadable > 0)
            ProcessingLog.JobsUnreadable(_logger, _pipeline.Saw, outcome.Unreadable);
    }

    // This loop alone counts; others read.
    private void Turned() => Volatile.Write(ref _turns, _turns + 1);

    private SawState Memory()
    {
        _stored = _pipeline.Save();
        return MemoryCodec.Encode(_stored, _knownEntries, _storage.SinceCheckpoint, _shift?.Saved);
    }

    private void SayFindings()
    {
        while (_pipeline.TryTakeFinding(out var finding))
        {
            ProcessingLog.LiveFinding(_logger, _pipeline.Saw, finding.Words);
            _alarms?.Take(finding);
        }
    }

    // What the counter did between two cycles was seen: after a restart it must not be taken for what happened while nobody looked.
    private bool CounterIsDue => _pipeline.PartCount != _stored?.Detector.PartCount && _time.GetElapsedTime(_storedAt) >= StoreInterval;

    private void SayUnseen()
    {
        while (_pipeline.TryTakeUnseen(out var unseen))
            ProcessingLog.Unseen(_logger, _pipeline.Saw, unseen.Words);
    }

    private void TakeFindings(IEnumerable<LiveFinding> findings)
    {
        foreach (var finding in findings)
            _alarms?.Take(finding);
    }

    private static string Seconds(double? seconds) => seconds is { } known ? string.Create(CultureInfo.InvariantCulture, $"{known} s") : "not known";

    private void Say(FinishedCut cut)
    {
        var record = cut.Record;
        if (cut.IsCorrection)
        {
            // Handed out before: whoever counts cuts must not count it again.
            ProcessingLog.CycleCorrected(_logger, record.Saw, record.CycleId);
            return;
        }

        ProcessingLog.CycleFinished(_logger, record.Saw, record.Outcome.ToName(), record.Job, Seconds(record.CutTimeS), Seconds(record.StandardCutTimeS), record.CycleId);
        _alarms?.Take(record, cut.Assessment);
        if (_sharedBlades.Take(record.Saw, record.Blade, record.EndedAt) is { } other)
            ProcessingLog.SharedBlade(_logger, record.Saw, other, record.Blade);
        _onFinished?.Invoke(cut);
    }
}
