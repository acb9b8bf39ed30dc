using System.Net;
using System.Text.Json;
using SawEdge.Gateway.Api;
using SawEdge.Gateway.Tests.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Api;

/// <summary>The load of the last minutes, for whoever opens the page.</summary>
public sealed class LoadTraceTests
{
    [Fact]
    public async Task Traces_OfASawThatTells_HoldItsLoadAndOfTheOtherNothing()
    {
        await using var api = await ReadingApi.StartAsync("Saw 1", "Saw 2");
        await using var saw = new RunningSaw(api, "Saw 1");
        saw.Offer(Cycles.Start.AddDays(1), 3.25);
        await Until.TrueAsync(() => api.Live.Read("Saw 1").LoadKw == 3.25, "the frame is taken");
        api.Context.Traces.Take();

        var items = (await api.GetAsync("traces")).GetProperty("items");
        Assert.Equal(["Saw 1", "Saw 2"], items.EnumerateArray().Select(item => item.GetProperty("saw").GetString()!));
        Assert.Equal(3.25, items[0].GetProperty("loadKw")[0].GetDouble());
        Assert.InRange(items[0].GetProperty("ageS")[0].GetDouble(), 0, 60);
        Assert.Equal(JsonValueKind.Null, items[0].GetProperty("expectedKw")[0].ValueKind);
        Assert.Equal(0, items[1].GetProperty("loadKw").GetArrayLength());
        Assert.Equal(1, (await api.GetAsync("traces?saw=Saw%202")).GetProperty("items").GetArrayLength());
        await api.GetAsync("traces?saw=Saw%209", HttpStatusCode.BadRequest);
    }

    [Fact]
    public async Task Take_LongerThanIsKept_KeepsTheNewest()
    {
        await using var api = await ReadingApi.StartAsync("Saw 1");
        await using var saw = new RunningSaw(api, "Saw 1");
        saw.Offer(Cycles.Start.AddDays(1), 1);
        await Until.TrueAsync(() => api.Live.Read("Saw 1").LoadKw == 1, "the frame is taken");
        for (var i = 0; i < LoadTraces.Kept; i++)
            api.Context.Traces.Take();
        saw.Offer(Cycles.Start.AddDays(1).AddSeconds(1), 2);
        await Until.TrueAsync(() => api.Live.Read("Saw 1").LoadKw == 2, "the frame is taken");
        api.Context.Traces.Take();

        var trace = api.Context.Traces.Of("Saw 1");
        Assert.Equal((LoadTraces.Kept, 1.0, 2.0), (trace.LoadKw.Count, trace.LoadKw[0], trace.LoadKw[^1]));
    }

    [Fact]
    public async Task Take_OfASawThatFellSilent_TakesNothing()
    {
        await using var api = await ReadingApi.StartAsync("Saw 1");
        await using var saw = new RunningSaw(api, "Saw 1");
        saw.Offer(Cycles.Start.AddDays(1), 1);
        await Until.TrueAsync(() => api.Live.Read("Saw 1").LoadKw == 1, "the frame is taken");
        api.Machine.Advance(api.Live.Read("Saw 1").Holds + TimeSpan.FromSeconds(1));
        var before = api.Context.Traces.Of("Saw 1").LoadKw.Count;
        api.Context.Traces.Take();
        Assert.Equal(before, api.Context.Traces.Of("Saw 1").LoadKw.Count);
    }
}
