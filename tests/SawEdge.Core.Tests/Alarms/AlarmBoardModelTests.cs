using CsCheck;
using SawEdge.Core.Alarms;
using static SawEdge.Core.Tests.Alarms.MadeAlarms;

namespace SawEdge.Core.Tests.Alarms;

/// <summary>The board against <see cref="ReferenceAlarm"/> under random inputs, with a restart at any moment.</summary>
public class AlarmBoardModelTests
{
    private static readonly Gen<(int Kind, bool OfCause, int Step, int Length)[]> Inputs =
        Gen.Select(Gen.Int[0, 15], Gen.Int[0, 2], Gen.Frequency((3, Gen.Int[0, 20_000]), (2, Gen.Int[0, 700_000])), Gen.Int[1, 900_000], (kind, cause, step, length) => (kind, cause == 0, step, length)).Array[1, 40];

    [Fact]
    public void Take_AnyInputs_AsTheReferenceSays() => Gen.Select(Gen.Bool, Inputs).Sample((latch, inputs) =>
    {
        var pair = new Pair(latch);
        foreach (var (kind, ofCause, step, length) in inputs)
            pair.Do(kind, ofCause, step, length);
    }, iter: 10_000);

    [Fact]
    public void Restore_AtAnyMoment_GoesOnAsIfNothingWas() => Gen.Select(Gen.Bool, Inputs).Sample((latch, inputs) =>
    {
        var (straight, restarted) = (new Pair(latch), new Pair(latch));
        foreach (var (kind, ofCause, step, length) in inputs)
        {
            straight.Do(kind, ofCause, step, length);
            restarted.Do(kind, ofCause, step, length);
            restarted.Restart();
            Assert.Equal(straight.Board.Save(), restarted.Board.Save());
            Assert.Equal(straight.Board.Open, restarted.Board.Open);
        }

        Assert.Equal(straight.History, restarted.History);
    }, iter: 1_000);

    private sealed class Pair
    {
        private readonly AlarmRule[] _rules;
        private readonly ReferenceAlarm _load;
        private readonly ReferenceAlarm _cause;
        private readonly List<string> _expected = [];
        private readonly Dictionary<long, Alarm> _stored = [];
        private long _now;
        private long _number;

        public Pair(bool latch)
        {
            _rules = [Rule(latch: latch), Rule("silent", silences: true)];
            Board = new AlarmBoard(_rules, Settings);
            _cause = new ReferenceAlarm("silent", false) { Log = _expected, Next = () => ++_number };
            _load = new ReferenceAlarm("load", latch) { Log = _expected, Next = () => ++_number, IsCaused = () => _cause.KeepsQuiet };
            _cause.Changed = _load.Look;
        }

        public AlarmBoard Board { get; private set; }

        public List<AlarmEvent> History { get; } = [];

        public void Restart()
        {
            var board = new AlarmBoard(_rules, Settings);
            board.Restore(Board.Save());
            Board = board;
        }

        public void Do(int kind, bool ofCause, int step, int length)
        {
            _now += step;
            var at = Start.AddMilliseconds(_now);
            var (rule, model) = ofCause ? ("silent", _cause) : ("load", _load);
            var until = _now + length;
            var answer = new AlarmAnswer(AlarmAction.Comment, 0, rule, Saw, "Ada", "because", Start.AddMilliseconds(until));
            switch (kind)
            {
                case 0 or 1 or 2:
                    Board.Take(Comes(0, rule) with { At = at });
                    model.Level(true, _now);
                    break;
                case 3 or 4 or 5:
                    Board.Take(Goes(0, rule) with { At = at });
                    model.Level(false, _now);
                    break;
                case 6 or 7:
                    Answer(answer with { Action = AlarmAction.Acknowledge }, model, () => model.Acknowledge(_now));
                    break;
                case 8:
                    Answer(answer with { Action = AlarmAction.Reset }, model, () => model.Reset(_now));
                    break;
                case 9:
                    Answer(answer with { Action = AlarmAction.Shelve }, model, () => model.Shelve(_now, until));
                    break;
                case 10:
                    Answer(answer with { Action = AlarmAction.Unshelve }, model, () => model.Unshelve(_now));
                    break;
                case 11:
                    Answer(answer with { Action = AlarmAction.TakeOutOfService }, model, () => model.TakeOut(_now));
                    break;
                case 12:
                    Answer(answer with { Action = AlarmAction.ReturnToService }, model, () => model.PutBack(_now));
                    break;
                case 13:
                    Remark(length, model, rule);
                    break;
                case 14:
                    Advance(at);
                    break;
                default:
                    Restart();
                    break;
            }

            Compare();
        }

        private void Advance(DateTimeOffset at)
        {
            Board.Advance(at);
            while (Math.Min(_load.Due, _cause.Due) <= _now)
                (_load.Due <= _cause.Due ? _load : _cause).RunDue();
            _load.Look(_now);
        }

        private void Answer(AlarmAnswer answer, ReferenceAlarm model, Func<bool> expected)
        {
            model.EndShelf(_now);
            var taken = expected();
            var refusal = Board.Take(answer, Start.AddMilliseconds(_now));
            Assert.True(taken == refusal is null, $"{answer.Action} at {_now}: {refusal}");
            Assert.True(refusal is null or [.., '.'], refusal);
        }

        // About the last occurrence, open or closed.
        private void Remark(int choice, ReferenceAlarm model, string rule)
        {
            if (model.LastNumber == 0)
            {
                Assert.NotNull(Board.Take(AlarmAnswer.To(_number + 1, AlarmAction.Comment, "Ada", "why"), Start.AddMilliseconds(_now)));
                return;
            }

            model.EndShelf(_now);
            var stored = _stored[model.LastNumber];
            var action = (AlarmAction)((int)AlarmAction.Comment + (choice % 3));
            var taken = action switch { AlarmAction.Confirm => stored.Verdict != AlarmVerdict.Confirmed, AlarmAction.Reject => stored.Verdict != AlarmVerdict.Rejected, _ => true };
            var refusal = Board.Take(AlarmAnswer.To(model.LastNumber, action, "Ada", "why"), Start.AddMilliseconds(_now), stored);
            Assert.Equal(taken, refusal is null);
            if (!taken)
                return;
            Collect();
            var happened = History[^1];
            Assert.Equal((model.LastNumber, rule), (happened.Alarm!.Number, happened.Rule));
            // A closed occurrence keeps its last state; the model tells only of the present.
            Assert.True(model.Number != 0 || happened.Alarm.IsClosed);
            model.Remark(happened.Kind.ToName(), _now);
            if (model.Number == 0)
                _expected[^1] = Words(happened);
        }

        private void Collect()
        {
            foreach (var happened in Board.Drain())
            {
                var last = History.FindLast(earlier => (earlier.Rule, earlier.Subject) == (happened.Rule, happened.Subject));
                Assert.True(last is null || happened.At - last.At >= TimeSpan.FromMilliseconds(1));
                if (happened.Alarm is { } alarm)
                {
                    var isNew = !_stored.TryGetValue(alarm.Number, out var before);
                    Assert.Equal(isNew, happened.Kind == AlarmEventKind.Raised && alarm.Activations == 1);
                    Assert.True(!isNew || alarm.Number > _stored.Keys.DefaultIfEmpty().Max());
                    Assert.True(alarm != before || happened.Kind is AlarmEventKind.Commented, $"nothing changed: {happened}");
                    Assert.True(before is null || !before.IsClosed || happened.Kind >= AlarmEventKind.Commented, $"after its end: {happened}");
                    Assert.Equal(happened.After, alarm.State);
                    _stored[alarm.Number] = alarm;
                }
                else
                {
                    Assert.True(happened.Before != happened.After || happened.Kind is AlarmEventKind.Shelved or AlarmEventKind.Unshelved, $"nothing changed: {happened}");
                }

                History.Add(happened);
            }
        }

        private void Compare()
        {
            Collect();
            Assert.Equal(_expected, History.Select(Words));
            long[] open = [.. new[] { _load, _cause }.Where(model => model.Number > 0).Select(model => model.Number).Order()];
            Assert.Equal(open, Board.Open.Select(alarm => alarm.Number));
            Assert.Equal(open.Select(number => _load.Number == number ? _load.Shown : _cause.Shown), Board.Open.Select(alarm => alarm.State.ToLetter()));
        }

        private static string Words(AlarmEvent happened) =>
            $"{(long)(happened.At - Start).TotalMilliseconds} {happened.Rule} {happened.Kind.ToName()} {happened.Before.ToLetter()} {happened.After.ToLetter()} {(happened.Alarm is { } alarm ? alarm.Number : "-")}";
    }
}
