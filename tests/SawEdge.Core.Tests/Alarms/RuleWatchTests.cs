using System.Globalization;
using SawEdge.Core.Alarms;
using SawEdge.Core.Tests.Cycles;

namespace SawEdge.Core.Tests.Alarms;

/// <summary>
/// What a deadband and delays mean: OPC 10000-9 (OPC UA Part 9, v1.05) B.1.5, https://reference.opcfoundation.org/Core/Part9/v105/docs/B.1.5:
/// a high alarm clears only when the value is less than limit - deadband; the on-delay needs the value beyond the limit for the whole
/// delay; the off-delay holds it on. The numbers of the tables are made up.
/// </summary>
public sealed class RuleWatchTests
{
    // Values one second apart, ? is not known, ~ is a time in which the rule does not apply; below each what holds after it:
    // + holds, - does not, . nothing known yet.
    public static TheoryData<string, AlarmComparison, double, double, double, double, string, string> Tables => new()
    {
        { "no deadband, no delays", AlarmComparison.Above, 10, 10, 0, 0, "9 10 10.1 11 10 9 11", "- - + + - - +" },
        { "deadband of 2", AlarmComparison.Above, 10, 8, 0, 0, "7 11 9 8 7.9 9 10 10.1", "- + + + - - - +" },
        { "deadband from the beginning: neither", AlarmComparison.Above, 10, 8, 0, 0, "9 9 11 9", ". . + +" },
        { "on-delay of 3 s", AlarmComparison.Above, 10, 10, 3, 0, "9 11 11 11 11 11", "- - - - + +" },
        { "on-delay broken by a dip", AlarmComparison.Above, 10, 10, 3, 0, "9 11 11 11 9 11 11 11 11", "- - - - - - - - +" },
        { "on-delay broken by a dip into the deadband: beyond the limit for the whole delay", AlarmComparison.Above, 10, 8, 3, 0, "7 11 11 9 11 11 11 11", "- - - - - - - +" },
        { "off-delay of 2 s", AlarmComparison.Above, 10, 10, 0, 2, "11 9 9 9 9", "+ + + - -" },
        { "off-delay broken", AlarmComparison.Above, 10, 10, 0, 2, "11 9 9 11 9 9 9", "+ + + + + + -" },
        { "off-delay broken by the deadband", AlarmComparison.Above, 10, 8, 0, 2, "11 7 7 9 7 7 7", "+ + + + + + -" },
        { "nothing known for the off-delay at first", AlarmComparison.Above, 10, 10, 0, 2, "9 9 9 9", ". . - -" },
        { "unknown changes nothing", AlarmComparison.Above, 10, 10, 0, 0, "? 11 ? ? 9 ? 11", ". + + + - - +" },
        { "unknown starts the on-delay anew", AlarmComparison.Above, 10, 10, 3, 0, "9 11 11 ? 11 11 11 11", "- - - - - - - +" },
        { "unknown starts the off-delay anew", AlarmComparison.Above, 10, 10, 0, 2, "11 9 ? 9 9 9", "+ + + + + -" },
        { "below, deadband of 2", AlarmComparison.Below, 5, 7, 0, 0, "8 5 4.9 6 7 7.1 6", "- - + + + - -" },
        { "below 500 for 2 s, gone above 1000", AlarmComparison.Below, 500, 1000, 2, 0, "2000 400 400 400 700 1001", "- - - + + -" },
        { "a count that is 0 again is gone", AlarmComparison.Above, 0, 0, 0, 0, "0 3 3 0", "- + + -" },
        { "a flag", AlarmComparison.Is, double.NaN, double.NaN, 0, 0, "0 1 1 0 ? 1", "- + + - - +" },
        { "a flag that must be set", AlarmComparison.IsNot, double.NaN, double.NaN, 1, 0, "1 0 0 1", "- - + -" },
        { "outside of its states it does not hold", AlarmComparison.Above, 10, 10, 0, 0, "11 ~11 11 ~? 9", "+ - + - -" },
        { "outside of its states the on-delay does not run", AlarmComparison.Above, 10, 10, 2, 0, "11 11 ~11 11 11 11", ". . - - - +" },
        { "leaving its states waits for the off-delay", AlarmComparison.Above, 10, 10, 0, 2, "11 ~11 ~11 ~11", "+ + + -" },
        { "an endless value is beyond", AlarmComparison.Below, 0.5, 1, 0, 0, "Infinity 0.1 Infinity", "- + -" },
    };

    [Theory]
    [MemberData(nameof(Tables))]
    public void Push_ATable_HoldsAsTheStandardSays(string name, AlarmComparison comparison, double limit, double clear, double on, double off, string values, string expected)
    {
        var watch = new RuleWatch(MadeRules.Load(comparison, limit, clear, on, off));
        var seen = new List<string>();
        var second = 0;
        foreach (var word in values.Split(' '))
        {
            var before = watch.Holds;
            var changed = watch.Push(SawScript.At(second++), word.TrimStart('~') is var value && value == "?" ? double.NaN : double.Parse(value, CultureInfo.InvariantCulture), !word.StartsWith('~'));
            Assert.Equal(before != watch.Holds, changed);
            seen.Add(watch.Holds switch { true => "+", false => "-", null => "." });
        }

        Assert.True(expected == string.Join(' ', seen), $"{name}: {string.Join(' ', seen)}");
    }

    [Theory]
    [InlineData(AlarmComparison.Is, "auto manual MANUAL ? setup", "- + + + +")]
    [InlineData(AlarmComparison.IsNot, "auto manual ? setup auto", "+ - - - +")]
    public void Push_Texts_AreComparedWithTheWords(AlarmComparison comparison, string values, string expected)
    {
        var rule = MadeRules.Rule(AlarmTopic.Signal, "mode", new AlarmTest { Comparison = comparison, Words = ["manual", "setup"] });
        var watch = new RuleWatch(rule);
        var second = 0;
        var seen = values.Split(' ').Select(word =>
        {
            watch.Push(SawScript.At(second++), word == "?" ? null : word);
            return watch.Holds switch { true => "+", false => "-", null => "." };
        });
        Assert.Equal(expected, string.Join(' ', seen));
    }

    [Fact]
    public void Push_ClockSetBack_StartsTheDelayAnew()
    {
        var watch = new RuleWatch(MadeRules.Load(AlarmComparison.Above, 10, 10, on: 3));
        watch.Push(SawScript.At(100), 11);
        Assert.False(watch.Push(SawScript.At(10), 11));
        Assert.False(watch.Push(SawScript.At(12.9), 11));
        Assert.True(watch.Push(SawScript.At(13), 11));
        Assert.True(watch.Holds);
    }

    [Fact]
    public void Value_IsTheOneLastKnown()
    {
        var watch = new RuleWatch(MadeRules.Load(AlarmComparison.Above, 10, 10));
        Assert.Equal(double.NaN, watch.Value);
        watch.Push(SawScript.At(0), 11);
        watch.Push(SawScript.At(1), double.NaN);
        Assert.Equal(11, watch.Value);
    }
}
