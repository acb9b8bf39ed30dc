using System.Collections.Concurrent;
using System.Diagnostics;
using System.Globalization;
using Microsoft.Extensions.Logging.Abstractions;
using SawEdge.Core;
using SawEdge.Core.Alarms;
using SawEdge.Core.Cutting;
using SawEdge.Core.Load;
using SawEdge.Core.Materials;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Notification;
using SawEdge.Gateway.Processing;
using SawEdge.Gateway.Processing.Alarms;
using SawEdge.Simulator.Demo;
using SawEdge.Simulator.Saws;
using SawEdge.TestSupport;
using LiveSaw = SawEdge.Simulator.Saws.LiveSaw;

namespace SawEdge.Benchmarks.Alarms;

/// <summary>
/// From the frame that holds the evidence to the message handed to the channel, with 100 virtual saws at 10 Hz in this process: inbox,
/// pipeline, rules, desk, the transaction on the disk, the channel's loop. Each alarm is acknowledged as soon as it is told, as by a
/// link, and its condition is gone after a second.
/// </summary>
internal static class AlarmLatency
{
    private const int Saws = 100;
    private const int Kinds = 10;

    /// <summary>Measures and prints a line.</summary>
    /// <param name="seconds">How long, at least 10.</param>
    /// <param name="output">Where to print.</param>
    public static async Task RunAsync(int seconds, TextWriter output)
    {
        using var folder = new TempFolder();
        using var database = HistoryDatabase.Open(folder.Path);
        var writer = new HistoryWriter(database, TimeProvider.System, NullLogger<HistoryWriter>.Instance);
        var reader = new HistoryReader(database);
        var names = Enumerable.Range(1, Saws).Select(n => string.Create(CultureInfo.InvariantCulture, $"s{n}")).ToArray();
        AlarmRule[] rules = [.. DefaultRules.All, .. Enumerable.Range(0, Kinds).Select(Rule)];
        var queue = new AlarmQueue();
        var board = new AlarmBoard(rules, new AlarmBoardSettings { Quantity = (value, unit) => string.Create(CultureInfo.InvariantCulture, $"{value} {unit}") });

        // A contact a saw: one for all would be told of a flood, in one message every few minutes.
        var plan = new NoticePlan([.. names.Select(name => new Contact { Name = name, Channel = "bench", Subjects = new HashSet<string> { name } })]);
        var desk = new AlarmDesk(board, plan, new ProbeWatch(rules, []), queue, reader, writer, TimeProvider.System, NullLogger<AlarmDesk>.Instance, _ => { });
        var outlet = new Clock(writer);
        await using var channel = new ChannelLoop(new WebhookOptions { Name = "bench", Url = new Uri("http://127.0.0.1/") }, outlet, reader, writer, TimeProvider.System, NullLogger<ChannelLoop>.Instance);

        var template = Plant.Create(TimeProvider.System.GetUtcNow(), withFaults: false).Saws[0].Options;
        var saws = names.Select((name, n) => new LiveSaw(new VirtualSaw(template with { Machine = template.Machine with { Name = name }, Seed = (ulong)n }), TimeProvider.System)).ToArray();
        var inboxes = names.Select(name => new SawInbox(name)).ToArray();
        using var stop = new CancellationTokenSource();
        var writing = writer.RunAsync(CancellationToken.None);
        var processing = names.Select((name, n) => Processor(name, inboxes[n], template.Machine.ToSawMachine() with { Name = name }, rules, queue, writer).RunAsync(reader, CancellationToken.None)).ToArray();
        var deciding = desk.RunAsync(stop.Token, CancellationToken.None);
        var sending = channel.RunAsync(stop.Token);

        var offered = await FeedAsync(saws, inboxes, seconds);
        await Until.TrueAsync(() => outlet.Handed.Count >= offered.Count, () => $"{outlet.Handed.Count} of {offered.Count} alarms were handed over");

        var latencies = new List<double>();
        foreach (var (number, at) in outlet.Handed)
        {
            if (await reader.AlarmAsync(number) is { } alarm && offered.TryGetValue((alarm.Subject.Name, alarm.Rule), out var begun))
                latencies.Add(Stopwatch.GetElapsedTime(begun, at).TotalMilliseconds);
        }

        latencies.Sort();
        await output.WriteLineAsync(string.Create(
            CultureInfo.InvariantCulture,
            $"{Saws} saws at 10 Hz, {rules.Length} rules, {latencies.Count} of {offered.Count} alarms in {seconds} s: from the frame to the channel p50 {At(latencies, 0.5):0.0} ms, p99 {At(latencies, 0.99):0.0} ms, longest {latencies[^1]:0.0} ms"));

        await Task.WhenAll(outlet.Answers);
        await stop.CancelAsync();
        foreach (var inbox in inboxes)
            inbox.Complete();
        await Task.WhenAll(processing);
        queue.Complete();
        await deciding;
        try
        {
            await sending;
        }
        catch (OperationCanceledException)
        {
            // Asked to end.
        }

        writer.Complete();
        await writing;
    }

    private static async Task<Dictionary<(string Saw, string Rule), long>> FeedAsync(LiveSaw[] saws, SawInbox[] inboxes, int seconds)
    {
        var offered = new Dictionary<(string, string), long>();
        using var pace = new PeriodicTimer(TimeSpan.FromMilliseconds(100));
        var ticks = seconds * 10;

        // Each saw has each kind once, the saws spread over the time between.
        var between = ticks / Kinds;
        for (var tick = 0; tick < ticks && await pace.WaitForNextTickAsync(); tick++)
        {
            for (var n = 0; n < saws.Length; n++)
            {
                if (!saws[n].TryRead(out var frame))
                    continue;
                var since = tick - (n * (between - 15) / saws.Length);
                var kind = since / between;
                var holds = since >= 5 && since % between is >= 5 and < 15;
                frame.Set(Signal.BarId, holds ? Word(kind) : "plain");
                if (holds)
                    offered.TryAdd((saws[n].Name, RuleName(kind)), Stopwatch.GetTimestamp());
                inboxes[n].Offer(frame);
            }
        }

        return offered;
    }

    private static double At(List<double> sorted, double share) => sorted[(int)(share * (sorted.Count - 1))];

    private static SawProcessor Processor(string name, SawInbox inbox, SawMachine machine, AlarmRule[] rules, AlarmQueue queue, HistoryWriter writer) =>
        new(
            inbox,
            new SawPipeline(machine, JobBook.Empty),
            new SawSetup(machine, null, new LoadSettings(), MaterialCatalogue.BuiltIn),
            writer,
            TimeProvider.System,
            NullLogger<SawProcessor>.Instance,
            alarms: new SawAlarms(new SawAlarmWatch(name, rules), queue, TimeProvider.System));

    private static string Word(int kind) => string.Create(CultureInfo.InvariantCulture, $"bar {kind}");

    private static string RuleName(int kind) => string.Create(CultureInfo.InvariantCulture, $"bar_{kind}");

    private static AlarmRule Rule(int kind) => new()
    {
        Name = RuleName(kind),
        Variable = AlarmVariables.Of(AlarmTopic.Signal, "bar_id"),
        Test = new AlarmTest { Comparison = AlarmComparison.Is, Words = [Word(kind)] },
        Text = AlarmTemplate.Parse("{saw}: {bar_id}"),
    };

    /// <summary>A way out that writes down when it was given what.</summary>
    private sealed class Clock(HistoryWriter writer) : IOutlet
    {
        public ConcurrentDictionary<long, long> Handed { get; } = new();

        public string Receiver => "bench";

        public Gathering Gathering => Gathering.None;

        public bool Takes(JournalEntry entry) => entry.Notice is not null;

        public string GroupOf(JournalEntry entry) => "";

        public ConcurrentQueue<Task> Answers { get; } = new();

        public Task<SendResult> SendAsync(IReadOnlyList<JournalEntry> entries, bool waited, CancellationToken cancellation)
        {
            var now = Stopwatch.GetTimestamp();
            foreach (var number in entries.SelectMany(entry => entry.Notice!.Notice.Alarms))
            {
                // Whoever answers does not hold up the next message.
                if (Handed.TryAdd(number, now))
                    Answers.Enqueue(writer.UseLinkAsync(string.Create(CultureInfo.InvariantCulture, $"n{number}"), TimeProvider.System.GetUtcNow().AddHours(1), AlarmAnswer.To(number, AlarmAction.Acknowledge, "bench"), CancellationToken.None));
            }

            return Task.FromResult(SendResult.Delivered);
        }

        public ValueTask DisposeAsync() => ValueTask.CompletedTask;
    }
}
