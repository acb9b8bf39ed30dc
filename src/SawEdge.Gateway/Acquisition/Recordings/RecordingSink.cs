using System.Globalization;
using System.Threading.Channels;
using Microsoft.Extensions.Logging;
using SawEdge.Core.Signals;

namespace SawEdge.Gateway.Acquisition.Recordings;

/// <summary>
/// Records the frames of the live gateway: one file a start, its date in the name. Giving a frame never waits; a program that is
/// killed loses at most a second of the recording. Where the disk fails, that is said once, frames are left out and counted, and
/// a new file is begun as soon as one can be.
/// </summary>
public sealed class RecordingSink : IDisposable
{
    private const int Capacity = 16 * 1024;
    private const int FlushAtBytes = 256 * 1024;
    private static readonly TimeSpan FlushEvery = TimeSpan.FromMilliseconds(500);

    private readonly string _folder;
    private readonly IReadOnlyList<Signal> _signals;
    private readonly TimeProvider _time;
    private readonly ILogger _logger;
    private readonly Channel<(string Saw, SignalFrame Frame)> _frames;
    private RecordingWriter? _writer;
    private string _file = "";
    private bool _failed;
    private bool _saidBehind;
    private long _lost;
    private long _unflushed;
    private long _recorded;

    /// <summary>Prepares a recording; the file is begun with the first frame.</summary>
    /// <param name="folder">Folder of the recordings; made where it is not there.</param>
    /// <param name="signals">The configured signals of all saws: the columns.</param>
    /// <param name="time">Clock of the file's name and of the flushes.</param>
    /// <param name="logger">Where to say what happens.</param>
    public RecordingSink(string folder, IEnumerable<Signal> signals, TimeProvider time, ILogger<RecordingSink> logger)
    {
        _folder = folder;
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
            if (_writer.Pending >= FlushAtBytes)
                Guard(Flush);
        }
    }

    private void Open()
    {
        if (_writer is not null)
            return;
        Directory.CreateDirectory(_folder);
        var stem = Path.Combine(_folder, _time.GetUtcNow().ToString("'recording-'yyyy-MM-dd'T'HHmmss'Z'", CultureInfo.InvariantCulture));
        var stream = Create(stem, out var file);
        _writer = new RecordingWriter(stream, _signals);
        _file = file;
        _unflushed = 0;
    }

    private static FileStream Create(string stem, out string file)
    {
        for (var i = 1; ; i++)
        {
            file = i == 1 ? $"{stem}.csv" : string.Create(CultureInfo.InvariantCulture, $"{stem}-{i}.csv");
            if (!File.Exists(file))
                return new FileStream(file, new FileStreamOptions { Mode = FileMode.CreateNew, Access = FileAccess.Write, Share = FileShare.Read, BufferSize = 0 });
        }
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
        else if (_recorded == _unflushed && _unflushed > 0)
            RecordingLog.Started(_logger, _file);
        _unflushed = 0;
    }

    private void Close()
    {
        var writer = _writer;
        _writer = null;
        writer?.Dispose();
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
            if (!before)
                RecordingLog.Failed(_logger, _folder, e.Message);
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
