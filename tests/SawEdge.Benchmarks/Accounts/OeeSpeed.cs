using System.Diagnostics;
using System.Globalization;
using Microsoft.Extensions.Logging.Abstractions;
using SawEdge.Core;
using SawEdge.Core.Cutting;
using SawEdge.Core.Cycles;
using SawEdge.Core.Oee;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Accounts;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.History;
using SawEdge.TestSupport;

namespace SawEdge.Benchmarks.Accounts;

/// <summary>OEE of many saws over a long time: worked out from cycles and states, read from kept sums, and after a change.</summary>
internal static class OeeSpeed
{
    private const int CutsOfADay = 40;
    private const int Rounds = 7;

    private static readonly DateTimeOffset Begin = new(2025, 3, 3, 0, 0, 0, TimeSpan.Zero);

    public static async Task RunAsync(int saws, int days, TextWriter output)
    {
        using var folder = new TempFolder();
        using var database = HistoryDatabase.Open(folder.Path);
        var writer = new HistoryWriter(database, TimeProvider.System, NullLogger<HistoryWriter>.Instance);
        var run = writer.RunAsync(CancellationToken.None);
        var reader = new HistoryReader(database);
        var options = Options(folder.Path, saws);
        foreach (var saw in options.Saws)
            await FillAsync(writer, saw.Name, days);
        await output.WriteLineAsync(Said($"{saws} saws, {days} days, {saws * days * CutsOfADay:N0} cycles, {new FileInfo(database.FilePath).Length / 1048576.0:0} MB"));

        var oee = new OeeService(options, reader, writer, new Standing(Begin.AddDays(days)));
        var whole = new Period(Begin, Begin.AddDays(days));
        await MeasureAsync(output, "the first time, from cycles and states", oee, new OeeQuestion(whole, OeeEach.Whole), rounds: 1);
        await MeasureAsync(output, "whole time, each saw", oee, new OeeQuestion(whole, OeeEach.Whole));
        await MeasureAsync(output, "whole time, the site", oee, new OeeQuestion(whole, OeeEach.Whole, OeeBy.Site));
        await MeasureAsync(output, "weeks, each saw", oee, new OeeQuestion(whole, OeeEach.Week));
        await MeasureAsync(output, "days, each saw", oee, new OeeQuestion(whole, OeeEach.Day));
        await MeasureAsync(output, "days, one saw", oee, new OeeQuestion(whole, OeeEach.Day, OeeBy.Saw, ["Saw 1"]));
        await writer.SaveStatesAsync("Saw 1", [new StateSegment(Begin.AddDays(days / 2), Begin.AddDays(days / 2).AddHours(1), TimelineState.OutOfService, "fault 1")], CancellationToken.None);
        await MeasureAsync(output, "whole time, each saw, after a change of one day", oee, new OeeQuestion(whole, OeeEach.Whole), rounds: 1);
        writer.Complete();
        await run;
    }

    private static async Task MeasureAsync(TextWriter output, string what, OeeService oee, OeeQuestion question, int rounds = Rounds)
    {
        var times = new List<double>();
        var items = 0;
        for (var i = 0; i < rounds; i++)
        {
            var start = Stopwatch.GetTimestamp();
            items = (await oee.FiguresAsync(question)).Count;
            times.Add(Stopwatch.GetElapsedTime(start).TotalMilliseconds);
        }

        times.Sort();
        await output.WriteLineAsync(Said($"{what,-50} {items,7:N0} items {times[times.Count / 2],9:0.0} ms (least {times[0]:0.0}, most {times[^1]:0.0})"));
    }

    private static GatewayOptions Options(string folder, int saws)
    {
        var every = Enum.GetValues<DayOfWeek>().ToHashSet();
        var plan = new CalendarPlan
        {
            Zone = TimeZoneInfo.FindSystemTimeZoneById("Europe/Berlin"),
            Shifts = [new WeeklyShift("early", every, new TimeOnly(6, 0), new TimeOnly(14, 0), [new ShiftBreak(new TimeOnly(9, 0), new TimeOnly(9, 20))]), new WeeklyShift("late", every, new TimeOnly(14, 0), new TimeOnly(22, 0), [])],
        };
        var cycle = new RegisterMapping { Signal = Signal.CycleActive, Table = RegisterTable.Coil, Address = 0, Type = RegisterType.Bool };
        return new GatewayOptions
        {
            Site = "Riverbend",
            Gateway = "bay-1",
            DataFolder = folder,
            Calendar = new CalendarOptions(new ShiftCalendar(plan), new OeeSettings()),
            Saws = [.. Enumerable.Range(1, saws).Select(i => new SawOptions { Machine = new SawMachine { Name = Said($"Saw {i}") }, Source = new ModbusSourceOptions { Device = "d", Unit = 1, Signals = [cycle] }, Interval = TimeSpan.FromSeconds(1) })],
        };
    }

    private static async Task FillAsync(HistoryWriter writer, string saw, int days)
    {
        for (var day = 0; day < days; day++)
        {
            var cycles = new List<FinishedCycle>(CutsOfADay);
            var states = new List<StateSegment>(2 * CutsOfADay);
            var at = Begin.AddDays(day).AddHours(5);
            for (var i = 0; i < CutsOfADay; i++)
            {
                var (end, next) = (at.AddMinutes(18 + (i % 5)), at.AddMinutes(24));
                cycles.Add(new FinishedCycle
                {
                    Record = new CycleRecord
                    {
                        CycleId = Said($"{saw}-{day}-{i}"),
                        Saw = saw,
                        StartedAt = at,
                        CutStartedAt = at.AddMinutes(1),
                        CutEndedAt = end.AddMinutes(-1),
                        EndedAt = end,
                        Outcome = CutOutcome.Completed,
                        Job = "A-17",
                        StandardCutTimeS = 1000,
                        StandardCycleTimeS = 1100,
                        PartCount = (day * CutsOfADay) + i,
                        Frames = 1,
                    },
                });
                states.Add(new StateSegment(at, end, TimelineState.Executing, "", "A-17"));
                states.Add(new StateSegment(end, next, i % 7 == 0 ? TimelineState.OutOfService : TimelineState.NotExecuting, i % 7 == 0 ? "fault 17" : "", "A-17"));
                at = next;
            }

            await writer.AppendAsync(cycles, CancellationToken.None);
            await writer.SaveStatesAsync(saw, states, CancellationToken.None);
        }
    }

    private static string Said(FormattableString words) => words.ToString(CultureInfo.InvariantCulture);

    /// <summary>A clock that stands.</summary>
    private sealed class Standing(DateTimeOffset now) : TimeProvider
    {
        public override DateTimeOffset GetUtcNow() => now;
    }
}
