using System.Buffers;
using System.Globalization;
using System.Text.Json;
using Microsoft.Extensions.Logging;
using SawEdge.Core;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Api;

/// <summary>
/// What happens at the saws, told to any number of readers. One loop looks and writes each event once, as bytes that all readers share; it
/// runs only while somebody reads.
/// </summary>
/// <remarks>
/// Of a saw the latest counts: a reader who is slow gets that, and not what came before. Cycles and alarms are queued for each reader, up to a
/// bound; who does not even take these is ended, and what was missed is read anew when the reader comes again.
/// </remarks>
internal sealed class LiveHub
{
    /// <summary>How often the loop looks: the most that is told of one saw is two events a second.</summary>
    public static readonly TimeSpan LookEvery = TimeSpan.FromMilliseconds(500);

    /// <summary>How often something is told of a saw of which nothing changes: readers count the age of the data on from there.</summary>
    public static readonly TimeSpan TellEvery = TimeSpan.FromSeconds(10);

    /// <summary>Readers at most.</summary>
    public const int MostReaders = 4000;

    /// <summary>Entries of the journal that a reader who comes again gets, at most.</summary>
    private const int MostMissed = 500;

    /// <summary>Entries of the journal that the loop is behind at most; beyond that it leaves some out.</summary>
    private const int MostBehind = 5000;

    private readonly ApiContext _context;
    private readonly SawViews _views;
    private readonly ILogger _logger;
    private IReadOnlyList<SawOptions> _saws;
    private Told[] _told;
    private readonly Lock _gate = new();
    private readonly List<LiveReader> _readers = [];
    private Task _loop = Task.CompletedTask;
    private bool _isRunning;
    private long _sequence;
    private bool _inTrouble;

    /// <summary>Prepares the hub.</summary>
    public LiveHub(ApiContext context, SawViews views)
    {
        (_context, _views) = (context, views);
        _logger = context.Loggers.CreateLogger<LiveHub>();
        _saws = context.Options.Saws;
        _told = [.. _saws.Select(_ => new Told())];
    }

    /// <summary>How many read.</summary>
    public int Readers
    {
        get
        {
            lock (_gate)
                return _readers.Count;
        }
    }

    /// <summary>A reader comes; it must be taken away with <see cref="Leave"/>.</summary>
    /// <returns>The reader; null where there are too many.</returns>
    public LiveReader? Join()
    {
        lock (_gate)
        {
            if (_readers.Count >= MostReaders)
                return null;
            if (!_isRunning)
                TakeSaws();
            var reader = new LiveReader(_told);
            _readers.Add(reader);
            if (!_isRunning)
            {
                _isRunning = true;
                foreach (var told in _told)
                    (told.Tick, told.Whole, told.Last, told.IsFullDue) = (null, null, null, true);
                var before = _loop;
                _loop = Task.Run(() => RunAsync(before));
            }

            return reader;
        }
    }

    /// <summary>A reader goes.</summary>
    public void Leave(LiveReader reader)
    {
        lock (_gate)
            _readers.Remove(reader);
    }

    /// <summary>What the journal holds after a place, as events; empty where it is too much, and the reader has to look for itself.</summary>
    /// <param name="after">The last that the reader knows.</param>
    /// <param name="cancellation">Ends the reading.</param>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public async Task<IReadOnlyList<byte[]>> MissedAsync(long after, CancellationToken cancellation)
    {
        var last = await _context.Reader.LastSequenceAsync(cancellation);
        if (after >= last || last - after > MostMissed)
            return [];
        var entries = await _context.Reader.JournalAsync(after, MostMissed, cancellation);
        return [.. entries.Select(Event).OfType<byte[]>()];
    }

    private async Task RunAsync(Task before)
    {
        await before;
        try
        {
            _sequence = await LastSequenceAsync();
            using var look = new PeriodicTimer(LookEvery, _context.Time);
            do
                await LookAsync();
            while (await look.WaitForNextTickAsync() && !IsOver());
        }
        catch (Exception e)
        {
            // Whatever it is, it must not be silent, and the next reader begins anew.
            ApiLog.StreamBroken(_logger, e);
            lock (_gate)
            {
                _isRunning = false;
                _readers.ForEach(reader => reader.End());
                _readers.Clear();
            }
        }
    }

    private bool IsOver()
    {
        lock (_gate)
        {
            _isRunning = _readers.Count > 0;
            return !_isRunning;
        }
    }

    // Where there are other saws than before, readers come again and begin with all of them.
    private void TakeSaws()
    {
        var now = _context.Options.Saws;
        if (ReferenceEquals(now, _saws))
            return;
        if (!now.Select(saw => saw.Name).SequenceEqual(_saws.Select(saw => saw.Name), StringComparer.Ordinal))
        {
            _told = [.. now.Select(_ => new Told())];
            _readers.ForEach(reader => reader.End());
            _readers.Clear();
        }

        _saws = now;
        Array.ForEach(_told, told => told.IsFullDue = true);
    }

    private async Task LookAsync()
    {
        lock (_gate)
            TakeSaws();
        var events = await JournalAsync();
        await RefreshAsync();
        var changed = new List<int>();
        for (var i = 0; i < _saws.Count; i++)
        {
            if (Look(i))
                changed.Add(i);
        }

        if (changed.Count == 0 && events.Count == 0)
            return;
        lock (_gate)
        {
            foreach (var reader in _readers)
                reader.Tell(changed, events);
        }
    }

    // What the saws do: cheap, for each saw each time.
    private bool Look(int index)
    {
        var told = _told[index];
        var moment = _views.Read(_saws[index].Name);
        var isStale = moment.Frames > 0 && _context.Now - moment.ReceivedAt > moment.Holds;
        if (moment.Frames == told.Frames && isStale == told.IsStale && _context.Time.GetElapsedTime(told.At) < TellEvery && told.Tick is not null && !told.IsNew)
            return false;
        (told.Frames, told.IsStale) = (moment.Frames, isStale);
        var tick = _views.Tick(_saws[index], told.Full?.LastCycle);
        var isDue = told.IsNew || told.Last is null || _context.Time.GetElapsedTime(told.At) >= TellEvery;

        // The age alone is no news: it is always nearly the same while frames come.
        var plain = tick with { DataAgeS = null };
        if (!isDue && plain == told.Last)
            return false;
        told.Last = plain;
        told.At = _context.Time.GetTimestamp();
        told.Tick = Bytes("saw", null, tick);
        if (told.Full is { } full)
        {
            told.Whole = Bytes("saw", null, new SawNow(tick) { Group = full.Group, OpenAlarms = full.OpenAlarms, HighestSeverity = full.HighestSeverity, LastCycle = full.LastCycle, Shift = full.Shift });
            if (told.IsNew)
                told.Version++;
        }

        told.IsNew = false;
        return true;
    }

    // What stands in the history of a saw: only when something came, and now and then for the shift.
    private async Task RefreshAsync()
    {
        var due = Enumerable.Range(0, _saws.Count).Where(i => _told[i].IsFullDue || _context.Time.GetElapsedTime(_told[i].FullAt) > ShiftFigures.Fresh).ToList();
        if (due.Count == 0)
            return;
        try
        {
            var views = await _views.OfAsync([.. due.Select(i => _saws[i])], CancellationToken.None);
            foreach (var (i, view) in due.Zip(views))
            {
                var told = _told[i];
                told.IsNew = told.IsNew || told.IsFullDue || told.Full is null || told.Full.Shift != view.Shift;
                (told.Full, told.IsFullDue, told.FullAt) = (view, false, _context.Time.GetTimestamp());
            }
        }
        catch (HistoryException e) when (e is not HistoryCorruptException)
        {
            SayTrouble(e);
        }
    }

    private async Task<List<byte[]>> JournalAsync()
    {
        var events = new List<byte[]>();
        try
        {
            // Where very much came at once, as when records are computed anew, whoever shows the past has to look again anyway.
            if (_context.Writer.Journal.Last - _sequence > MostBehind)
                _sequence = _context.Writer.Journal.Last;

            // Asked even where the writer said nothing: others write, too. An empty look costs one seek.
            foreach (var entry in await _context.Reader.JournalAsync(_sequence, MostMissed))
            {
                _sequence = entry.Sequence;
                if (Event(entry) is not { } told)
                    continue;
                events.Add(told);
                foreach (var saw in _saws.Index().Where(saw => saw.Item.Name == entry.Saw))
                    _told[saw.Index].IsFullDue = true;
            }

            if (_inTrouble)
                ApiLog.StreamReads(_logger);
            _inTrouble = false;
        }
        catch (HistoryException e) when (e is not HistoryCorruptException)
        {
            SayTrouble(e);
        }

        return events;
    }

    private async Task<long> LastSequenceAsync()
    {
        try
        {
            return await _context.Reader.LastSequenceAsync();
        }
        catch (HistoryException e) when (e is not HistoryCorruptException)
        {
            SayTrouble(e);
            return _context.Writer.Journal.Last;
        }
    }

    private void SayTrouble(HistoryException problem)
    {
        if (!_inTrouble)
            ApiLog.StreamUnread(_logger, problem.Message);
        _inTrouble = true;
    }

    private static byte[]? Event(JournalEntry entry) => entry switch
    {
        { Cycle: { } cycle } => Bytes("cycle", entry.Sequence, cycle),
        { AlarmEvent.Event.Alarm: { } alarm } => Bytes("alarm", entry.Sequence, AlarmView.Of(alarm)),
        _ => null,
    };

    // One line of data: JSON as it is written here holds no line break.
    private static byte[] Bytes<T>(string name, long? id, T value)
    {
        var buffer = new ArrayBufferWriter<byte>(1024);
        buffer.Write("event: "u8);
        buffer.Write(System.Text.Encoding.ASCII.GetBytes(name));
        if (id is { } sequence)
            buffer.Write(System.Text.Encoding.ASCII.GetBytes(string.Create(CultureInfo.InvariantCulture, $"\nid: {sequence}")));
        buffer.Write("\ndata: "u8);
        buffer.Write(JsonSerializer.SerializeToUtf8Bytes(value, ApiJson.Options));
        buffer.Write("\n\n"u8);
        return buffer.WrittenSpan.ToArray();
    }

    /// <summary>What was told of one saw last. Written by the loop alone; readers take the bytes.</summary>
    internal sealed class Told
    {
        private byte[]? _tick;
        private byte[]? _whole;
        private int _version;

        /// <summary>The event with what changes from moment to moment.</summary>
        public byte[]? Tick
        {
            get => Volatile.Read(ref _tick);
            set => Volatile.Write(ref _tick, value);
        }

        /// <summary>The event with everything.</summary>
        public byte[]? Whole
        {
            get => Volatile.Read(ref _whole);
            set => Volatile.Write(ref _whole, value);
        }

        /// <summary>Rises when more changed than the moment: who has not seen this version gets everything.</summary>
        public int Version
        {
            get => Volatile.Read(ref _version);
            set => Volatile.Write(ref _version, value);
        }

        public long Frames { get; set; } = -1;

        public bool IsStale { get; set; }

        public bool IsNew { get; set; } = true;

        public bool IsFullDue { get; set; } = true;

        public long At { get; set; }

        public long FullAt { get; set; }

        public SawTick? Last { get; set; }

        public SawNow? Full { get; set; }
    }
}
