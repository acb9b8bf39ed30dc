using SawEdge.Core.Alarms;
using SawEdge.Core.Cycles;
using SawEdge.Core.Oee;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Forwarding;
using SawEdge.Gateway.Forwarding.Points;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Tests.Configuration;
using SawEdge.Gateway.Tests.History;

namespace SawEdge.Gateway.Tests.Forwarding.Points;

/// <summary>The table of measurements against its file and against what the mappers write.</summary>
public sealed class PointTableTests
{
    private const string Site = "North plant";
    private const string Gateway = "gw,1";

    [Fact]
    public void TheFile_IsMadeFromTheTable() =>
        // To renew it: dotnet run --project src/SawEdge.Gateway -- outbox points --out deploy/points.md
        Assert.Equal(PointDescriptions.Markdown(PointTables.All), File.ReadAllText(Path.Combine(SchemaTests.Root, "deploy", "points.md")));

    [Fact]
    public void EveryChoice_HasMeasurements_AndAWord()
    {
        var single = Enum.GetValues<PointChoice>().Where(choice => int.PopCount((int)choice) == 1).ToList();
        Assert.Equal(single, PointChoices.All.Select(known => known.Choice).Order());
        Assert.All(single, choice => Assert.Contains(PointTables.All, table => table.Choice == choice));
        Assert.Equal(PointChoice.Usual, single.Aggregate(PointChoice.None, (all, one) => all | one) & ~PointChoice.Signals);
    }

    [Fact]
    public void EveryName_IsToldOnce_AndHasAMeaning()
    {
        Assert.Equal(PointTables.All.Count, PointTables.All.Select(table => table.Name).Distinct().Count());
        foreach (var table in PointTables.All)
        {
            var names = table.Tags.Select(tag => tag.Name).Concat(table.Fields.Select(field => field.Name)).ToList();
            Assert.Equal(names.Count, names.Distinct().Count());
            Assert.All(table.Tags, tag => Assert.NotEmpty(tag.Bound));
            Assert.All(table.Fields, field => Assert.Matches("^(never|where |unless |before )", field.AbsentWhen));

            // As the unit at the end of a name says it.
            foreach (var (end, unit) in new[] { ("_s", "s"), ("_mm", "mm"), ("_kw", "kW"), ("_bytes", "B"), ("_m_min", "m/min") })
                Assert.All(table.Fields.Where(field => field.Name.EndsWith(end, StringComparison.Ordinal)), field => Assert.Equal((field.Name, unit), (field.Name, field.Unit)));
        }
    }

    /// <summary>Every line that a mapper writes keeps to the table, and together they use every tag and field of it.</summary>
    [Fact]
    public void EveryLine_KeepsToTheTable_AndAllOfTheTableIsUsed()
    {
        var used = new HashSet<string>(StringComparer.Ordinal);
        foreach (var line in Lines())
        {
            var parsed = ParsedLine.Of(line);
            parsed.IsInItsTable();
            used.UnionWith(parsed.Tags.Keys.Concat(parsed.Fields.Keys).Select(name => $"{parsed.Measurement} {name}"));
        }

        var told = PointTables.All.SelectMany(table => table.Tags.Select(tag => tag.Name).Concat(table.Fields.Select(field => field.Name)).Select(name => $"{table.Name} {name}"));
        Assert.Equal(told.Order(StringComparer.Ordinal), used.Order(StringComparer.Ordinal));
    }

    private static IEnumerable<string> Lines()
    {
        var cycles = new PointMapper(Site, Gateway);
        yield return cycles.ToLine(Cycles.Full());
        yield return cycles.ToLine(Cycles.Bare() with { CycleTimeS = 1, Basis = "bits" });

        var profiles = new LoadProfilePointMapper(Site, Gateway);
        foreach (var line in profiles.ToLines(Cycles.Full(), Cycles.Profile(1)).Concat(profiles.ToLines(Cycles.Bare(), new DepthProfile(ProfileBasis.TimeShare, double.NaN, [0f, 1f], [float.NaN, 2f], [float.NaN, float.NaN]))))
            yield return line;

        var alarms = new AlarmPointMapper(Site, Gateway);
        foreach (var kind in Enum.GetValues<AlarmEventKind>())
        {
            yield return alarms.ToLine(Occurrences.Event(Occurrences.Full(), kind, 5, note: "silenced by x"));
            foreach (var about in Enum.GetValues<AlarmSubjectKind>())
                yield return alarms.ToLine(Occurrences.Event(Occurrences.Make(1) with { Subject = new AlarmSubject(about, "x 1") }, kind, 5));
        }

        yield return alarms.ToLine(new AlarmEvent(Occurrences.Start, AlarmEventKind.Shelved, "r", AlarmSubject.Saw("north"), AlarmState.Normal, AlarmState.Shelved, null, "", ""));
        foreach (var line in new HourLines(Site, Gateway, LineText.Tag, PointChoice.Hours).All(Hour()))
            yield return line;

        var signals = new SignalPointMapper(Site, Gateway);
        for (var seed = 0; seed < 20; seed++)
        {
            foreach (var line in signals.ToLines(new SawSample("saw 1", Samples.Made(new Random(seed), 100))))
                yield return line;
        }

        foreach (var line in new HealthPointMapper(Site, Gateway).ToLines(Health.Full()).Concat(new HealthPointMapper(Site, Gateway).ToLines(Health.Bare())))
            yield return line;
    }

    private static AccountHour Hour()
    {
        var period = new Period(Cycles.Start, Cycles.Start.AddHours(1));
        return new AccountHour("saw 1", period, new AccountPart(OeeBuckets.Total([]), CounterSum.None), 1)
        {
            Begins = [new StateBegin(Cycles.Start, TimelineState.OutOfService, "fault 9", OeeBucket.StopsByReason), new StateBegin(Cycles.Start.AddMinutes(5), TimelineState.Executing, "", null)],
            FormerStops = [(StopClass.Down, "fault 9")],
        };
    }
}
