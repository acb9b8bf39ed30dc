using System.Globalization;
using System.Text.Json;
using Microsoft.Playwright;
using SawEdge.TestSupport;

namespace SawEdge.Page.Tests.Support;

/// <summary>A tab of which everything is noted that must not happen: errors on the console, violations of the policy, dialogs, requests that go elsewhere or fail.</summary>
internal sealed class WatchedPage : IAsyncDisposable
{
    private static readonly string? Screenshots = Environment.GetEnvironmentVariable("SAWEDGE_SCREENSHOTS");

    private readonly IBrowserContext _context;
    private readonly List<string> _troubles = [];
    private int _asking;

    private WatchedPage(IBrowserContext context, IPage page)
    {
        _context = context;
        Tab = page;
        page.Console += (_, message) => Note(message.Type is "error" or "warning", $"console {message.Type}: {message.Text}");
        page.PageError += (_, error) => Note(true, $"uncaught: {error}");
        page.Dialog += async (_, dialog) =>
        {
            Note(true, $"dialog: {dialog.Message}");
            await dialog.DismissAsync();
        };
        page.Response += (_, response) => Note(response.Status >= 400, $"{response.Status} {response.Request.Method} {response.Url}");
        page.Request += (_, request) => Count(request, 1);
        page.RequestFinished += (_, request) => Count(request, -1);
        page.RequestFailed += (_, request) => Count(request, -1);
        page.Request += (_, request) => Note(new Uri(request.Url) is { Host: not "127.0.0.1", Scheme: "http" or "https" or "ws" or "wss" }, $"request elsewhere: {request.Url}");
    }

    /// <summary>The tab.</summary>
    public IPage Tab { get; }

    /// <summary>What went wrong so far.</summary>
    public IReadOnlyList<string> Troubles
    {
        get
        {
            lock (_troubles)
                return [.. _troubles];
        }
    }

    /// <summary>What went wrong, without what a test brings about itself.</summary>
    /// <param name="expected">Words of it, each.</param>
    public IReadOnlyList<string> TroublesBut(params string[] expected) => [.. Troubles.Where(trouble => !expected.Any(words => trouble.Contains(words, StringComparison.Ordinal)))];

    /// <summary>Opens the tab.</summary>
    public static async Task<WatchedPage> StartAsync(IBrowserContext context, TimeProvider clock)
    {
        // The person's clock shows the plant's time; and what the policy forbids is said on the console, also where the browser keeps quiet.
        var skew = (long)(clock.GetUtcNow() - TimeProvider.System.GetUtcNow()).TotalMilliseconds;
        await context.AddInitScriptAsync(string.Create(CultureInfo.InvariantCulture, $$"""
            (() => {
              const Real = Date;
              window.Date = class extends Real {
                constructor(...given) { if (given.length) super(...given); else super(Real.now() + {{skew}}); }
                static now() { return Real.now() + {{skew}}; }
              };
              document.addEventListener("securitypolicyviolation", event => console.error(`policy: ${event.violatedDirective} ${event.blockedURI}`));
            })();
            """));
        return new WatchedPage(context, await context.NewPageAsync());
    }

    /// <summary>Goes to a view and waits until it is drawn.</summary>
    public async Task GoAsync(string route)
    {
        if (Tab.Url == "about:blank")
            await Tab.GotoAsync($"/{route}");
        else
            await Tab.EvaluateAsync("route => { location.hash = route; }", route);
        await DrawnAsync();
    }

    /// <summary>Waits until a click has led to an address, and its view is drawn.</summary>
    /// <param name="route">What the fragment begins with.</param>
    /// <param name="part">What else is in it.</param>
    public async Task AtAsync(string route, string part = "")
    {
        await Until.TrueAsync(() => Tab.Url.Contains($"/{route}", StringComparison.Ordinal) && Tab.Url.Contains(part, StringComparison.Ordinal), () => $"the address {Tab.Url} becomes {route}...{part}");
        await DrawnAsync();
    }

    /// <summary>Waits until the view has a title and nothing is loaded any more.</summary>
    public async Task DrawnAsync()
    {
        // Twice in a row: from one answer another question may follow.
        var quiet = 0;
        await Until.TrueAsync(
            async () =>
            {
                quiet = Volatile.Read(ref _asking) == 0 && await IsDrawnAsync() ? quiet + 1 : 0;
                return quiet >= 2;
            },
            () => $"{Tab.Url} is drawn; so far: {string.Join('\n', Troubles)}");

        // Two frames: what was put into the document has been laid out and painted.
        await Tab.EvaluateAsync("() => new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))");
    }

    /// <summary>How far the page is wider than the screen, CSS pixels, and what sticks out.</summary>
    public async Task<string?> TooWideAsync()
    {
        var found = await Tab.EvaluateAsync<string>("""
            () => {
              const root = document.scrollingElement;
              const over = root.scrollWidth - root.clientWidth;
              if (over <= 0) return "";
              const out = [...document.querySelectorAll("body *")].filter(e => e.getBoundingClientRect().right > root.clientWidth + 1)
                .map(e => `${e.tagName.toLowerCase()}.${e.getAttribute("class") ?? ""}`);
              return `${over} px: ${[...new Set(out)].slice(0, 6).join(", ")}`;
            }
            """);
        return found.Length == 0 ? null : found;
    }

    /// <summary>Everything that can be read, with plain spaces.</summary>
    public async Task<string> TextAsync() => (await Tab.InnerTextAsync("body")).Replace('\u00a0', ' ').Replace('\u202f', ' ');

    /// <summary>Where the keyboard is: the identity of the element, or its words.</summary>
    public async Task<string> FocusAsync() => await Tab.EvaluateAsync<string>("() => document.activeElement.id || document.activeElement.textContent.trim()");

    /// <summary>Runs axe-core over what is shown.</summary>
    /// <returns>A line for each rule that is broken, with where.</returns>
    public async Task<IReadOnlyList<string>> AxeAsync()
    {
        // Not as an element of the page, which its policy would rightly refuse.
        await Tab.EvaluateAsync(Axe.Script);
        var result = await Tab.EvaluateAsync<JsonElement>("tags => axe.run(document, { runOnly: { type: 'tag', values: tags }, resultTypes: ['violations'] })", Axe.Tags);
        return [.. result.GetProperty("violations").EnumerateArray().Select(Axe.Words)];
    }

    /// <summary>Writes a picture where the environment variable <c>SAWEDGE_SCREENSHOTS</c> names a folder.</summary>
    public async Task PictureAsync(string name, bool isWhole = false)
    {
        if (Screenshots is { Length: > 0 })
            await Tab.ScreenshotAsync(new PageScreenshotOptions { Path = Path.Combine(Screenshots, $"{name}.png"), FullPage = isWhole });
    }

    /// <inheritdoc/>
    public async ValueTask DisposeAsync() => await _context.DisposeAsync();

    private Task<bool> IsDrawnAsync() => Tab.EvaluateAsync<bool>("""
        () => {
          const name = location.hash.replace(/^#\/?/, "").split(/[/?]/)[0] || "bay";
          const isDisplay = name === "display";
          const root = document.querySelector(isDisplay ? "main .display-stage > [class^=view-]" : `main > section.view-${name}`);
          const title = root?.querySelector("h1");
          return root !== null && root.innerText.trim() !== "" && root.querySelector(".loading, [aria-busy=true]") === null
            && (isDisplay || (title && title.getClientRects().length > 0 && title.textContent.trim() !== ""));
        }
        """);

    // The event stream never ends.
    private void Count(IRequest request, int by)
    {
        if (!request.Url.EndsWith("/live", StringComparison.Ordinal))
            Interlocked.Add(ref _asking, by);
    }

    private void Note(bool matters, string what)
    {
        if (!matters)
            return;
        lock (_troubles)
            _troubles.Add(what);
    }
}
