using System.Text.Json;
using SawEdge.Gateway.Api;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Tests.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Api;

/// <summary>The event stream over real sockets, with the saw's own loop behind it.</summary>
public sealed class LiveStreamTests
{
    private static readonly TimeSpan Soon = TimeSpan.FromMinutes(3);

    [Fact]
    public async Task Stream_AFrameComes_IsToldWithinASecond()
    {
        await using var api = await ReadingApi.StartAsync();
        await using var saw = new RunningSaw(api, "Saw 1");
        await using var reader = await EventReader.OpenAsync(api.Address);

        // First of all each saw whole, also the one of which nothing is known.
        var first = await reader.NextAsync(told => told.Name == "saw" && told.Data.GetProperty("name").GetString() == "Saw 2", Soon);
        Assert.Equal("unknown", first.Data.GetProperty("state").GetString());
        Assert.Equal("bay 1", first.Data.GetProperty("group").GetString());
        Assert.Equal(JsonValueKind.Null, first.Data.GetProperty("motorLoadKw").ValueKind);

        var worst = TimeSpan.Zero;
        for (var i = 0; i < 5; i++)
        {
            var began = TimeProvider.System.GetTimestamp();
            saw.Offer(api.Machine.GetUtcNow().AddMilliseconds(100 * i), 1.25 + i);
            await reader.NextAsync(told => told.Name == "saw" && told.Data.GetProperty("motorLoadKw") is { ValueKind: JsonValueKind.Number } load && load.GetDouble() == 1.25 + i, Soon);
            worst = TimeProvider.System.GetElapsedTime(began) > worst ? TimeProvider.System.GetElapsedTime(began) : worst;
        }

        // Twice what the stream looks at, and a half for a busy machine.
        Assert.InRange(worst.TotalSeconds, 0, 2.5 * LiveHub.LookEvery.TotalSeconds);
    }

    [Fact]
    public async Task Stream_CyclesAndAlarms_AreToldWithTheirPlaceAndMissedOnesAgain()
    {
        await using var api = await ReadingApi.StartAsync();
        await using (var reader = await EventReader.OpenAsync(api.Address))
        {
            await reader.NextAsync(told => told.Name == "saw", Soon);
            await api.History.AppendAsync(Cycles.Make("Saw 1", 0) with { Job = "</script>\n\nevent: evil" });
            var cycle = await reader.NextAsync(told => told.Name == "cycle", Soon);
            Assert.Equal(("1", "Saw 1-000000", "</script>\n\nevent: evil"), (cycle.Id, cycle.Data.GetProperty("cycleId").GetString(), cycle.Data.GetProperty("job").GetString()));

            // The saw comes with it: its last cycle is another.
            var saw = await reader.NextAsync(told => told.Name == "saw" && told.Data.TryGetProperty("lastCycle", out var last) && last.ValueKind == JsonValueKind.Object, Soon);
            Assert.Equal("Saw 1-000000", saw.Data.GetProperty("lastCycle").GetProperty("cycleId").GetString());

            var alarm = Occurrences.Make(1, "Saw 2");
            await api.History.Writer.AppendAlarmsAsync(new AlarmBatch { Events = [Occurrences.Event(alarm)] }, CancellationToken.None);
            var told = await reader.NextAsync(told => told.Name == "alarm", Soon);
            Assert.Equal(("2", 1), (told.Id, told.Data.GetProperty("number").GetInt64()));
            var alarmed = await reader.NextAsync(told => told.Name == "saw" && told.Data.TryGetProperty("openAlarms", out var open) && open.GetInt32() == 1, Soon);
            Assert.Equal(("Saw 2", "high"), (alarmed.Data.GetProperty("name").GetString(), alarmed.Data.GetProperty("highestSeverity").GetString()));
        }

        await api.History.AppendAsync(Cycles.Make("Saw 2", 5));
        await using var again = await EventReader.OpenAsync(api.Address, last: "1");
        var missed = await again.NextAsync(told => told.Name == "cycle", Soon);
        Assert.Equal(("3", "Saw 2-000005"), (missed.Id, missed.Data.GetProperty("cycleId").GetString()));
    }

    [Fact]
    public async Task Stream_OtherSawsAreConfigured_EndsAndBeginsAnewWithThem()
    {
        await using var api = await ReadingApi.StartAsync();
        var before = api.Context.Options;
        await using (var reader = await EventReader.OpenAsync(api.Address))
        {
            await reader.NextAsync(told => told.Name == "saw", Soon);

            // The same saws otherwise configured end nothing.
            api.Context.TakeOver(before with { Saws = [before.Saws[0] with { Group = "bay 9" }, before.Saws[1]] });
            await reader.NextAsync(told => told.Name == "saw" && told.Data.TryGetProperty("group", out var group) && group.GetString() == "bay 9", Soon);
            Assert.False(reader.IsOver);
            api.Context.TakeOver(before with { Saws = [before.Saws[1], before.Saws[0] with { Machine = new() { Name = "Saw 3" } }] });
            await Until.TrueAsync(() => reader.IsOver, "the stream ends");
        }

        await using var again = await EventReader.OpenAsync(api.Address);
        await again.NextAsync(told => told.Name == "saw" && told.Data.GetProperty("name").GetString() == "Saw 3", Soon);
        api.Context.Traces.Take();
        Assert.Equal("Saw 3", api.Context.Traces.Of("Saw 3").Saw);
        Assert.Empty(api.Context.Traces.Of("Saw 1").AgeS);
    }

    [Fact]
    public async Task Stream_FramesThatStayAway_MakeTheSawUnknown()
    {
        await using var api = await ReadingApi.StartAsync("Saw 1");
        await using var saw = new RunningSaw(api, "Saw 1");
        await using var reader = await EventReader.OpenAsync(api.Address);
        saw.Offer(api.Machine.GetUtcNow(), 2);
        await reader.NextAsync(told => told.Data.GetProperty("state").GetString() == "not_executing", Soon);
        api.Machine.Advance(TimeSpan.FromMinutes(2));
        var told = await reader.NextAsync(told => told.Data.GetProperty("state").GetString() == "unknown", Soon);
        Assert.Equal(JsonValueKind.Null, told.Data.GetProperty("motorLoadKw").ValueKind);
        Assert.Equal(120, told.Data.GetProperty("dataAgeS").GetDouble());
    }

    [Fact]
    public void Reader_WhoTakesNothing_GetsTheLatestOfEachSawAndIsEndedWhenTooMuchWaits()
    {
        LiveHub.Told[] told = [new() { Tick = [1], Whole = [10], Version = 1 }, new() { Tick = [2], Whole = [20], Version = 1 }];
        var reader = new LiveReader(told);
        Assert.Equal([10, 20], Take(reader));
        for (byte i = 50; i < 100; i++)
        {
            told[1].Tick = [i];
            reader.Tell([1], []);
        }

        reader.Tell([], [[7]]);
        Assert.Equal([7, 99], Take(reader));

        // More than the moment changed: everything comes again.
        (told[0].Whole, told[0].Version) = ([11], 2);
        reader.Tell([0], []);
        Assert.Equal([11], Take(reader));
        reader.Tell([], [.. Enumerable.Repeat<byte[]>([8], LiveReader.MostWaiting)]);
        Assert.False(reader.IsOver);
        reader.Tell([], [[9]]);
        Assert.True(reader.IsOver);
        Assert.Null(reader.Take());
    }

    private static List<int> Take(LiveReader reader)
    {
        var all = new List<int>();
        while (reader.Take() is { } bytes)
            all.Add(bytes[0]);
        return all;
    }
}
