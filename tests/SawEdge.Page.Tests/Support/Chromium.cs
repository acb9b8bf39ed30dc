using Microsoft.Playwright;

namespace SawEdge.Page.Tests.Support;

/// <summary>The distribution's browser, without a window.</summary>
internal sealed class Chromium : IAsyncDisposable
{
    private readonly IPlaywright _playwright;
    private readonly IBrowser _browser;

    private Chromium(IPlaywright playwright, IBrowser browser) => (_playwright, _browser) = (playwright, browser);

    /// <summary>Its program.</summary>
    public const string Program = "chromium";

    /// <summary>Starts it.</summary>
    public static async Task<Chromium> StartAsync()
    {
        var playwright = await Playwright.CreateAsync();

        // Root may not use the sandbox; it only sees pages of this test.
        var browser = await playwright.Chromium.LaunchAsync(new BrowserTypeLaunchOptions { ExecutablePath = $"/usr/bin/{Program}", Args = ["--no-sandbox", "--disable-dev-shm-usage"] });
        return new Chromium(playwright, browser);
    }

    /// <summary>Opens a tab that is watched.</summary>
    /// <param name="screen">Its size.</param>
    /// <param name="isDark">Whether the person prefers dark.</param>
    /// <param name="address">Where the page is.</param>
    /// <param name="clock">What time the person's clock shows.</param>
    /// <param name="from">The address that a server in front says the person has; null where there is none in front.</param>
    public async Task<WatchedPage> OpenAsync(Screen screen, bool isDark, Uri address, TimeProvider clock, string? from = null)
    {
        var context = await _browser.NewContextAsync(new BrowserNewContextOptions
        {
            ViewportSize = new ViewportSize { Width = screen.Width, Height = screen.Height },
            HasTouch = screen == Screen.Phone,
            IsMobile = screen == Screen.Phone,
            DeviceScaleFactor = screen == Screen.Phone ? 2 : 1,
            ColorScheme = isDark ? ColorScheme.Dark : ColorScheme.Light,
            ReducedMotion = ReducedMotion.Reduce,
            BaseURL = address.ToString(),
            ExtraHTTPHeaders = from is null ? [] : [new("X-Forwarded-For", from)],
        });
        return await WatchedPage.StartAsync(context, clock);
    }

    /// <inheritdoc/>
    public async ValueTask DisposeAsync()
    {
        await _browser.DisposeAsync();
        _playwright.Dispose();
    }
}

/// <summary>A size of screen.</summary>
/// <param name="Name">Its name.</param>
/// <param name="Width">CSS pixels.</param>
/// <param name="Height">CSS pixels.</param>
internal sealed record Screen(string Name, int Width, int Height)
{
    /// <summary>In a hand.</summary>
    public static Screen Phone { get; } = new("phone", 390, 844);

    /// <summary>On a desk.</summary>
    public static Screen Desktop { get; } = new("desktop", 1440, 900);

    /// <summary>Over the bay.</summary>
    public static Screen Wall { get; } = new("wall", 1920, 1080);

    /// <summary>By name.</summary>
    public static Screen Of(string name) => new[] { Phone, Desktop, Wall }.Single(screen => screen.Name == name);
}
