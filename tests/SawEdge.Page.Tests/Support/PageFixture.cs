namespace SawEdge.Page.Tests.Support;

/// <summary>One plant and one browser for all tests of the page; started by the first that needs them.</summary>
public sealed class PageFixture : IAsyncLifetime
{
    private readonly Lazy<Task<(RunningPlant Plant, Chromium Browser)>> _running = new(StartAsync);

    /// <summary>Nothing yet: where all tests are skipped, nothing is needed.</summary>
    public Task InitializeAsync() => Task.CompletedTask;

    /// <inheritdoc/>
    public async Task DisposeAsync()
    {
        if (!_running.IsValueCreated)
            return;
        var (plant, browser) = await _running.Value;
        await browser.DisposeAsync();
        await plant.DisposeAsync();
    }

    internal async Task<RunningPlant> PlantAsync() => (await _running.Value).Plant;

    internal Task<WatchedPage> OpenAsync(Screen screen, bool isDark = false) => OpenAsync(screen, isDark, null);

    /// <summary>Opens the page as somebody who comes from elsewhere, over a server that stands in front: he needs a token.</summary>
    internal Task<WatchedPage> OpenFromOutsideAsync(Screen screen) => OpenAsync(screen, false, "203.0.113.7");

    /// <summary>Opens the page of another plant in the same browser.</summary>
    internal async Task<WatchedPage> OpenAsync(RunningPlant plant, Screen screen) => await (await _running.Value).Browser.OpenAsync(screen, false, plant.Address, plant.Clock);

    private async Task<WatchedPage> OpenAsync(Screen screen, bool isDark, string? from)
    {
        var (plant, browser) = await _running.Value;
        return await browser.OpenAsync(screen, isDark, plant.Address, plant.Clock, from);
    }

    private static async Task<(RunningPlant Plant, Chromium Browser)> StartAsync()
    {
        var plant = await RunningPlant.StartAsync();
        try
        {
            return (plant, await Chromium.StartAsync());
        }
        catch
        {
            await plant.DisposeAsync();
            throw;
        }
    }
}

/// <summary>Tests that share the plant.</summary>
[CollectionDefinition(Name)]
public sealed class PageTests : ICollectionFixture<PageFixture>
{
    /// <summary>Its name.</summary>
    public const string Name = "page";
}
