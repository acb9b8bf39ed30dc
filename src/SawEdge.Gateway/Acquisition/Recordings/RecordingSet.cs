using System.Security.Cryptography;

namespace SawEdge.Gateway.Acquisition.Recordings;

/// <summary>
/// Several recordings read as one, in the order of time: of the files that are open, the row with the earliest time comes next, so
/// that files that follow each other and files that run side by side (one a saw) both come as they would have come live. A file
/// is opened when its first time is reached. Files that a gateway wrote into one folder are one recording that goes on from file to
/// file: they are read one after another by their names, since the clocks of its saws need not agree, and frames of two of them
/// would change places where a file ends. The same files give the same frames in the same order, however they are given.
/// </summary>
public sealed class RecordingSet : IAsyncDisposable
{
    private readonly RecordingProblems _problems;
    private readonly string? _defaultSaw;
    private readonly RecordingLayouts? _layouts;
    private readonly Queue<Recording> _waiting = new();
    private readonly Dictionary<int, Recording> _followers;
    private readonly PriorityQueue<OpenFile, (long Ticks, int Order)> _open = new();
    private OpenFile? _current;
    private OpenFile? _starved;
    private long _bytesDone;

    private RecordingSet(IReadOnlyList<Recording> files, RecordingProblems problems, string? defaultSaw, RecordingLayouts? layouts)
    {
        Files = files;
        TotalBytes = files.Sum(file => file.Bytes);
        _problems = problems;
        _defaultSaw = defaultSaw;
        _layouts = layouts;
        _followers = Followers(files);
        var following = _followers.Values.ToHashSet();
        foreach (var file in files.Where(file => !following.Contains(file)))
            _waiting.Enqueue(file);
    }

    /// <summary>One file of the set.</summary>
    /// <param name="Path">The file.</param>
    /// <param name="Bytes">Its size.</param>
    /// <param name="Order">Its place in the set.</param>
    /// <param name="FirstSaw">The saw of its first row; empty where it holds no frame.</param>
    /// <param name="FirstTicks">The time of its first row, UTC ticks; 0 where it holds no frame.</param>
    public sealed record Recording(string Path, long Bytes, int Order, string FirstSaw, long FirstTicks);

    /// <summary>The files in the order in which they begin.</summary>
    public IReadOnlyList<Recording> Files { get; }

    /// <summary>Size of all files, bytes.</summary>
    public long TotalBytes { get; }

    /// <summary>Bytes of the files that were read so far.</summary>
    public long BytesRead => _bytesDone + (_current?.Reader.Position ?? 0) + (_starved?.Reader.Position ?? 0) + _open.UnorderedItems.Sum(item => item.Element.Reader.Position);

    /// <summary>Looks into each file, and puts them in order.</summary>
    /// <param name="inputs">Files, folders and patterns.</param>
    /// <param name="problems">Where to say what is wrong in them.</param>
    /// <param name="defaultSaw">The saw of files that have no column for it, or null: each file's own name.</param>
    /// <param name="layouts">How recordings of other loggers are read; null: none of them are.</param>
    /// <param name="cancellation">Ends the wait.</param>
    /// <exception cref="RecordingException">Something is missing, or a file that was named is no recording; all of that at once.</exception>
    public static async Task<RecordingSet> OpenAsync(IEnumerable<string> inputs, RecordingProblems problems, string? defaultSaw = null, RecordingLayouts? layouts = null, CancellationToken cancellation = default)
    {
        var files = new List<Recording>();
        var mistakes = new List<string>();
        foreach (var input in RecordingInputs.Find(inputs, problems))
        {
            try
            {
                files.Add(await LookIntoAsync(input.Path, defaultSaw, layouts, cancellation));
            }
            catch (RecordingException e) when (!input.Named)
            {
                problems.Add(input.Path, "", "no recording", 0, $"passed over, since it is no recording. {e.Message}");
            }
            catch (RecordingException e)
            {
                mistakes.Add(e.Message);
            }
        }

        if (mistakes.Count == 0 && files.Count == 0)
            mistakes.Add("none of the files is a recording: the first line of one is time,saw and signal names, separated by commas.");
        if (mistakes.Count > 0)
            throw new RecordingException(string.Join(Environment.NewLine, mistakes));

        files.Sort((a, b) => a.FirstTicks != b.FirstTicks ? a.FirstTicks.CompareTo(b.FirstTicks) : string.CompareOrdinal(a.Path, b.Path));
        var distinct = await LeaveOutCopiesAsync(files, problems, cancellation);
        return new RecordingSet([.. distinct.Select((file, order) => file with { Order = order })], problems, defaultSaw, layouts);
    }

    /// <summary>Gets more into memory; to be called whenever <see cref="TryRead"/> has no more.</summary>
    /// <returns>False at the end of all files.</returns>
    public async ValueTask<bool> FillAsync(CancellationToken cancellation = default)
    {
        if (_starved is not null)
        {
            await QueueOrCloseAsync(_starved, cancellation);
            _starved = null;
        }

        while (NextWaitingIsDue(_open.TryPeek(out _, out var earliest) ? earliest.Ticks : long.MaxValue))
        {
            if (await OpenAsync(_waiting.Dequeue(), cancellation) is { } next)
                await QueueOrCloseAsync(next, cancellation);
        }

        return _open.TryDequeue(out _current, out _);
    }

    /// <summary>Takes the next frame that is in memory.</summary>
    /// <param name="row">Where to put it.</param>
    /// <returns>False when more has to be filled in, or at the end.</returns>
    public bool TryRead(ref RecordedFrame row)
    {
        if (_current is not { } file)
            return false;
        row = file.Head;
        if (!file.TryAdvance())
        {
            _starved = file;
            _current = null;
        }
        else if (NextWaitingIsDue(file.Key.Ticks))
        {
            _open.Enqueue(file, file.Key);
            _current = null;
        }
        else if (_open.Count > 0)
        {
            _current = _open.EnqueueDequeue(file, file.Key);
        }

        return true;
    }

    /// <inheritdoc/>
    public async ValueTask DisposeAsync()
    {
        foreach (var file in _open.UnorderedItems.Select(item => item.Element).Append(_current).Append(_starved))
        {
            if (file is not null)
                await file.Reader.DisposeAsync();
        }

        _open.Clear();
        _current = null;
        _starved = null;
    }

    private bool NextWaitingIsDue(long ticks) => _waiting.TryPeek(out var next) && next.FirstTicks <= ticks;

    private async ValueTask QueueOrCloseAsync(OpenFile file, CancellationToken cancellation)
    {
        while (!file.TryAdvance())
        {
            if (await file.Reader.FillAsync(cancellation))
                continue;
            _bytesDone += file.Reader.Length;
            await file.Reader.DisposeAsync();
            if (!_followers.TryGetValue(file.Order, out var follower) || await OpenAsync(follower, cancellation) is not { } next)
                return;
            file = next;
        }

        _open.Enqueue(file, file.Key);
    }

    // Null where neither it nor what follows it can be read any more.
    private async Task<OpenFile?> OpenAsync(Recording? file, CancellationToken cancellation)
    {
        for (; file is not null; file = _followers.GetValueOrDefault(file.Order))
        {
            try
            {
                return new OpenFile(await RecordingReader.OpenAsync(file.Path, _problems, _defaultSaw, _layouts, cancellation), file.Order);
            }
            catch (RecordingException e)
            {
                // It could be read a moment ago, when the files were put in order.
                _problems.Add(file.Path, "", "gone", 0, e.Message);
            }
        }

        return null;
    }

    // By the order of a file: the one that goes on where it ends.
    private static Dictionary<int, Recording> Followers(IEnumerable<Recording> files)
    {
        var followers = new Dictionary<int, Recording>();
        var own = files.Select(file => (File: file, IsOwn: RecordingName.TryParse(file.Path, out var name), Name: name)).Where(file => file.IsOwn);
        foreach (var folder in own.GroupBy(file => Path.GetDirectoryName(Path.GetFullPath(file.File.Path))))
        {
            var inOrder = folder.OrderBy(file => file.Name).Select(file => file.File).ToList();
            foreach (var (file, follower) in inOrder.Zip(inOrder.Skip(1)))
                followers.Add(file.Order, follower);
        }

        return followers;
    }

    private static async Task<Recording> LookIntoAsync(string path, string? defaultSaw, RecordingLayouts? layouts, CancellationToken cancellation)
    {
        // What is wrong in the file is said when it is read.
        await using var reader = await RecordingReader.OpenAsync(path, new RecordingProblems(), defaultSaw, layouts, cancellation);
        var row = default(RecordedFrame);
        do
        {
            if (reader.TryRead(ref row))
                return new Recording(path, reader.Length, 0, row.Saw, row.Frame.Time.UtcTicks);
        }
        while (await reader.FillAsync(cancellation));
        return new Recording(path, reader.Length, 0, "", 0);
    }

    // Two files that begin with the same frame may be one file and its (compressed) copy, which would count everything twice.
    private static async Task<List<Recording>> LeaveOutCopiesAsync(List<Recording> files, RecordingProblems problems, CancellationToken cancellation)
    {
        var kept = new List<Recording>();
        var digests = new Dictionary<string, string>(StringComparer.Ordinal);
        foreach (var file in files)
        {
            var original = default(Recording);
            foreach (var candidate in kept.Where(other => file.FirstTicks != 0 && other.FirstTicks == file.FirstTicks && other.FirstSaw == file.FirstSaw))
            {
                if (await DigestAsync(candidate.Path, digests, cancellation) == await DigestAsync(file.Path, digests, cancellation))
                {
                    original = candidate;
                    break;
                }
            }

            if (original is null)
                kept.Add(file);
            else
                problems.Add(file.Path, "", "same content", 0, $"holds the same as {original.Path}; it is read once.");
        }

        return kept;
    }

    private static async Task<string> DigestAsync(string path, Dictionary<string, string> known, CancellationToken cancellation)
    {
        if (known.TryGetValue(path, out var digest))
            return digest;
        try
        {
            await using var stream = RecordingReader.OpenText(path);
            digest = Convert.ToHexString(await SHA256.HashDataAsync(stream, cancellation));
        }
        catch (Exception e) when (e is InvalidDataException or IOException)
        {
            // Damaged: no copy of anything. Reading it will say what is wrong.
            digest = path;
        }

        return known[path] = digest;
    }

    private sealed class OpenFile(RecordingReader reader, int order)
    {
        private RecordedFrame _head;

        public RecordingReader Reader => reader;

        public int Order => order;

        public ref readonly RecordedFrame Head => ref _head;

        public (long Ticks, int Order) Key => (_head.Frame.Time.UtcTicks, order);

        public bool TryAdvance() => reader.TryRead(ref _head);
    }
}
