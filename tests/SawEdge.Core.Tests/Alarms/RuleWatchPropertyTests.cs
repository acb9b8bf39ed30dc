using CsCheck;
using SawEdge.Core.Alarms;
using SawEdge.Core.Tests.Cycles;

namespace SawEdge.Core.Tests.Alarms;

/// <summary>The same, for 10,000 rules and series of values that nobody thought of.</summary>
public sealed class RuleWatchPropertyTests
{
    private const long Cases = 10_000;

    private static Gen<Look[]> Series { get; } = Gen.Select(
        Gen.Frequency((8, Gen.Int[0, 20].Select(value => (double)value)), (1, Gen.Const(double.NaN))),
        Gen.Int[1, 40],
        Gen.Int[0, 9],
        (value, tenths, states) => new Look(value, tenths, states > 0)).Array[1, 60];

    private static Gen<AlarmRule> Rules { get; } = Gen.Select(Gen.Bool, Gen.Int[5, 15], Gen.Int[0, 4], Gen.Int[0, 60], Gen.Int[0, 60], (above, limit, deadband, on, off) =>
        MadeRules.Load(above ? AlarmComparison.Above : AlarmComparison.Below, limit, above ? limit - deadband : limit + deadband, on / 10.0, off / 10.0));

    // Told otherwise than the watch does it: each moment looks back over everything that was.
    [Fact]
    public void Push_AnySeries_HoldsExactlyWhereALookBackSaysSo() => Gen.Select(Rules, Series).Sample(
        (rule, looks) =>
        {
            var watch = new RuleWatch(rule);
            var (at, times, expected) = (0.0, new List<DateTimeOffset>(), (bool?)null);
            for (var i = 0; i < looks.Length; i++)
            {
                at += looks[i].Tenths / 10.0;
                times.Add(SawScript.At(at));
                watch.Push(times[i], looks[i].Value, looks[i].Applies);
                if (LastedFor(rule.OnDelay, looks, times, i, look => look.Applies && Beyond(rule, look.Value)))
                    expected = true;
                else if (LastedFor(rule.OffDelay, looks, times, i, look => !look.Applies || Gone(rule, look.Value)))
                    expected = false;
                if (expected != watch.Holds)
                    return false;
            }

            return true;
        },
        iter: Cases);

    [Fact]
    public void Push_SameSeriesTwice_IsTheSame() => Gen.Select(Rules, Series).Sample(
        (rule, looks) =>
        {
            var (once, twice) = (new RuleWatch(rule), new RuleWatch(rule));
            var at = 0.0;
            foreach (var look in looks)
            {
                at += look.Tenths / 10.0;
                if (once.Push(SawScript.At(at), look.Value, look.Applies) != twice.Push(SawScript.At(at), look.Value, look.Applies))
                    return false;
            }

            return once.Holds == twice.Holds;
        },
        iter: Cases);

    // A look in between that sees the same changes nothing but how soon it is said.
    [Fact]
    public void Push_LooksInBetween_RaiseTheSame() => Gen.Select(Rules, Series).Sample(
        (rule, looks) =>
        {
            var (seldom, often) = (new RuleWatch(rule), new RuleWatch(rule));
            var at = 0.0;
            foreach (var look in looks)
            {
                for (var tenth = 0; tenth < look.Tenths; tenth++)
                    often.Push(SawScript.At(at + (tenth / 10.0)), look.Value, look.Applies);
                seldom.Push(SawScript.At(at), look.Value, look.Applies);
                seldom.Push(SawScript.At(at + ((look.Tenths - 1) / 10.0)), look.Value, look.Applies);
                at += look.Tenths / 10.0;
                if (seldom.Holds != often.Holds)
                    return false;
            }

            return true;
        },
        iter: Cases);

    private static bool Beyond(AlarmRule rule, double value) => rule.Test.Comparison == AlarmComparison.Above ? value > rule.Test.Limit : value < rule.Test.Limit;

    private static bool Gone(AlarmRule rule, double value) => rule.Test switch
    {
        { Comparison: AlarmComparison.Above } test => test.ClearLimit == test.Limit ? value <= test.Limit : value < test.ClearLimit,
        var test => test.ClearLimit == test.Limit ? value >= test.Limit : value > test.ClearLimit,
    };

    private static bool LastedFor(TimeSpan delay, Look[] looks, List<DateTimeOffset> times, int now, Func<Look, bool> holds)
    {
        for (var i = now; i >= 0 && holds(looks[i]); i--)
        {
            if (times[now] - times[i] >= delay)
                return true;
        }

        return false;
    }

    private sealed record Look(double Value, int Tenths, bool Applies);
}
