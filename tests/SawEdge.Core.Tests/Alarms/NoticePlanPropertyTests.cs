using CsCheck;
using SawEdge.Core.Alarms;
using static SawEdge.Core.Tests.Alarms.MadeAlarms;

namespace SawEdge.Core.Tests.Alarms;

/// <summary>What must be so of messages whatever happens.</summary>
public class NoticePlanPropertyTests
{
    private static readonly WorkingHours Hours = new(TimeZoneInfo.Utc, [new WorkingSpan(new HashSet<DayOfWeek>(Enum.GetValues<DayOfWeek>()), new TimeOnly(9, 0), new TimeOnly(10, 0))]);

    private static readonly Contact[] Contacts =
    [
        new() { Name = "each", Channel = "mail", TellCleared = true, RemindEvery = TimeSpan.FromMinutes(7), EscalateAfter = TimeSpan.FromMinutes(9), EscalateTo = "boss" },
        new() { Name = "gathered", Channel = "mail", TellCleared = true, Digest = TimeSpan.FromMinutes(4), RemindEvery = TimeSpan.FromMinutes(11), EscalateAfter = TimeSpan.FromMinutes(2), EscalateTo = "each" },
        new() { Name = "by day", Channel = "text", Hours = Hours, RemindEvery = TimeSpan.FromMinutes(20) },
        new() { Name = "boss", Channel = "text", OnlyEscalated = true, TellCleared = true, EscalateAfter = TimeSpan.FromMinutes(5), EscalateTo = "each" },
    ];

    private static readonly Gen<(int Kind, int Saw, int Step)[]> Inputs =
        Gen.Select(Gen.Int[0, 9], Gen.Int[0, 3], Gen.Frequency((3, Gen.Int[0, 30]), (2, Gen.Int[0, 500]))).Array[1, 50];

    [Fact]
    public void Anything_NobodyIsToldTwiceAtOnceNorOfWhatIsDone() => Inputs.Sample(inputs =>
    {
        var (board, plan, now) = (new AlarmBoard([Rule(latch: true)], Settings), new NoticePlan(Contacts), 0);
        var states = new Dictionary<long, AlarmState>();
        var (told, atOnce) = (new HashSet<(string, long)>(), new HashSet<(string, long)>());
        foreach (var (kind, saw, step) in inputs)
        {
            Input(board, kind, saw, now += step);
            foreach (var happened in board.Drain())
            {
                if (happened.Alarm is { } alarm)
                    states[alarm.Number] = alarm.State;
                plan.Take(happened, At(now));
                atOnce.Clear();
                Look();
            }

            plan.Advance(At(now));
            Look();
            atOnce.Clear();
        }

        // At once: by an event and by the time right after it.
        void Look()
        {
            foreach (var notice in DrainNotices(plan))
            {
                Assert.Equal(At(now), notice.At);
                Assert.Equal(notice.Alarms.Distinct().Order(), notice.Alarms);
                Assert.NotEmpty(notice.Alarms);
                Assert.True(notice.Contact != "by day" || Hours.Contains(notice.At));
                foreach (var number in notice.Alarms)
                {
                    Assert.True(atOnce.Add((notice.Contact, number)), $"{notice.Contact} told twice of {number} at {now}");
                    var isFirst = told.Add((notice.Contact, number));
                    Assert.False(isFirst && notice.Kind is NoticeKind.Cleared or NoticeKind.Reminder, $"{notice.Kind} of {number}, never told");
                    if (notice.Kind is NoticeKind.Reminder or NoticeKind.Escalated)
                        Assert.True(states[number] is AlarmState.Unacknowledged or AlarmState.ReturnedUnacknowledged or AlarmState.LatchedUnacknowledged);
                    if (notice.Kind is NoticeKind.Raised)
                        Assert.False(states[number] is AlarmState.Normal or AlarmState.Shelved or AlarmState.SuppressedByDesign or AlarmState.OutOfService);
                    Assert.False(isFirst && notice.Contact == "boss" && notice.Kind is not (NoticeKind.Escalated or NoticeKind.Digest));
                }
            }
        }
    }, iter: 2_000);

    [Fact]
    public void Anything_RestartAtAnyMoment_TellsTheSame() => Inputs.Sample(inputs =>
    {
        var (board, straight, restarted, now) = (new AlarmBoard([Rule(latch: true)], Settings), new NoticePlan(Contacts), new NoticePlan(Contacts), 0);
        foreach (var (kind, saw, step) in inputs)
        {
            Input(board, kind, saw, now += step);
            var saved = restarted.Save();
            restarted = new NoticePlan(Contacts);
            restarted.Restore(saved);
            foreach (var happened in board.Drain())
            {
                straight.Take(happened, At(now));
                restarted.Take(happened, At(now));
            }

            straight.Advance(At(now));
            restarted.Advance(At(now));
            Assert.Equal(Drain(straight), Drain(restarted));
            Assert.Equal(straight.Save(), restarted.Save());
        }
    }, iter: 1_000);

    [Fact]
    public void Take_AnyFlood_FewMessages() => Gen.Int[1, 1200].Array[200, 500].Sample(moments =>
    {
        var (board, plan) = (new AlarmBoard([Rule()], Settings), new NoticePlan([Contacts[0] with { RemindEvery = null, EscalateAfter = null }]));
        var messages = 0;
        var reached = new HashSet<long>();
        Array.Sort(moments);
        for (var (now, next) = (0, 0); now < 3000; now += 5)
        {
            for (; next < moments.Length && moments[next] <= now; next++)
                board.Take(Comes(now, about: AlarmSubject.Saw($"s{next}")));
            foreach (var happened in board.Drain())
                plan.Take(happened, At(now));
            plan.Advance(At(now));
            foreach (var notice in DrainNotices(plan))
            {
                messages++;
                reached.UnionWith(notice.Alarms);
            }
        }

        // At most ten before the flood is seen, then one each five minutes of twenty, and one after it.
        Assert.InRange(messages, 1, 15);
        Assert.Equal(moments.Length, reached.Count);
    }, iter: 50);

    private static void Input(AlarmBoard board, int kind, int saw, int now)
    {
        var about = AlarmSubject.Saw($"saw-{saw}");
        switch (kind)
        {
            case 0 or 1 or 2:
                board.Take(Comes(now, about: about));
                break;
            case 3 or 4:
                board.Take(Goes(now, about: about));
                break;
            case 5:
                board.Take(About(AlarmAction.Acknowledge, about: about), At(now));
                break;
            case 6:
                board.Take(About(AlarmAction.Shelve, about: about, until: now + 300), At(now));
                break;
            case 7:
                board.Take(About(AlarmAction.Reset, about: about), At(now));
                break;
            default:
                board.Advance(At(now));
                break;
        }
    }

    private static List<string> Drain(NoticePlan plan) => [.. DrainNotices(plan).Select(notice => $"{notice.At:O} {notice.Contact} {notice.Kind} {string.Join(',', notice.Alarms)}")];

    private static List<Notice> DrainNotices(NoticePlan plan)
    {
        var notices = new List<Notice>();
        while (plan.TryTake(out var notice))
            notices.Add(notice);
        return notices;
    }
}
