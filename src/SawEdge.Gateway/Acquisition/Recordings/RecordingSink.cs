using System.Threading.Channels;
using Microsoft.Extensions.Logging;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Acquisition.Recordings;

/// <summary>
/// Records the frames of the live gateway: a new file each start, and whenever one has grown as large or as old as a file may; what becomes of
/// those that are ended is for <see cref="RecordingArchive"/>. Giving a frame never waits; a program that is killed loses at most a second of
/// the recording. Where the disk fails, that is said once, frames are left out and counted, and a new file is begun as soon as one can be.
/// </summary>
public sealed class RecordingSink : IDisposable
{
    private const int Capacity = 16 * 1024;
    private const int FlushAtBytes = 256 * 1024;
    private static readonly TimeSpan FlushEvery = TimeSpan.FromMilliseconds(500);

    private readonly RecordOptions _options;
    private readonly RecordingArchive _archive;
    private readonly IReadOnlyList<Signal> _signals;
    private readonly TimeProvider _time;
    private readonly ILogger _logger;
    private readonly Channel<(string Saw, SignalFrame Frame)> _frames;
    private RecordingWriter? _writer;
    private DateTimeOffset _endsAt;
    private string _file = "";
    private string _saidFile = "";
    private bool _hasBegun;
    private bool _failed;
    private bool _saidBehind;
    private long _lost;
    private long _unflushed;
    private long _recorded;

    /// <summary>Prepares a recording; the file is begun with the first frame.</summary>
    /// <param name="options">Where to record, and when a file is ended; the folder is made where it is not there.</param>
    /// <param name="signals">The configured signals of all saws: the columns.</param>
    /// <param name="time">Clock of the file's name and of the flushes.</param>
    /// <param name="logger">Where to say what happens.</param>
    public RecordingSink(RecordOptions options, IEnumerable<Signal> signals, TimeProvider time, ILogger<RecordingSink> logger)
    {
        _options = options;
        _archive = new RecordingArchive(options, logger);
        _signals = [.. signals.Distinct()];
        _time = time;
        _logger = logger;
        _frames = Channel.CreateBounded<(string, SignalFrame)>(
            new BoundedChannelOptions(Capacity) { FullMode = BoundedChannelFullMode.DropWrite, SingleReader = true },
            _ => NoteBehind());
    }

    /// <summary>Frames that are missing from the recording.</summary>
    public long Lost => Interlocked.Read(ref _lost);

    /// <summary>Frames that are in the recording, on disk or on the way there by the system.</summary>
    public long Recorded => Interlocked.Read(ref _recorded);

    /// <summary>Gives a frame; never waits.</summary>
    /// <param name="saw">Name of the saw.</param>
    /// <param name="frame">The frame.</param>
    public void Offer(string saw, in SignalFrame frame) => _frames.Writer.TryWrite((saw, frame));

    /// <summary>Says that no frame will follow: <see cref="RunAsync"/> ends when all are written.</summary>
    public void Complete() => _frames.Writer.TryComplete();

    /// <summary>Writes until <see cref="Complete"/>, or until cancelled; then what was given is still written.</summary>
    public async Task RunAsync(CancellationToken cancellation)
    {
        using var tick = new PeriodicTimer(FlushEvery, _time);
        _archive.Start();
        try
        {
            var more = _frames.Reader.WaitToReadAsync(cancellation).AsTask();
            var due = tick.WaitForNextTickAsync(cancellation).AsTask();
            while (true)
            {
                if (await Task.WhenAny(more, due) == due)
                {
                    await due;
                    Guard(Flush);
                    if (_writer is not null && _time.GetUtcNow() >= _endsAt)
                        Guard(End);
                    due = tick.WaitForNextTickAsync(cancellation).AsTask();
                    continue;
                }

                if (!await more)
                    break;
                WriteWhatIsThere();
                more = _frames.Reader.WaitToReadAsync(cancellation).AsTask();
            }
        }
        catch (OperationCanceledException) when (cancellation.IsCancellationRequested)
        {
            // The orderly end: what was given is still written, below.
        }
        finally
        {
            WriteWhatIsThere();
            Guard(Flush);
            _archive.Stop();
            Guard(Close);
            if (_file.Length > 0)
                RecordingLog.Ended(_logger, Recorded, _file, Lost);
        }
    }

    /// <summary>Closes the file; to be called when <see cref="RunAsync"/> has ended.</summary>
    public void Dispose()
    {
        Complete();
        Guard(Close);
        _archive.Dispose();
    }

    private void WriteWhatIsThere()
    {
        while (_frames.Reader.TryRead(out var item))
        {
            // After a failure the next tick tries again, not each frame.
            if (_failed || (_writer is null && !Guard(Open)))
            {
                Interlocked.Increment(ref _lost);
                continue;
            }

            _writer!.Write(item.Saw, in item.Frame);
            _unflushed++;
            if (_writer.Length >= _options.RollBytes)
                Guard(End);
            else if (_writer.Pending >= FlushAtBytes)
                Guard(Flush);
        }
    }

    private void Open()
    {
        if (_writer is not null)
            return;
        var now = _time.GetUtcNow();
        var stream = _archive.Begin(now);
        _file = stream.Name;
        _endsAt = new DateTimeOffset(((now.UtcTicks / _options.RollAfter.Ticks) + 1) * _options.RollAfter.Ticks, TimeSpan.Zero);
        _writer = new RecordingWriter(stream, _signals);
        _unflushed = 0;
    }

    // The next frame begins a new file.
    private void End()
    {
        Flush();
        Close();
    }

    private void Flush()
    {
        // One attempt a tick to begin again after a failure.
        var resuming = _failed;
        _failed = false;
        if (resuming)
            Open();
        if (_writer is null)
            return;
        _writer.Flush();
        Interlocked.Add(ref _recorded, _unflushed);
        if (resuming)
            RecordingLog.Resumed(_logger, _file, Lost);
        else if (!_hasBegun)
            RecordingLog.Started(_logger, _file);
        else if (_saidFile != _file)
            RecordingLog.GoesOn(_logger, _file);
        _hasBegun = true;
        _saidFile = _file;
        _unflushed = 0;
    }

    private void Close()
    {
        var writer = _writer;
        _writer = null;
        try
        {
            writer?.Dispose();
        }
        finally
        {
            _archive.Ended();
        }
    }

    // Runs a step that touches the disk; a failure closes the file and is said once until it is over.
    private bool Guard(Action step)
    {
        var before = _failed;
        try
        {
            step();
            return true;
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            _failed = true;
            Interlocked.Add(ref _lost, _unflushed);
            _unflushed = 0;
            var writer = _writer;
            _writer = null;
            writer?.Abandon();
            _archive.Ended();
            if (!before)
                RecordingLog.Failed(_logger, _options.Folder, e.Message);
            return false;
        }
    }

    private void NoteBehind()
    {
        Interlocked.Increment(ref _lost);
        if (_saidBehind)
            return;
        _saidBehind = true;
        RecordingLog.Behind(_logger);
    }
}
