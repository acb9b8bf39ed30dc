using System.IO.Compression;
using System.Runtime.InteropServices;
using Microsoft.Extensions.Logging;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Formats;

namespace SawEdge.Gateway.Acquisition.Recordings;

/// <summary>
/// What becomes of recordings that are ended: each is compressed in a thread of the lowest priority, and the oldest are removed before the
/// folder holds more than it may. A compressed file takes the place of the plain one only when it is whole and on the disk; a
/// compression that was broken off leaves the plain file, and is done anew at the next start. Only files with the names of
/// the gateway's own are touched, and never one that is still written.
/// </summary>
internal sealed class RecordingArchive : IDisposable
{
    private const int Chunk = 256 * 1024;

    private readonly RecordOptions _options;
    private readonly ILogger _logger;
    private readonly Lock _gate = new();
    private readonly AutoResetEvent _news = new(initialState: true);
    private Thread? _thread;
    private string? _open;
    private volatile bool _ends;
    private bool _inTrouble;
    private bool _cannotRemove;

    /// <summary>Prepares the archive of one folder.</summary>
    /// <param name="options">The folder, and how much it may hold.</param>
    /// <param name="logger">Where to say what is removed, and what cannot be.</param>
    public RecordingArchive(RecordOptions options, ILogger logger)
    {
        _options = options;
        _logger = logger;
    }

    /// <summary>Takes up what an earlier run left, then compresses what is ended.</summary>
    public void Start()
    {
        if (!_options.Compresses || _thread is not null)
            return;
        _thread = new Thread(Work) { IsBackground = true, Name = "recordings", Priority = ThreadPriority.Lowest };
        _thread.Start();
    }

    /// <summary>Makes room for a new file, and finds it a name. Called before the file is begun.</summary>
    /// <param name="now">When it is begun.</param>
    /// <returns>The new file.</returns>
    public FileStream Begin(DateTimeOffset now)
    {
        Directory.CreateDirectory(_options.Folder);
        MakeRoom(_options.RollBytes);
        var begun = new DateTime(now.UtcTicks - (now.UtcTicks % TimeSpan.TicksPerSecond), DateTimeKind.Utc);
        for (var number = 1; ; number++)
        {
            var file = Full(new RecordingName(begun, number, RecordingForm.Plain));
            if (File.Exists(file) || File.Exists(file + ".gz"))
                continue;
            var stream = new FileStream(file, new FileStreamOptions { Mode = FileMode.CreateNew, Access = FileAccess.Write, Share = FileShare.Read, BufferSize = 0 });
            lock (_gate)
                _open = file;
            return stream;
        }
    }

    /// <summary>Says that the file that was begun is ended. One into which nothing could be written is removed.</summary>
    public void Ended()
    {
        lock (_gate)
        {
            var ended = _open;
            _open = null;
            if (ended is not null && new FileInfo(ended) is { Exists: true, Length: 0 } empty)
                empty.Delete();
        }

        if (!_ends)
            _news.Set();
    }

    /// <summary>Ends the thread: what it has begun is broken off, and what is ended from now on waits for the next start.</summary>
    public void Stop()
    {
        if (_ends)
            return;
        _ends = true;
        _news.Set();
        _thread?.Join();
    }

    /// <inheritdoc/>
    public void Dispose()
    {
        Stop();
        _news.Dispose();
    }

    // Nothing is removed that the bound does not ask for.
    private void MakeRoom(long forBytes)
    {
        lock (_gate)
        {
            var files = Own().Select(found => (found.Name, File: new FileInfo(found.Path))).Where(found => found.File.Exists).ToList();
            var size = files.Sum(found => found.File.Length);
            foreach (var (name, file) in files.OrderBy(found => found.Name))
            {
                if (size + forBytes <= _options.KeepBytes)
                    return;
                var length = file.Length;
                if (!IsWritten(name, file.FullName) && TryRemove(file))
                    size -= length;
            }
        }
    }

    // A file that cannot be removed must not end the recording of what comes.
    private bool TryRemove(FileInfo file)
    {
        try
        {
            file.Delete();
            RecordingLog.Removed(_logger, file.FullName, _options.KeepBytes / 1_000_000);
            _cannotRemove = false;
            return true;
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            if (!_cannotRemove)
                RecordingLog.NotRemoved(_logger, file.FullName, e.Message);
            _cannotRemove = true;
            return false;
        }
    }

    private void Work()
    {
        BeNice();
        while (!_ends)
        {
            _news.WaitOne();
            try
            {
                foreach (var draft in Own().Where(found => found.Name.Form == RecordingForm.Draft))
                    File.Delete(draft.Path);
                foreach (var (name, path) in Own().Where(found => found.Name.Form == RecordingForm.Plain).OrderBy(found => found.Name).ToList())
                {
                    if (!_ends && !IsWritten(name, path))
                        Compress(name, path);
                }

                if (_inTrouble)
                    RecordingLog.CompressesAgain(_logger, _options.Folder);
                _inTrouble = false;
            }
            catch (Exception e) when (e is IOException or UnauthorizedAccessException)
            {
                // The plain file is there still; the next file that is ended, or the next start, tries again.
                if (!_inTrouble)
                    RecordingLog.NotCompressed(_logger, _options.Folder, e.Message);
                _inTrouble = true;
            }
        }
    }

    private void Compress(RecordingName name, string path)
    {
        var draft = Full(name with { Form = RecordingForm.Draft });
        var packed = Full(name with { Form = RecordingForm.Compressed });
        try
        {
            if (!Pack(path, draft))
                return;
            lock (_gate)
            {
                // The bound may have removed it meanwhile.
                if (!File.Exists(path))
                    return;
                File.Move(draft, packed, overwrite: true);
                FolderFlush.Run(_options.Folder);
                File.Delete(path);
            }
        }
        finally
        {
            File.Delete(draft);
        }
    }

    private bool Pack(string path, string draft)
    {
        using var from = new FileStream(path, new FileStreamOptions { Share = FileShare.ReadWrite | FileShare.Delete, BufferSize = 0 });
        lock (_gate)
            MakeRoom((_open is null ? 0 : _options.RollBytes) + (from.Length / 2));
        using var to = new FileStream(draft, new FileStreamOptions { Mode = FileMode.Create, Access = FileAccess.Write, Share = FileShare.Read, BufferSize = 0 });
        using (var gzip = new GZipStream(to, CompressionLevel.Optimal, leaveOpen: true))
        {
            var chunk = new byte[Chunk];
            for (int read; (read = from.Read(chunk)) > 0;)
            {
                if (_ends)
                    return false;
                gzip.Write(chunk, 0, read);
            }
        }

        to.Flush(flushToDisk: true);
        return true;
    }

    private List<(RecordingName Name, string Path)> Own()
    {
        var own = new List<(RecordingName, string)>();
        if (!Directory.Exists(_options.Folder))
            return own;
        foreach (var path in Directory.EnumerateFiles(_options.Folder, "recording-*"))
        {
            if (RecordingName.TryParse(path, out var name))
                own.Add((name, path));
        }

        return own;
    }

    // By this process, or by another one that was given the same folder.
    private bool IsWritten(RecordingName name, string path)
    {
        if (name.Form != RecordingForm.Plain)
            return false;
        lock (_gate)
        {
            if (path == _open)
                return true;
        }

        try
        {
            using var probe = new FileStream(path, FileMode.Open, FileAccess.Read, FileShare.None);
            return false;
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            // Written by another process, gone, or none of ours: to be left alone.
            return true;
        }
    }

    private string Full(RecordingName name) => Path.Combine(_options.Folder, name.ToString());

    // .NET gives threads no priority on Linux; the system itself does, to a thread that asks for itself (setpriority(2), which with 0 and 0 means the calling thread).
    private static void BeNice()
    {
        if (OperatingSystem.IsLinux())
            _ = setpriority(0, 0, 19);
    }

    [DllImport("libc", SetLastError = true)]
    private static extern int setpriority(int which, int who, int priority);
}
