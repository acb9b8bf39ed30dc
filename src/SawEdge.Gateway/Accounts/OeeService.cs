using SawEdge.Core.Oee;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Accounts;

/// <summary>
/// Where the planned time of saws, groups and the site went, for any period. Sums of past days are kept in the history; triggers there make
/// them void with whatever they were made of (<c>AccountSchema</c>), so a kept sum is always what would come out if it were worked out anew.
/// </summary>
public sealed partial class OeeService
{
    /// <summary>How far behind what is stored of a saw may be: so much of the newest time is no sign that it is not seen.</summary>
    public static readonly TimeSpan Lag = TimeSpan.FromMinutes(3);

    // Raised where more is told of an hour than before; 1: its states.
    private const long HourForm = 1;

    private readonly GatewayOptions _options;
    private readonly CalendarOptions? _calendar;
    private readonly HistoryReader _reader;
    private readonly HistoryWriter? _writer;
    private readonly TimeProvider _machine;
    private readonly TimeProvider _wall;
    private readonly Dictionary<bool, long> _settings = [];

    /// <summary>Prepares the service.</summary>
    /// <param name="options">The configuration.</param>
    /// <param name="reader">The history.</param>
    /// <param name="writer">Where sums of past days are kept; null: they are worked out each time.</param>
    /// <param name="machine">The machine clock: what now is.</param>
    /// <param name="wall">The wall clock, for patience; null: the system's.</param>
    public OeeService(GatewayOptions options, HistoryReader reader, HistoryWriter? writer, TimeProvider machine, TimeProvider? wall = null)
    {
        _options = options;
        _calendar = options.Calendar;
        _reader = reader;
        _writer = writer;
        _machine = machine;
        _wall = wall ?? TimeProvider.System;
        if (_calendar is null)
            return;
        foreach (var isBetween in (bool[])[false, true])
            _settings[isBetween] = OeeFingerprint.Of(_calendar, isBetween);
    }

    /// <summary>Whether there is a calendar; without one there are no figures.</summary>
    public bool HasCalendar => _calendar is not null;

    /// <summary>The calendar.</summary>
    /// <exception cref="InvalidOperationException">There is none.</exception>
    public CalendarOptions Calendar => _calendar ?? throw new InvalidOperationException("There is no calendar, so there is no planned time; ask HasCalendar first.");

    /// <summary>The present moment of the saws.</summary>
    public DateTimeOffset Now => _machine.GetUtcNow();

    /// <summary>Calendar and rules as a number, which differs wherever sums of a saw would.</summary>
    internal long SettingsOf(SawOptions saw) => _settings[saw.HasHandlingBetweenCycles];

    /// <summary>The same with what is told of hours: where more is told, hours that are stored are worked out anew.</summary>
    internal long HourSettingsOf(SawOptions saw) => unchecked((SettingsOf(saw) * 31) + HourForm);

    /// <summary>The figures that are asked for: for each subject in the order of the configuration, its spans in order.</summary>
    /// <param name="question">What is asked for.</param>
    /// <param name="cancellation">Ends the work.</param>
    /// <exception cref="InvalidOperationException">There is no calendar.</exception>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public async Task<IReadOnlyList<OeeItem>> FiguresAsync(OeeQuestion question, CancellationToken cancellation = default)
    {
        var now = Now;
        var period = question.Period.To > now ? question.Period.Clip(new Period(DateTimeOffset.MinValue, now)) : question.Period;
        if (period.IsEmpty)
            return [];
        var saws = _options.Saws.Where(saw => question.Saws?.Contains(saw.Name) ?? true).ToArray();
        var spans = Spans(period, question.Each);
        var blocks = question.Each == OeeEach.Hour ? [] : OeeBlock.In(Calendar.Calendar, period);
        var sums = new AccountPart[saws.Length][];
        await Parallel.ForEachAsync(
            Enumerable.Range(0, saws.Length),
            new ParallelOptions { MaxDegreeOfParallelism = Environment.ProcessorCount, CancellationToken = cancellation },
            async (i, token) => sums[i] = Gather(spans, await PiecesAsync(saws[i], period, spans, blocks, question.Each, token)));
        return Items(question.By, saws, spans, sums);
    }

    /// <summary>The account of a saw over the shifts of a period, with what it was made of.</summary>
    /// <param name="saw">The saw.</param>
    /// <param name="period">The period.</param>
    /// <param name="cancellation">Ends the reading.</param>
    /// <exception cref="InvalidOperationException">There is no calendar.</exception>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<SawAccount> AccountAsync(SawOptions saw, Period period, CancellationToken cancellation = default) =>
        _reader.SawAccountAsync(saw.Name, Calendar, period, saw.HasHandlingBetweenCycles, cancellation);

    /// <summary>Up to when figures of a saw can be given: what is stored of it lags a little behind what happens.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public async Task<DateTimeOffset> KnownUntilAsync(string saw, CancellationToken cancellation = default)
    {
        var now = Now;
        var last = await _reader.LastStateAsync(saw, cancellation);
        return last is null || last.To < now - Lag ? now - Lag : last.To < now ? last.To : now;
    }

    private async Task<List<AccountPiece>> PiecesAsync(SawOptions saw, Period period, IReadOnlyList<OeeSpan> spans, List<OeeBlock> blocks, OeeEach each, CancellationToken cancellation)
    {
        var known = await KnownUntilAsync(saw.Name, cancellation);
        var seen = known < period.To ? period.Clip(new Period(DateTimeOffset.MinValue, known)) : period;
        if (seen.IsEmpty)
            return [];
        return await new SawPieces(this, _reader, _writer, _wall, saw).InAsync(seen, spans, blocks, each, cancellation);
    }

    private IReadOnlyList<OeeSpan> Spans(Period period, OeeEach each) => each switch
    {
        OeeEach.Hour => OeeRollup.Spans(Calendar.Calendar, period, OeeGrain.Hour),
        OeeEach.Shift => OeeRollup.Spans(Calendar.Calendar, period, OeeGrain.Shift),
        OeeEach.Day => OeeRollup.Spans(Calendar.Calendar, period, OeeGrain.Day),
        OeeEach.Week => OeeRollup.Spans(Calendar.Calendar, period, OeeGrain.Week),
        _ => [new OeeSpan(OeeGrain.Week, "", Calendar.Calendar.DateOf(period.From), period)],
    };

    // What was seen of a saw goes on from one span to the next: a part that was counted between two spans belongs to the later.
    private static AccountPart[] Gather(IReadOnlyList<OeeSpan> spans, List<AccountPiece> pieces)
    {
        var sums = new AccountPart[spans.Count];
        var (at, carried) = (0, CounterSum.None);
        for (var i = 0; i < spans.Count; i++)
        {
            while (at < pieces.Count && pieces[at].Time.From < spans[i].Time.From)
                at++;
            var first = at;
            while (at < pieces.Count && pieces[at].Time.From < spans[i].Time.To)
                at++;
            var own = pieces.GetRange(first, at - first);
            var counter = own.Aggregate(carried, (sum, piece) => CounterSum.Join(sum, piece.Part.Counter));
            carried = counter.Tail;
            sums[i] = own.Count == 1 ? new AccountPart(own[0].Part.Buckets, counter) : new AccountPart(OeeBuckets.Total(own.Select(piece => piece.Part.Buckets)), counter);
        }

        return sums;
    }

    private List<OeeItem> Items(OeeBy by, SawOptions[] saws, IReadOnlyList<OeeSpan> spans, AccountPart[][] sums)
    {
        var groups = by switch
        {
            OeeBy.Saw => saws.Select((saw, i) => (Subject: saw.Name, Saws: (int[])[i])),
            OeeBy.Group => saws.Select((saw, i) => (Group: saw.Group ?? saw.Name, Index: i)).GroupBy(saw => saw.Group).Select(group => (Subject: group.Key, Saws: group.Select(saw => saw.Index).ToArray())),
            _ => [(Subject: _options.Site, Saws: Enumerable.Range(0, saws.Length).ToArray())],
        };
        var items = new List<OeeItem>();
        foreach (var (subject, members) in groups)
        {
            for (var i = 0; i < spans.Count; i++)
            {
                var buckets = members.Length == 1 ? sums[members[0]][i].Buckets : OeeBuckets.Total(members.Select(saw => sums[saw][i].Buckets));
                var counter = members.Length == 1 && sums[members[0]][i].Counter is { Readings: > 0 } counted ? counted : null;
                items.Add(new OeeItem(subject, spans[i].Time, spans[i].Name, spans[i].Date, buckets, counter));
            }
        }

        return items;
    }
}
