using Microsoft.Extensions.Time.Testing;
using SawEdge.Core.Alarms;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Processing.Alarms;
using SawEdge.Gateway.Tests.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Processing.Alarms;

/// <summary>A desk at work on a real history.</summary>
internal sealed class RunningDesk : IAsyncDisposable
{
    public const string Rule = "load_high";
    public const string Latching = "load_latched";
    public const string Cause = "source_gone";
    public const string Effect = "saw_gone";

    public static readonly DateTimeOffset Start = new(2026, 3, 2, 6, 0, 0, TimeSpan.Zero);
    public static readonly AlarmSubject North = AlarmSubject.Saw("north");

    private readonly CancellationTokenSource _crash = new();
    private readonly CancellationTokenSource _sourcesEnd = new();
    private readonly Task _run;

    public RunningDesk(HistoryReader reader, HistoryWriter writer, TimeProvider? time = null, IEnumerable<AlarmProbe>? probes = null, AlarmQueue? queue = null, Action<AlarmEvent>? onEvent = null, IReadOnlyList<AlarmRule>? rules = null)
    {
        Time = time as FakeTimeProvider ?? new FakeTimeProvider(Start);
        Queue = queue ?? new AlarmQueue();
        rules ??= Rules;
        var board = new AlarmBoard(rules, new AlarmBoardSettings { Quantity = (value, unit) => FormattableString.Invariant($"{value:0.##} {unit}"), SourceOfSaw = new Dictionary<string, string> { ["north"] = "plc", ["south"] = "plc" } });
        var plan = new NoticePlan([new Contact { Name = "shift", Channel = "hook", TellCleared = true }]);
        var desk = new AlarmDesk(board, plan, new ProbeWatch(rules, probes ?? []), Queue, reader, writer, time ?? Time, Log.For<AlarmDesk>(), onEvent);
        _run = desk.RunAsync(_sourcesEnd.Token, _crash.Token);
    }

    public RunningDesk(RunningHistory history, FakeTimeProvider? time = null, IEnumerable<AlarmProbe>? probes = null, AlarmQueue? queue = null, Action<AlarmEvent>? onEvent = null)
        : this(history.Reader, history.Writer, time, probes, queue, onEvent)
    {
    }

    public static IReadOnlyList<AlarmRule> Rules { get; } =
    [
        Make(Rule, AlarmTopic.Signal, "motor_load"),
        Make(Latching, AlarmTopic.Signal, "motor_load") with { Latch = true },
        Make(Cause, AlarmTopic.Communication, "disconnected") with { Silences = true },
        Make(Effect, AlarmTopic.Communication, "silence"),
    ];

    public FakeTimeProvider Time { get; }

    public AlarmQueue Queue { get; }

    public CollectedLog Log { get; } = new();

    public Task Run => _run;

    public static ConditionChange Change(bool holds, DateTimeOffset at, string rule = Rule, AlarmSubject? subject = null) =>
        new() { Rule = rule, Subject = subject ?? North, At = at, Holds = holds, Value = holds ? 7 : 3, Limit = 5 };

    public static async Task<List<AlarmEvent>> EventsAsync(HistoryReader reader)
    {
        var events = new List<AlarmEvent>();
        await foreach (var stored in reader.AlarmEventsAsync(null, null))
            events.Add(stored.Event);
        return events;
    }

    public static async Task<List<Notice>> NoticesAsync(HistoryReader reader) =>
        [.. (await reader.JournalAsync(0, 1000)).Select(entry => entry.Notice?.Notice).OfType<Notice>()];

    /// <summary>Lets looks pass until a condition holds.</summary>
    public Task LooksAsync(Func<Task<bool>> condition, string what) => Until.TrueAsync(
        async () =>
        {
            if (_run.IsFaulted)
                await _run;
            Time.Advance(AlarmDesk.LookEvery);
            return await condition();
        },
        () => $"{what}; the desk said: {string.Join('\n', Log.Entries.Select(entry => entry.Text))}");

    /// <summary>Answers from outside, and waits until the desk has dealt with it.</summary>
    public async Task<string?> AnswerAsync(RunningHistory history, AlarmAnswer answer)
    {
        var id = AlarmAnswerRows.Write(history.Folder, answer, AlarmAnswerRows.ViaCommand, Time.GetUtcNow());
        await LooksAsync(async () => await history.Reader.AnswerOutcomeAsync(id) is not null, $"{answer.Action} is dealt with");
        return (await history.Reader.AnswerOutcomeAsync(id))!.Problem;
    }

    /// <summary>Ends it as a power cut would.</summary>
    public async Task CrashAsync()
    {
        await _crash.CancelAsync();
        await Assert.ThrowsAnyAsync<Exception>(() => _run);
    }

    /// <summary>Ends it cleanly.</summary>
    public async Task EndAsync()
    {
        await _sourcesEnd.CancelAsync();
        Queue.Complete();
        await _run;
    }

    public async ValueTask DisposeAsync()
    {
        if (!_run.IsCompleted)
            await EndAsync();
        _crash.Dispose();
        _sourcesEnd.Dispose();
    }

    private static AlarmRule Make(string name, AlarmTopic topic, string variable) => new()
    {
        Name = name,
        Variable = AlarmVariables.Of(topic, variable),
        Test = new AlarmTest { Comparison = AlarmComparison.Above, Limit = 5, ClearLimit = 5 },
        Text = AlarmTemplate.Parse("{subject}: {value}, limit {limit}"),
    };
}
