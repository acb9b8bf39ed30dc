using SawEdge.Core.Alarms;
using SawEdge.Gateway.Commands.Alarms;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Tests.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Commands.Alarms;

public sealed class AlarmAnswerCommandTests
{
    public static TheoryData<string[], AlarmAction, string, string> Answers => new()
    {
        { ["acknowledge", "1", "--by", "Ada"], AlarmAction.Acknowledge, "", "acknowledged by Ada" },
        { ["reset", "#1", "--by", "Ada", "--note", "new blade"], AlarmAction.Reset, "new blade", "reset by Ada" },
        { ["comment", "1", "--by", "Ada", "--note", "two teeth gone"], AlarmAction.Comment, "two teeth gone", "remark of Ada noted" },
        { ["confirm", "1", "--by", "Ada"], AlarmAction.Confirm, "", "confirmed by Ada: it was right" },
        { ["reject", "1", "--by", "Ada"], AlarmAction.Reject, "", "rejected by Ada: nothing was wrong" },
        { ["shelve", "1", "--by", "Ada", "--for", "8 h", "--reason", "guide"], AlarmAction.Shelve, "guide", "shelved by Ada until 2026-03-09 21:00" },
        { ["unshelve", "1", "--by", "Ada"], AlarmAction.Unshelve, "", "taken from the shelf by Ada" },
        { ["suspend", "1", "--by", "Ada", "--reason", "guide"], AlarmAction.TakeOutOfService, "guide", "taken out of service by Ada until further notice; 'alarm return' puts it back" },
        { ["return", "1", "--by", "Ada"], AlarmAction.ReturnToService, "", "put back into service by Ada" },
    };

    [Theory]
    [MemberData(nameof(Answers))]
    public async Task Answer_ThatTheRunningGatewayTakesOver_IsSaid(string[] arguments, AlarmAction action, string note, string done)
    {
        using var asked = new Asked();
        await using var history = asked.Open();
        await AlarmLookingTests.AppendAsync(history, Occurrences.Event(Occurrences.Make(1)));

        var run = Task.Run(() => asked.Done(["alarm", .. arguments]));
        var answer = await TakeOverAsync(asked, history, run, problem: null);

        Assert.Equal(AlarmAnswer.To(1, action, "Ada", note, action == AlarmAction.Shelve ? Asked.Now.AddHours(8) : null), answer.Answer);
        Assert.Equal(("command", Asked.Now), (answer.Via, answer.At));
        Assert.Equal($"#1 (north: motor_load_high): {done}.", string.Join(' ', await run));
    }

    [Fact]
    public async Task Answer_ThatTheRunningGatewayRefuses_IsItsWords()
    {
        using var asked = new Asked();
        await using var history = asked.Open();
        await AlarmLookingTests.AppendAsync(history, Occurrences.Event(Occurrences.Make(1)));

        var run = Task.Run(() => asked.Refused("alarm", "reset", "1", "--by", "Ada"));
        await TakeOverAsync(asked, history, run, "#1 is still active; it can be reset when its condition is gone.");

        Assert.Equal("#1 is still active; it can be reset when its condition is gone.", await run);
    }

    [Fact]
    public async Task Answer_WhereTheRunningGatewayIsSlow_SaysThatItIsEntered()
    {
        using var asked = new Asked();
        await using var history = asked.Open();
        await AlarmLookingTests.AppendAsync(history, Occurrences.Event(Occurrences.Make(1)));

        var run = Task.Run(() => asked.Done("alarm", "acknowledge", "1", "--by", "Ada"));
        await Until.TrueAsync(() => Advance(asked, run), "the command gives up waiting");

        Assert.Contains("The gateway that runs there has not taken it over within 10 s", string.Join(' ', await run), StringComparison.Ordinal);
        Assert.Single(await history.Reader.OpenAnswersAsync());
    }

    [Fact]
    public async Task Answer_WhereNoGatewayRuns_IsLeftToItsNextStart()
    {
        using var asked = new Asked();
        await using (var history = asked.Open())
            await AlarmLookingTests.AppendAsync(history, Occurrences.Event(Occurrences.Make(1)));

        Assert.Equal(
            ["#1 (north: motor_load_high): entered. No gateway runs on this folder now; it is taken over at", "its next start."],
            asked.Done("alarm", "acknowledge", "1", "--note", "a\u001b[31m b"));

        await using var after = asked.Open();
        var open = Assert.Single(await after.Reader.OpenAnswersAsync());
        Assert.Equal(Environment.UserName, open.Answer.Who);
        Assert.DoesNotContain('\u001b', open.Answer.Note);
    }

    [Theory]
    [InlineData("suspend", "source_disconnected", null, AlarmSubjectKind.Source, "plc")]
    [InlineData("suspend", "unusual_cut", "quay", AlarmSubjectKind.Saw, "quay")]
    [InlineData("suspend", "disk_low", null, AlarmSubjectKind.Gateway, "hall-2")]
    [InlineData("suspend", "delivery_trouble", "one", AlarmSubjectKind.Destination, "one")]
    public async Task Answer_AboutARule_NamesWhatTheRuleIsAbout(string command, string rule, string? subject, AlarmSubjectKind kind, string name)
    {
        using var asked = new Asked();
        await using (asked.Open())
        {
        }

        // The device alone is a source here: the broker's saw is taken away.
        if (kind == AlarmSubjectKind.Source)
            subject = "plc";
        asked.Done([.. (string[])["alarm", command, "--rule", rule, "--reason", "x", "--by", "Ada"], .. subject is null ? Array.Empty<string>() : ["--saw", subject]]);

        await using var after = asked.Open();
        var open = Assert.Single(await after.Reader.OpenAnswersAsync());
        Assert.Equal((0, rule, new AlarmSubject(kind, name)), (open.Answer.Number, open.Answer.Rule, open.Answer.Subject));
    }

    public static TheoryData<string[], string> Wrong => new()
    {
        { ["alarm", "acknowledge", "2"], "There is no alarm 2; the latest is 1, and 'sawedge alarm list --all' lists them." },
        { ["alarm", "acknowledge", "one"], "'one' is no number of an alarm; 'sawedge alarm list' shows them." },
        { ["alarm", "acknowledge", "1", "--by", " "], "--by is empty: write your name, so that others know whom to ask." },
        { ["alarm", "comment", "1"], "--note is missing: write the remark, for example --note \"two teeth gone\"." },
        { ["alarm", "shelve", "1", "--for", "8 h"], "--reason is missing: say why, for example --reason \"guide is being changed\"." },
        { ["alarm", "shelve", "1", "--reason", "x"], "--for is missing: for how long, for example --for \"8 h\" or --for \"2 days\"." },
        { ["alarm", "shelve", "1", "--reason", "x", "--for", "a while"], "--for 'a while' is no time on the shelf; write for example \"8 h\" or \"2 days\"." },
        { ["alarm", "shelve", "1", "--reason", "x", "--for", "0 h"], "--for '0 h' is no time on the shelf; write for example \"8 h\" or \"2 days\"." },
        { ["alarm", "suspend", "--reason", "x"], "Nothing is named: write the number of an alarm, or --rule RULE --saw SAW." },
        { ["alarm", "suspend", "1", "--rule", "stall", "--reason", "x"], "These exclude each other: write the number of an alarm, or --rule RULE --saw SAW." },
        { ["alarm", "return", "1", "--saw", "north"], "--saw goes with --rule; an alarm by its number is about one thing already." },
        { ["alarm", "return", "--rule", "stal", "--saw", "north"], "There is no rule 'stal'; did you mean 'stall'?" },
        { ["alarm", "return", "--rule", "stall"], "--saw is missing: rule stall holds for north and quay; name the one that is meant." },
        { ["alarm", "return", "--rule", "stall", "--saw", "nort"], "Rule stall does not hold for 'nort'; did you mean 'north'?" },
        { ["alarm", "return", "--rule", "channel_trouble", "--saw", "mail"], "Rule channel_trouble does not hold for 'mail'; it is about a channel, and there is none." },
    };

    [Theory]
    [MemberData(nameof(Wrong))]
    public async Task WrongInput_IsOneLineThatSaysWhatWouldBeRight_AndNothingIsEntered(string[] arguments, string expected)
    {
        using var asked = new Asked();
        await using var history = asked.Open();
        await AlarmLookingTests.AppendAsync(history, Occurrences.Event(Occurrences.Make(1)));

        Assert.Equal(expected, asked.Refused(arguments));
        Assert.Empty(await history.Reader.OpenAnswersAsync());
    }

    // What the gateway does once a second: deal with what is open, and store what became of it.
    private static async Task<StoredAnswer> TakeOverAsync(Asked asked, RunningHistory history, Task run, string? problem)
    {
        IReadOnlyList<StoredAnswer> open = [];
        await Until.TrueAsync(async () => (open = await history.Reader.OpenAnswersAsync()).Count > 0 || run.IsFaulted, "the answer is entered");
        if (run.IsFaulted)
            await run;
        await history.Writer.AppendAlarmsAsync(new AlarmBatch { Answered = [new AnswerOutcome(open[0].Id, problem)] }, CancellationToken.None);
        await Until.TrueAsync(() => Advance(asked, run), "the command hears of it");
        return open[0];
    }

    private static bool Advance(Asked asked, Task run)
    {
        asked.Time.Advance(TimeSpan.FromMilliseconds(200));
        return run.IsCompleted;
    }
}
