using System.Text.Json;
using SawEdge.Core;
using SawEdge.Core.Alarms;
using SawEdge.Core.Blades;
using SawEdge.Core.Cutting;
using SawEdge.Core.Materials;
using SawEdge.Core.Oee;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Tests.History;
using SawEdge.Simulator.Demo;
using SawEdge.Simulator.Recordings;
using SawEdge.Simulator.Saws;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Api;

/// <summary>Saws, alarms, blades and jobs as the API tells them.</summary>
public sealed class SawReadTests
{
    [Fact]
    public async Task Saws_ASawInItsCut_TellsHowFarItIsAndWhatLoadIsExpected()
    {
        // A virtual saw of the demo: some cuts to learn from, then one that breaks off in the middle.
        var plant = Plant.Create(Cycles.Start, withFaults: false);
        var options = plant.Saws[0].Options;
        var machine = options.Machine.ToSawMachine();
        await using var api = await ReadingApi.StartAsync(machine.Name);
        await using var saw = new RunningSaw(api, machine.Name, JobBook.Parse(plant.JobList, MaterialCatalogue.BuiltIn).Book, machine);
        var truth = new VirtualSaw(options);
        var frames = RecordingGenerator.Frames(truth, new RecordingOptions { Cycles = 12, Interval = TimeSpan.FromMilliseconds(250) }).ToList();
        var cut = truth.TakeFinished()[^2];
        var middle = cut.Contact!.Value + ((cut.Breakthrough!.Value - cut.Contact.Value) / 2);
        foreach (var frame in frames.Where(frame => frame.Time <= middle))
            saw.Offer(frame);
        await Until.TrueAsync(() => api.Live.Read(machine.Name).At > middle.AddSeconds(-0.3), "all frames are taken");

        var now = (await api.GetAsync("saws")).GetProperty("items")[0];
        Assert.Equal("executing", now.GetProperty("state").GetString());
        Assert.InRange(now.GetProperty("cutShare").GetDouble(), 0.3, 0.7);
        Assert.Equal(cut.Contact.Value.ToUnixTimeSeconds(), now.GetProperty("cutStartedAt").GetDateTimeOffset().ToUnixTimeSeconds(), 3.0);
        Assert.InRange(now.GetProperty("motorLoadKw").GetDouble() / now.GetProperty("expectedLoadKw").GetDouble(), 0.85, 1.15);
        Assert.True(now.GetProperty("expectedLowKw").GetDouble() < now.GetProperty("expectedLoadKw").GetDouble() && now.GetProperty("expectedLoadKw").GetDouble() < now.GetProperty("expectedHighKw").GetDouble());
        Assert.Equal(frames.Last(frame => frame.Time <= middle).Number(SawEdge.Core.Signals.Signal.HeadPosition), now.GetProperty("headPositionMm").GetDouble(), 2);
        Assert.NotEmpty(now.GetProperty("section").GetString()!);
        var last = (await api.History.Reader.LastCycleAsync(machine.Name))!;
        Assert.Equal(last.CycleId, now.GetProperty("lastCycle").GetProperty("cycleId").GetString());
        Assert.Equal(now.GetRawText(), (await api.GetAsync($"saws/{Uri.EscapeDataString(machine.Name)}")).GetRawText());

        // The blade that its cuts were made with.
        var blade = (await api.GetAsync("blades")).GetProperty("items")[0];
        Assert.Equal(api.Live.Blades(machine.Name)[^1].Cuts, blade.GetProperty("cuts").GetInt64());
        Assert.True(blade.GetProperty("cuts").GetInt64() > 0);
    }

    [Fact]
    public async Task Saws_InAShift_TellItsPartsAndOee()
    {
        await using var api = await ReadingApi.StartAsync("Saw 1");
        var begin = Cycles.Start.AddDays(1);
        for (var i = 720; i < 740; i++)
            await api.History.AppendAsync(Cycles.Make("Saw 1", i) with { StandardCycleTimeS = 90 });
        await api.History.Writer.SaveStatesAsync("Saw 1", [new StateSegment(begin, begin.AddMinutes(40), TimelineState.Executing)], CancellationToken.None);
        api.Machine.Advance(TimeSpan.FromMinutes(42));

        var shift = (await api.GetAsync("saws")).GetProperty("items")[0].GetProperty("shift");
        var period = new Period(begin, begin.AddMinutes(40));
        var expected = (await api.History.Reader.AccountAsync("Saw 1", api.Context.Options.Calendar!, period, handlingBetweenCycles: true)).Buckets(period);
        Assert.Equal(("early", begin, begin.AddHours(8)), (shift.GetProperty("label").GetString(), shift.GetProperty("from").GetDateTimeOffset(), shift.GetProperty("to").GetDateTimeOffset()));
        Assert.Equal(20, shift.GetProperty("parts").GetInt32());
        Assert.Equal(expected.Figures.Oee, shift.GetProperty("oee").GetDouble(), 4);
        Assert.InRange(expected.Figures.Oee, 0.5, 1);
    }

    [Fact]
    public async Task Alarms_PageByPage_AreThoseOfTheHistory()
    {
        await using var api = await ReadingApi.StartAsync();
        var alarms = Enumerable.Range(1, 12).Select(i => Occurrences.Make(i, i % 2 == 0 ? "Saw 1" : "Saw 2") with
        {
            RaisedAt = Cycles.Start.AddMinutes(i / 4),
            Text = Occurrences.Hostile[i],
            State = i > 8 ? AlarmState.Normal : AlarmState.Unacknowledged,
            IsActive = i <= 8,
            Value = i == 3 ? double.NaN : i,
        }).ToList();
        await api.History.Writer.AppendAlarmsAsync(new AlarmBatch { Events = [.. alarms.Select(alarm => Occurrences.Event(alarm))] }, CancellationToken.None);

        async Task<List<long>> NumbersAsync(string query)
        {
            var (numbers, cursor) = (new List<long>(), "");
            do
            {
                var page = await api.GetAsync($"alarms?{query}{cursor}");
                numbers.AddRange(page.GetProperty("items").EnumerateArray().Select(item => item.GetProperty("number").GetInt64()));
                cursor = page.GetProperty("next").GetString() is { } next ? $"&cursor={next}" : "";
            }
            while (cursor.Length > 0);
            return numbers;
        }

        Assert.Equal(Enumerable.Range(1, 12).Select(i => (long)i).Reverse(), await NumbersAsync("limit=5"));
        Assert.Equal([8, 7, 6, 5, 4, 3, 2, 1], await NumbersAsync("open=true&limit=3"));
        Assert.Equal([12, 10, 8, 6, 4, 2], await NumbersAsync("saw=Saw%201&rule=motor_load_high&limit=4"));
        var third = await api.GetAsync("alarms/3");
        Assert.Equal(JsonValueKind.Null, third.GetProperty("alarm").GetProperty("value").ValueKind);
        Assert.Equal(("unacknowledged", "B"), (third.GetProperty("alarm").GetProperty("state").GetString(), third.GetProperty("alarm").GetProperty("stateLetter").GetString()));
        Assert.Equal("raised", Assert.Single(third.GetProperty("events").EnumerateArray()).GetProperty("event").GetString());

        var health = await api.GetAsync("alarms/health?days=7");
        var expected = (await api.History.Reader.AlarmHealthAsync(7, api.Context.Now))!;
        Assert.Equal(expected.Announced, health.GetProperty("announced").GetInt32());
        Assert.Equal(expected.Figures.Select(figure => figure.Sentence), health.GetProperty("figures").EnumerateArray().Select(figure => figure.GetProperty("sentence").GetString()));
        var saws = (await api.GetAsync("saws")).GetProperty("items");
        Assert.Equal([4, 4], saws.EnumerateArray().Select(saw => saw.GetProperty("openAlarms").GetInt32()));
    }

    [Fact]
    public async Task AlarmHealth_OfAnEmptyHistory_IsEmpty()
    {
        await using var api = await ReadingApi.StartAsync();
        Assert.Equal(0, (await api.GetAsync("alarms/health")).GetProperty("announced").GetInt32());
    }

    [Fact]
    public async Task Blades_WithAForecast_TellWearAndWhatIsLeft()
    {
        await using var api = await ReadingApi.StartAsync();
        var forecast = new WearForecast { Rise = 0.12, DullRise = 0.25, AreaM2 = 2, SlopePerM2 = 0.07, AreaLeftM2 = 1.5, LowM2 = 0.5, CutsLeft = 190, IsDue = true };
        api.Live.Of("Saw 1").Blades =
        [
            new BladeAccount { Blade = "<b>A</b>", Origin = BladeOrigin.Operator, FirstCutAt = Cycles.Start, LastCutAt = Cycles.Start.AddHours(1), Cuts = 10 },
            new BladeAccount { Blade = "B", Origin = BladeOrigin.Proposed, FirstCutAt = Cycles.Start.AddHours(2), LastCutAt = Cycles.Start.AddHours(3), Cuts = 254, AreaCm2 = 20_000, Reference = 0.1, Wear = [new WearPoint(0.5, 0.1, 10), new WearPoint(1.5, 0.1 + Math.Log(1.1), 10)], Forecast = forecast },
        ];
        var items = (await api.GetAsync("blades")).GetProperty("items");
        Assert.Equal(("B", 2.0, 190.0), (items[0].GetProperty("blade").GetString(), items[0].GetProperty("areaM2").GetDouble(), items[0].GetProperty("wear").GetProperty("cutsLeft").GetDouble()));
        Assert.Contains("lock out", items[0].GetProperty("wear").GetProperty("caution").GetString(), StringComparison.Ordinal);
        Assert.Equal("proposed", items[0].GetProperty("origin").GetString());
        Assert.Single(items[0].GetProperty("proposed").EnumerateArray());
        Assert.Equal(("B-0", JsonValueKind.Null), (items[1].GetProperty("blade").GetString(), items[1].GetProperty("cuts").ValueKind));

        var detail = await api.GetAsync("blades/Saw%201");
        Assert.Equal([0.5, 0, 1.5, 0.1], detail.GetProperty("points").EnumerateArray().SelectMany(point => point.EnumerateArray()).Select(value => value.GetDouble()));
        var line = detail.GetProperty("line");
        Assert.Equal(2, line[0][0].GetDouble());
        Assert.Equal(3.5, line[line.GetArrayLength() - 1][0].GetDouble());
        Assert.Equal(["B", "<b>A</b>"], detail.GetProperty("changes").EnumerateArray().Select(change => change.GetProperty("blade").GetString()));
        var first = await api.GetAsync("blades/Saw%201?blade=%3Cb%3EA%3C%2Fb%3E");
        Assert.Equal((10, false, JsonValueKind.Null), (first.GetProperty("cuts").GetInt64(), first.GetProperty("isOnSaw").GetBoolean(), first.GetProperty("wear").ValueKind));
    }

    [Fact]
    public async Task Jobs_OfTheList_AreTheRowsAsRead()
    {
        await using var api = await ReadingApi.StartAsync();
        var items = (await api.GetAsync("jobs")).GetProperty("items");
        Assert.Equal(["<script>alert(1)</script>", "J-1"], items.EnumerateArray().Select(item => item.GetProperty("job").GetString()));
        Assert.Equal(95, items[0].GetProperty("standardCutTimeS").GetDouble());
        Assert.Equal(JsonValueKind.Null, items[0].GetProperty("pieces").ValueKind);
        Assert.Equal(("mist", 40, 101.6), (items[1].GetProperty("coolant").GetString(), items[1].GetProperty("pieces").GetInt32(), items[1].GetProperty("heightMm").GetDouble()));
        Assert.Equal("round 4 in", items[1].GetProperty("written").GetProperty("section").GetString());
    }
}
