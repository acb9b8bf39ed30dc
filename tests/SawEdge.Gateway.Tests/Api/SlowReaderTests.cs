using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Hosting;
using Microsoft.AspNetCore.Hosting.Server;
using Microsoft.AspNetCore.Hosting.Server.Features;
using Microsoft.AspNetCore.Routing;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.Time.Testing;
using SawEdge.Gateway.Api;
using SawEdge.Gateway.Tests.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Api;

/// <summary>A reader that stops reading, with the wall clock of the stream in the test's hand.</summary>
public sealed class SlowReaderTests
{
    [Fact]
    public async Task Stream_ReaderThatTakesNothingForHalfAMinute_IsCutOff()
    {
        await using var api = await ReadingApi.StartAsync("Saw 1");
        var wall = new FakeTimeProvider();
        var context = api.Context with { Time = wall };
        var builder = WebApplication.CreateEmptyBuilder(new WebApplicationOptions());
        builder.WebHost.UseKestrelCore().UseUrls("http://127.0.0.1:0");
        builder.Services.AddRoutingCore();
        await using var app = builder.Build();
        app.UseRouting();
        ApiRead.Map(app.MapGroup("/api/v1"), context);
        await app.StartAsync();
        var address = new Uri(app.Services.GetRequiredService<IServer>().Features.Get<IServerAddressesFeature>()!.Addresses.First());
        using var deaf = await EventReader.OpenDeafAsync(address);
        await Until.TrueAsync(() => context.Meters.Readers == 1, "it is there");

        // Cycles with long notes until nothing more goes into the socket; then the clock alone.
        var number = 0;
        var notes = new string('x', 20_000);
        await Until.TrueAsync(
            async () =>
            {
                for (var i = 0; i < 20; i++)
                    await api.History.AppendAsync(Cycles.Make("Saw 1", number++) with { Notes = notes });
                wall.Advance(LiveHub.LookEvery);
                return number >= 600;
            },
            "enough is there to be read");
        await Until.TrueAsync(
            () =>
            {
                wall.Advance(TimeSpan.FromSeconds(5));
                return context.Meters.Readers == 0;
            },
            "it is cut off");
    }
}
