using System.Buffers;
using Microsoft.Extensions.Logging;
using SawEdge.Core;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Processing.Alarms;
using SawEdge.Gateway.Telemetry;

namespace SawEdge.Gateway.Processing;

/// <summary>Is shown a frame of a saw; must not wait.</summary>
internal delegate void FrameTap(string saw, in SignalFrame frame);

/// <summary>
/// The loop of one saw: takes its frames one by one through the pipeline and stores what comes out. While a cycle is
/// open its frames are stored every few seconds, so that a start after a power cut takes the cut up where it was.
/// </summary>
internal sealed partial class SawProcessor
{
    /// <summary>How often the frames of an open cycle are stored: what a power cut can lose of a cut.</summary>
    public static readonly TimeSpan StoreInterval = TimeSpan.FromSeconds(2);

    /// <summary>Frames kept from before a cycle was known to be open.</summary>
    private const int LookBack = 256;

    private readonly SawInbox _inbox;
    private readonly SawPipeline _pipeline;
    private readonly HistoryWriter _history;
    private readonly TimeProvider _time;
    private readonly ILogger _logger;
    private readonly SawSetup _setup;
    private readonly CutStorage _storage;
    private readonly SharedBlades _sharedBlades;
    private readonly Action<FinishedCut>? _onFinished;
    private readonly FrameTap? _onFrame;
    private readonly SawAlarms? _alarms;
    private readonly SawLive? _live;
    private readonly SawSamples? _samples;
    private readonly SignalFrame[] _recent = new SignalFrame[LookBack];
    private readonly ArrayBufferWriter<byte> _unsaved = new(16 * 1024);
    private int _recentCount;
    private bool _storing;
    private int _part;
    private long _storedAt;
    private long _lostSaid;
    private bool _behind;
    private long _turns;
    private bool _givesAway;
    private bool _mayEnd;
    private DateTimeOffset? _lastTaken;

    // The memory that belongs to the stored frames of an open cycle: it must not hold what those frames taught.
    private PipelineMemory? _stored;

    /// <summary>Prepares the loop of one saw.</summary>
    /// <param name="inbox">Where its frames come from.</param>
    /// <param name="pipeline">Its pipeline.</param>
    /// <param name="setup">What computing records anew needs to know of the saw.</param>
    /// <param name="history">Where finished cycles go.</param>
    /// <param name="time">The clock.</param>
    /// <param name="logger">Where it speaks.</param>
    /// <param name="sharedBlades">Watches the blades of all saws; null: of this one alone.</param>
    /// <param name="onFinished">Told of each new finished cut once it is on the disk, or null.</param>
    /// <param name="onFrame">Shown each new frame, or null.</param>
    /// <param name="alarms">The rules about the saw, or null.</param>
    /// <param name="live">Where it shows what the saw does now, or null.</param>
    /// <param name="sampleEvery">Length of the intervals of which downsampled signals are kept; null: none are kept.</param>
    /// <param name="doubt">Says why the clock is not to be trusted as it is now, or null where nothing speaks against it; null: it always is.</param>
    public SawProcessor(
        SawInbox inbox,
        SawPipeline pipeline,
        SawSetup setup,
        HistoryWriter history,
        TimeProvider time,
        ILogger<SawProcessor> logger,
        SharedBlades? sharedBlades = null,
        Action<FinishedCut>? onFinished = null,
        FrameTap? onFrame = null,
        SawAlarms? alarms = null,
        SawLive? live = null,
        TimeSpan? sampleEvery = null,
        Func<string?>? doubt = null)
    {
        _samples = sampleEvery is { } every ? new SawSamples(pipeline.Saw, every, history, logger) : null;
        _live = live;
        _doubt = doubt;
        _shift = inbox.Clock is { } clock ? new ClockShift(clock) : null;
        _setup = setup;
        _storage = new CutStorage(setup.Blade);
        _sharedBlades = sharedBlades ?? new SharedBlades();
        _inbox = inbox;
        _pipeline = pipeline;
        _history = history;
        _time = time;
        _logger = logger;
        _onFinished = onFinished;
        _onFrame = onFrame;
        _alarms = alarms;
    }

    /// <summary>The saw's pipeline.</summary>
    public SawPipeline Pipeline => _pipeline;

    /// <summary>How long after the first frame the start of a cycle may be found that belongs to another gateway, which watches the saw in turns with this one; null: all cycles are this one's.</summary>
    public TimeSpan? LeavesOutWithin { get; init; }

    /// <summary>Whether nothing that belongs to this gateway is open, having been told to <see cref="GiveAway"/>. Safe for any thread.</summary>
    public bool MayEnd => Volatile.Read(ref _mayEnd);

    /// <summary>From the next frame on no cycle is begun here any more: another gateway watches the saw. For another thread.</summary>
    public void GiveAway() => Volatile.Write(ref _givesAway, true);

    /// <summary>Rises with each frame that was taken, and with each record that is computed anew. Safe for any thread.</summary>
    public long Turns => Volatile.Read(ref _turns);

    /// <summary>Continues where the last run stopped, then processes frames until the inbox is completed.</summary>
    /// <param name="reader">The history, for what the last run left.</param>
    /// <param name="cancellation">Ends at once; a clean stop completes the inbox instead.</param>
    public async Task RunAsync(HistoryReader reader, CancellationToken cancellation)
    {
        using (var span = Spans.Part("restore"))
        {
            span?.SetTag("sawedge.saw", _pipeline.Saw);
            await RestoreStatesAsync(reader, cancellation);
            await RestoreAsync(reader, cancellation);
        }

        ShowBlades();
        var finished = new List<FinishedCut>();
        while (await FramesOrEntriesAsync(cancellation))
        {
            await TakeEntriesAsync(reader, cancellation);
            if (_alarms is { HasNewRules: true })
                await _alarms.RenewAsync(reader, _pipeline.Saw, _pipeline.HasOpenEnds, cancellation);
            while (!HasNewEntries && _alarms is not { HasNewRules: true } && _inbox.Frames.TryRead(out var frame))
            {
                TakeJobs();
                LookAtClock(ref frame);
                _onFrame?.Invoke(_pipeline.Saw, frame);
                LookAtHandOver(frame);
                Take(frame, finished);
                if (_pipeline.TookLast)
                    _alarms?.Push(frame, _pipeline);
                WatchState(frame);
                if (_samples is not null)
                    await _samples.PushAsync(frame, reader, cancellation);
                _live?.Push(frame, _pipeline, _states);
                SayFindings();
                Turned();
                SayUnseen();
                SayLeftOut();
                if (finished.Count > 0)
                    await StoreFinishedAsync(finished, reader, cancellation);
                else if (_pipeline.HasOwnOpenEnds && (!_storing || _time.GetElapsedTime(_storedAt) >= StoreInterval))
                    await StoreOpenAsync(cancellation);
                else if (!_pipeline.HasOwnOpenEnds && (_storing || CounterIsDue))
                    await StoreIdleAsync(cancellation);
                if (StatesAreDue || _samples?.AreDue(_time.GetElapsedTime(_seenStoredAt)) == true)
                    await StoreSeenAsync(cancellation);
                if (ScrapIsDue)
                    await StoreScrapAsync(cancellation);
                Volatile.Write(ref _mayEnd, _pipeline.HandOver?.GivenAwayAt is not null && !_pipeline.HasOwnOpenEnds);
            }

            SayLosses();
        }

        _states.Complete();
        _samples?.Complete();
        await StoreSeenAsync(cancellation);
        if (_pipeline.HasOwnOpenEnds)
            await StoreOpenAsync(cancellation);
        else
            await StoreIdleAsync(cancellation);
    }

    private void Take(in SignalFrame frame, List<FinishedCut> finished)
    {
        _recent[_recentCount++ % LookBack] = frame;
        if (_storing)
            FrameCodec.Write(_unsaved, frame);
        _pipeline.Push(frame);
        while (_pipeline.TryTake(out var cut))
            finished.Add(cut);
    }

    private async Task StoreFinishedAsync(List<FinishedCut> finished, HistoryReader reader, CancellationToken cancellation)
    {
        using var spans = CycleSpans.Begin(finished, _time.GetUtcNow());
        var began = _time.GetTimestamp();
        await KeepApartAsync(finished, reader, cancellation);
        var rows = _storage.Rows(finished, _pipeline.Recorder);
        rows[^1] = rows[^1] with { SawState = Memory(), OpenFrames = _pipeline.HasOwnOpenEnds ? RecentFrames() : null };
        await _history.AppendAsync(rows, cancellation);
        ProcessingLog.CyclesStored(_logger, _pipeline.Saw, rows.Length, _time.GetElapsedTime(began).TotalMilliseconds);
        ShowBlades();
        BeginParts();
        foreach (var cut in finished)
            Say(cut);
        finished.Clear();
    }

    private void ShowBlades()
    {
        if (_live is not null)
            _live.Blades = _pipeline.Recorder.Blades;
    }

    private async Task StoreOpenAsync(CancellationToken cancellation)
    {
        if (!_storing)
        {
            await _history.SaveStateAsync(_pipeline.Saw, Memory(), RecentFrames(), cancellation);
            BeginParts();
            return;
        }

        if (_unsaved.WrittenCount > 0)
        {
            await _history.SaveOpenFramesAsync(_pipeline.Saw, _part++, _unsaved.WrittenMemory, cancellation);
            _unsaved.ResetWrittenCount();
        }

        _storedAt = _time.GetTimestamp();
    }

    private async Task StoreIdleAsync(CancellationToken cancellation)
    {
        await _history.SaveStateAsync(_pipeline.Saw, Memory(), null, cancellation);
        _storing = false;
        _unsaved.ResetWrittenCount();
        _storedAt = _time.GetTimestamp();
    }

    private void BeginParts()
    {
        _storing = _pipeline.HasOwnOpenEnds;
        _part = 1;
        _unsaved.ResetWrittenCount();
        _storedAt = _time.GetTimestamp();
    }

    // From the first that the open cycle needs on; of those before it, it was decided already what they are.
    private ReadOnlyMemory<byte> RecentFrames()
    {
        var frames = new ArrayBufferWriter<byte>(16 * 1024);
        var first = _recentCount - 1;
        while (first > Math.Max(0, _recentCount - LookBack) && _recent[first % LookBack].Time != _pipeline.NeededFrom)
            first--;
        for (var i = Math.Max(0, first); i < _recentCount; i++)
            FrameCodec.Write(frames, _recent[i % LookBack]);
        return frames.WrittenMemory;
    }

    private void SayLosses()
    {
        var lost = _inbox.Lost;
        if (lost > _lostSaid && !_behind)
        {
            _behind = true;
            ProcessingLog.FramesLost(_logger, _pipeline.Saw, lost);
        }
        else if (lost == _lostSaid && _behind && _inbox.Frames.Count == 0)
        {
            _behind = false;
            ProcessingLog.CaughtUp(_logger, _pipeline.Saw, lost);
        }

        _lostSaid = lost;
    }
}
