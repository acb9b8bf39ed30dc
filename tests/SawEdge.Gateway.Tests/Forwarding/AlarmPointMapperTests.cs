using SawEdge.Core.Alarms;
using SawEdge.Gateway.Forwarding;
using SawEdge.Gateway.Tests.History;

namespace SawEdge.Gateway.Tests.Forwarding;

public sealed class AlarmPointMapperTests
{
    private static readonly AlarmPointMapper Mapper = new("North plant", "gw,1");

    [Fact]
    public void ToLine_Raised_HoldsWhatIsKnownAndNothingElse() =>
        Assert.Equal(
            "alarm,gateway=gw\\,1,rule=motor_load_high,saw=north,site=North\\ plant acknowledged=0i,activations=1i,active=1i,alarm=7i,announced=1i,chattering=0i,event=\"raised\",limit_value=4,open=1i,severity=\"high\",state=\"unacknowledged\",text=\"The motor takes 5.5 kW, more than 4 kW.\",unannounced=0i,unit=\"kW\",value=5.5 1772431620000",
            Mapper.ToLine(Occurrences.Event(Occurrences.Make(7))));

    [Fact]
    public void ToLine_WithoutOccurrence_SaysWhatHappened() =>
        Assert.Equal(
            "alarm,gateway=gw\\,1,rule=r,saw=north,site=North\\ plant acknowledged=0i,active=0i,announced=0i,chattering=0i,event=\"shelved\",open=0i,state=\"shelved\",unannounced=1i 1772431200000",
            Mapper.ToLine(new AlarmEvent(Occurrences.Start, AlarmEventKind.Shelved, "r", AlarmSubject.Saw("north"), AlarmState.Normal, AlarmState.Shelved, null, "A. Person", "asked for by B. Person")));

    [Theory]
    [InlineData(AlarmSubjectKind.Saw, ",saw=x\\ 1,")]
    [InlineData(AlarmSubjectKind.Source, ",source=x\\ 1 ")]
    [InlineData(AlarmSubjectKind.Destination, "alarm,destination=x\\ 1,gateway=gw\\,1,")]
    [InlineData(AlarmSubjectKind.Channel, "alarm,channel=x\\ 1,gateway=gw\\,1,")]
    [InlineData(AlarmSubjectKind.Gateway, "alarm,gateway=gw\\,1,rule=r,site=North\\ plant ")]
    public void ToLine_AnySubject_IsATagUnderTheWordForItsKind(AlarmSubjectKind kind, string tags)
    {
        var alarm = Occurrences.Make(1, rule: "r") with { Subject = new AlarmSubject(kind, "x 1") };
        Assert.Contains(tags, Mapper.ToLine(Occurrences.Event(alarm)), StringComparison.Ordinal);
    }

    [Fact]
    public void ToLine_WhoeverAnsweredOrRemarked_IsNamedNowhere()
    {
        var alarm = Occurrences.Full() with { Rule = "r", Text = "text", Cause = "cause", CycleId = "c", MayBe = "", Caution = "", AcknowledgedBy = "A. Person" };
        foreach (var kind in Enum.GetValues<AlarmEventKind>())
        {
            var line = Mapper.ToLine(Occurrences.Event(alarm, kind, who: "A. Person", note: "A. Person says so"));
            Assert.DoesNotContain("Person", line, StringComparison.Ordinal);
        }

        // What happens by itself names nobody, and its reason is of use.
        Assert.Contains("note=\"silenced by source_silent\"", Mapper.ToLine(Occurrences.Event(alarm, AlarmEventKind.Suppressed, note: "silenced by source_silent")), StringComparison.Ordinal);
    }

    [Fact]
    public void ToLine_Flags_AndSpans_SayWhatQueriesNeed()
    {
        var alarm = Occurrences.Make(1);
        var acknowledged = alarm with { State = AlarmState.Acknowledged, AcknowledgedAt = alarm.RaisedAt.AddSeconds(40) };
        var cleared = acknowledged with { State = AlarmState.Normal, IsActive = false, ClearedAt = alarm.RaisedAt.AddSeconds(90.5) };
        foreach (var (happened, fields) in new (AlarmEvent, string[])[]
        {
            (Occurrences.Event(acknowledged, AlarmEventKind.Acknowledged, 40, AlarmState.Unacknowledged), ["acknowledged=1i", "acknowledged_after_s=40", "announced=0i", "open=1i"]),
            (Occurrences.Event(cleared, AlarmEventKind.Cleared, 90, AlarmState.Acknowledged), ["active=0i", "active_s=90", "open=0i", "state=\"normal\""]),
            (Occurrences.Event(alarm with { Activations = 3 }, AlarmEventKind.Raised, 5, AlarmState.ReturnedUnacknowledged), ["announced=1i", "activations=3i"]),
            (Occurrences.Event(alarm, AlarmEventKind.Unsuppressed, 5, AlarmState.SuppressedByDesign), ["announced=1i", "unannounced=0i"]),
            (Occurrences.Event(alarm with { State = AlarmState.SuppressedByDesign }), ["announced=0i", "unannounced=1i", "active=1i", "open=1i"]),
            (Occurrences.Event(alarm with { IsChattering = true }, AlarmEventKind.Chattering, 5, AlarmState.Unacknowledged), ["announced=0i", "chattering=1i"]),
            (Occurrences.Event(cleared with { Verdict = AlarmVerdict.Confirmed }, AlarmEventKind.Confirmed, 500), ["event=\"confirmed\"", "verdict=\"confirmed\""]),
        })
        {
            var given = Mapper.ToLine(happened).Split(' ', ',');
            Assert.Equal(fields, fields.Intersect(given));
        }
    }

    [Theory]
    [InlineData(double.NaN)]
    [InlineData(double.PositiveInfinity)]
    public void ToLine_NoFiniteNumber_IsAbsent(double value)
    {
        var line = Mapper.ToLine(Occurrences.Event(Occurrences.Make(1) with { Value = value, Limit = value }));
        Assert.DoesNotContain("value=", line, StringComparison.Ordinal);
    }

    [Fact]
    public void ToLine_HostileTexts_AreOneLineWhoseTagsAreTheConfigurations()
    {
        foreach (var text in Occurrences.Hostile)
        {
            var line = Mapper.ToLine(Occurrences.Event(Occurrences.Make(1) with { Text = text, Cause = text, CycleId = text, Unit = text }));
            Assert.DoesNotContain('\n', line);
            Assert.StartsWith("alarm,gateway=gw\\,1,rule=motor_load_high,saw=north,site=North\\ plant acknowledged=", line, StringComparison.Ordinal);
        }
    }
}
