using Microsoft.Data.Sqlite;
using Microsoft.Extensions.Time.Testing;
using SawEdge.Core;
using SawEdge.Core.Cycles;
using SawEdge.Core.Oee;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Accounts;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Tests.Configuration;
using SawEdge.Gateway.Tests.History;

namespace SawEdge.Gateway.Tests.Accounts;

/// <summary>Saws over some days in which the clock changes, made at random with a fixed seed, and changes of what is known of them.</summary>
internal sealed class MadeBay : IAsyncDisposable
{
    public const int Days = 9;

    private static readonly AuditEntry Audit = new("ana", AuditEntry.Command, "test", "Saw 1");
    private readonly Random _random;
    private int _cycles;
    private long _reason;
    private long _scrap;

    private MadeBay(int seed, bool handlingBetween)
    {
        _random = new Random(seed);
        Options = OptionsOf(["Saw 1", "Saw 2"], CalendarAtRandom(_random), handlingBetween);
        Period = new Period(Begin, Begin.AddDays(Days));
        Machine = new FakeTimeProvider(Period.To.AddHours(5));
    }

    /// <summary>A Wednesday before the clock of Berlin is put forward.</summary>
    public static DateTimeOffset Begin { get; } = new(2026, 3, 25, 3, 0, 0, TimeSpan.Zero);

    public RunningHistory History { get; } = new();

    public GatewayOptions Options { get; }

    public Period Period { get; }

    public FakeTimeProvider Machine { get; }

    public OeeService Oee => new(Options, History.Reader, History.Writer, Machine);

    public static async Task<MadeBay> OfAsync(int seed, bool handlingBetween)
    {
        var bay = new MadeBay(seed, handlingBetween);
        foreach (var saw in bay.Options.Saws)
            await bay.FillAsync(saw.Name);
        return bay;
    }

    public static GatewayOptions OptionsOf(IReadOnlyList<string> saws, CalendarOptions calendar, bool handlingBetween)
    {
        GatewayOptions sample = Sample.Load(AlarmSample.With()).Options();
        var first = sample.Saws.First(saw => saw.Source is ModbusSourceOptions);
        var source = (ModbusSourceOptions)first.Source;
        var mapped = handlingBetween ? source.Signals.Where(signal => signal.Signal != Signal.CycleActive) : source.Signals.Append(source.Signals[0] with { Signal = Signal.CycleActive });
        return sample with
        {
            Calendar = calendar,
            TimeZone = calendar.Calendar.Zone,
            Saws = [.. saws.Select((name, i) => first with { Machine = first.Machine with { Name = name }, Group = i < 2 ? "Bay 1" : null, Source = source with { Signals = [.. mapped] } })],
        };
    }

    /// <summary>Something that changes what accounts are made of, or only seems to.</summary>
    public async Task<string> ChangeAsync()
    {
        var saw = Options.Saws[_random.Next(2)].Name;
        switch (_random.Next(10))
        {
            case 0:
                await History.AppendAsync(Cycle(saw, Any(), _random.Next(10, 2000)));
                return "a cycle came late";
            case 1:
                Change($"UPDATE cycles SET outcome = 'trim' WHERE id = {OneOf("cycles")}");
                return "a cycle was corrected";
            case 2:
                Change($"UPDATE cycles SET standard_cycle_time_s = standard_cycle_time_s + 17, part_count = part_count + 3 WHERE id = {OneOf("cycles")}");
                return "a standard was corrected";
            case 3:
                Change($"DELETE FROM cycles WHERE id = {OneOf("cycles")}");
                return "a cycle is gone";
            case 4:
                await History.Writer.SaveStatesAsync(saw, [Segment(Any(), _random.Next(10, 20_000))], CancellationToken.None);
                return "a state came late";
            case 5:
                Change($"DELETE FROM states WHERE saw = '{saw}' AND started_at = (SELECT max(started_at) FROM states WHERE saw = '{saw}' AND started_at < {Any().ToUnixTimeMilliseconds()})");
                return "a state is gone";
            case 6:
                var from = Any();
                _reason = await History.Writer.EnterStopReasonAsync(saw, new StopReason(new Period(from, from.AddMinutes(_random.Next(1, 600))), "no material " + _random.Next(3), (StopClass)_random.Next(3), Period.To.AddSeconds(_random.Next(10_000)), "ana"), Audit, CancellationToken.None);
                return "a reason was entered";
            case 7:
                await History.Writer.WithdrawStopReasonAsync(_reason, Audit, CancellationToken.None);
                return "a reason was withdrawn";
            case 8:
                var entry = new ScrapEntry(Any(), _random.Next(2) == 0 ? null : (string?)History.Ask($"SELECT cycle_id FROM cycles WHERE id = {OneOf("cycles")}"), _random.Next(1, 6));
                _scrap = await History.Writer.EnterScrapAsync(entry.CycleId is { } id ? (string)History.Ask($"SELECT saw FROM cycles WHERE cycle_id = '{id}'")! : saw, entry, Audit, CancellationToken.None) ?? _scrap;
                return "scrap was entered";
            default:
                await History.Writer.WithdrawScrapAsync(_scrap, Audit, CancellationToken.None);
                return "scrap was withdrawn";
        }
    }

    public ValueTask DisposeAsync() => History.DisposeAsync();

    private static CalendarOptions CalendarAtRandom(Random random)
    {
        var days = Enum.GetValues<DayOfWeek>().Where(day => day != DayOfWeek.Sunday || random.Next(2) == 0).ToHashSet();
        var end = new TimeOnly(random.Next(2) == 0 ? 6 : 4, 0);
        var plan = new CalendarPlan
        {
            Zone = TimeZoneInfo.FindSystemTimeZoneById("Europe/Berlin"),
            Shifts =
            [
                new WeeklyShift("early", days, new TimeOnly(6, 0), new TimeOnly(14, 0), [new ShiftBreak(new TimeOnly(9, 0), new TimeOnly(9, 20))]),
                new WeeklyShift("late", days, new TimeOnly(14, random.Next(3) * 10), new TimeOnly(22, 0), []),
                new WeeklyShift("night", days, new TimeOnly(22, 0), end, [new ShiftBreak(new TimeOnly(23, 50), new TimeOnly(0, 20))]),
            ],
            PlannedStops = [new PlannedStop(new Period(Begin.AddDays(2), Begin.AddDays(2).AddHours(3)), "service", new HashSet<string> { "Saw 1" })],
        };
        return new CalendarOptions(new ShiftCalendar(plan), new OeeSettings { Meanings = new Dictionary<string, StopMeaning> { ["fault 1"] = new("blade change", StopClass.Setup) } });
    }

    private async Task FillAsync(string saw)
    {
        var end = Period.To.AddHours(5);
        var counter = 40L;
        for (var at = Period.From.AddHours(-6); at < end;)
        {
            var length = _random.Next(8) == 0 ? _random.Next(3600, 30_000) : _random.Next(60, 3000);
            counter = _random.Next(20) switch { 0 => 0, 1 => counter + 4, _ => counter + 1 };
            if (_random.Next(6) != 0)
                await History.AppendAsync(Cycle(saw, at, length) with { PartCount = _random.Next(5) == 0 ? null : counter });
            at = at.AddSeconds(length + (_random.Next(3) == 0 ? 0 : _random.Next(900)));
        }

        var segments = new List<StateSegment>();
        for (var at = Period.From.AddHours(-7); at < end;)
        {
            segments.Add(Segment(at, _random.Next(4) == 0 ? _random.Next(1, 120) : _random.Next(60, 9000)));
            at = segments[^1].To.AddSeconds(_random.Next(6) == 0 ? _random.Next(2000) : 0);
        }

        await History.Writer.SaveStatesAsync(saw, segments, CancellationToken.None);
    }

    private CycleRecord Cycle(string saw, DateTimeOffset at, int length)
    {
        var isWhole = _random.Next(4) == 0;
        var standard = _random.Next(5) == 0 ? (double?)null : _random.NextDouble() * length * 1.4;
        return new CycleRecord
        {
            CycleId = $"{saw}-{_cycles++}",
            Saw = saw,
            StartedAt = at,
            CutStartedAt = isWhole ? null : at.AddSeconds(length * 0.3),
            CutEndedAt = isWhole ? null : at.AddSeconds(length * 0.8),
            EndedAt = at.AddSeconds(length),
            Outcome = _random.Next(4) == 0 ? (CutOutcome)_random.Next(7) : CutOutcome.Completed,
            Job = "A-1",
            StandardCutTimeS = standard,
            StandardCycleTimeS = standard + (_random.NextDouble() * 400),
            Frames = 1,
        };
    }

    private StateSegment Segment(DateTimeOffset from, int length)
    {
        var state = _random.Next(2) == 0 ? TimelineState.Executing : (TimelineState)_random.Next(1, 5);
        return new StateSegment(from, from.AddSeconds(length), state, state == TimelineState.OutOfService ? "fault " + _random.Next(3) : "", _random.Next(3) == 0 ? "" : "A-1");
    }

    private DateTimeOffset Any() => Period.From.AddSeconds(_random.Next((int)Period.Duration.TotalSeconds));

    private string OneOf(string table) => $"(SELECT id FROM {table} ORDER BY id LIMIT 1 OFFSET {_random.Next(100)})";

    // As nothing of the product does it: whoever changes a row, sums must not outlive it.
    private void Change(string sql)
    {
        using var connection = new SqliteConnection($"Data Source={History.FilePath};Pooling=False");
        connection.Open();
        using var command = connection.CreateCommand();
        command.CommandText = sql;
        command.ExecuteNonQuery();
    }
}
