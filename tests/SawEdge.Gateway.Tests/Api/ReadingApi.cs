using System.Net;
using System.Text.Json;
using Microsoft.Extensions.Logging.Abstractions;
using Microsoft.Extensions.Time.Testing;
using SawEdge.Core.Cutting;
using SawEdge.Core.Materials;
using SawEdge.Core.Oee;
using SawEdge.Gateway.Api;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Hosting;
using SawEdge.Gateway.Tests.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Api;

/// <summary>The API on a port of its own before a history on the disk, asked over real connections. The machine clock stands a day after the first cycle.</summary>
internal sealed class ReadingApi : IAsyncDisposable
{
    public const string JobList = "job,material,section,part_length,pieces,blade,standard,hardness,coolant\nJ-1,1045,\"round 4 in\",250 mm,40,bimetal 3/4 tpi,,210 HB,mist\n\"<script>alert(1)</script>\",1045,\"tube 100 mm x 8 mm wall\",,,,95 s,,\n";

    private readonly CancellationTokenSource _stop = new();
    private readonly Task _run;
    private readonly ApiHost _host;

    private ReadingApi(IReadOnlyList<string> saws, CalendarPlan plan)
    {
        Machine = new FakeTimeProvider(Cycles.Start.AddDays(1));
        Live = new LiveSaws(saws, Machine);
        var jobs = JobBook.Parse(JobList, MaterialCatalogue.BuiltIn).Book;
        Context = new ApiContext
        {
            Options = new GatewayOptions
            {
                Site = "Riverbend",
                Gateway = "bay-1",
                DataFolder = History.Folder,
                Saws = [.. saws.Select(saw => new SawOptions { Machine = new SawMachine { Name = saw }, Group = "bay 1", Blade = "B-0", Source = new ModbusSourceOptions { Device = "d", Unit = 1, Signals = [] }, Interval = TimeSpan.FromMilliseconds(100) })],
                TimeZone = plan.Zone,
                Calendar = new CalendarOptions(new ShiftCalendar(plan), new OeeSettings()),
                Http = new HttpOptions { Listen = new Uri("http://127.0.0.1:0") },
            },
            Reader = History.Reader,
            Writer = History.Writer,
            Time = TimeProvider.System,
            Machine = Machine,
            Loggers = NullLoggerFactory.Instance,
            Live = Live,
            Jobs = () => jobs,
        };
        _host = ApiHost.Build(Context, null)[0];
        _run = _host.RunAsync(_stop.Token);
    }

    public RunningHistory History { get; } = new();

    public FakeTimeProvider Machine { get; }

    public LiveSaws Live { get; }

    public ApiContext Context { get; }

    public HttpClient Http { get; } = new();

    public Uri Address => _host.Address!;

    public static Task<ReadingApi> StartAsync(params string[] saws) => StartAsync(PlanOf(TimeZoneInfo.Utc, "early", 6, 14), saws);

    /// <summary>One shift on each day.</summary>
    public static CalendarPlan PlanOf(TimeZoneInfo zone, string shift, int from, int to) =>
        new() { Zone = zone, Shifts = [new WeeklyShift(shift, Enum.GetValues<DayOfWeek>().ToHashSet(), new TimeOnly(from, 0), new TimeOnly(to, 0), [])] };

    public static async Task<ReadingApi> StartAsync(CalendarPlan plan, params string[] saws)
    {
        var api = new ReadingApi(saws.Length > 0 ? saws : ["Saw 1", "Saw 2"], plan);
        await Until.TrueAsync(() => api._host.Address is not null || api._run.IsCompleted, "the API listens");
        if (api._run.IsCompleted)
            await api._run;
        api.Http.BaseAddress = new Uri(api.Address, "/api/v1/");
        return api;
    }

    /// <summary>Asks, and expects an answer.</summary>
    public async Task<JsonElement> GetAsync(string path, HttpStatusCode expected = HttpStatusCode.OK)
    {
        using var response = await Http.GetAsync(new Uri(path, UriKind.Relative));
        var text = await response.Content.ReadAsStringAsync();
        Assert.True(response.StatusCode == expected, $"{path}: {response.StatusCode} {text}");
        return JsonDocument.Parse(text).RootElement;
    }

    public async ValueTask DisposeAsync()
    {
        await _stop.CancelAsync();
        try
        {
            await _run;
        }
        catch (OperationCanceledException)
        {
            // As asked.
        }

        Http.Dispose();
        _stop.Dispose();
        await History.DisposeAsync();
    }
}
