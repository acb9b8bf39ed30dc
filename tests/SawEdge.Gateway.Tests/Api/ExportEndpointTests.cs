using System.Net;
using System.Net.Sockets;
using System.Text;
using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Hosting;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.Time.Testing;
using SawEdge.Core.Cycles;
using SawEdge.Gateway.Api;
using SawEdge.Gateway.Export;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Tests.Commands.Export;
using SawEdge.Gateway.Tests.History;
using SawEdge.Gateway.Tests.Hosting;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Api;

/// <summary>The history as tables, over real connections.</summary>
public sealed class ExportEndpointTests
{
    [Theory]
    [InlineData("cycles", "", "text/csv; charset=utf-8; header=present", "cycles.csv")]
    [InlineData("cycles", "format=jsonl", "application/jsonl", "cycles.jsonl")]
    [InlineData("cycles", "format=parquet", "application/vnd.apache.parquet", "cycles.parquet")]
    [InlineData("cycles", "format=xlsx", "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet", "cycles.xlsx")]
    [InlineData("cycles", "gzip=true&units=inch&text=as-is", "application/gzip", "cycles.csv.gz")]
    [InlineData("profiles", "format=parquet", "application/vnd.apache.parquet", "profiles.parquet")]
    [InlineData("states", "", "text/csv; charset=utf-8; header=present", "states.csv")]
    [InlineData("alarms", "format=xlsx", "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet", "alarms.xlsx")]
    [InlineData("signals", "", "text/csv; charset=utf-8; header=present", "signals.csv")]
    public async Task Export_EachFormat_HasTheBytesThatTheCommandWrites(string table, string query, string type, string name)
    {
        await using var api = await ReadingApi.StartAsync("Saw 1");
        await using var exporting = new Exporting();
        for (var i = 0; i < 30; i++)
            await api.History.Writer.AppendAsync(new FinishedCycle { Record = Cycles.Make("Saw 1", i) with { Job = "=cmd|' /C calc'!A0,\"\n", CutAreaCm2 = 80 + i }, Profile = Cycles.Profile(i) }, CancellationToken.None);

        using var response = await api.Http.GetAsync(new Uri($"export/{table}?{query}", UriKind.Relative));
        Assert.Equal(HttpStatusCode.OK, response.StatusCode);
        Assert.Equal(type, response.Content.Headers.GetValues("Content-Type").Single());
        Assert.Equal($"attachment; filename=\"{name}\"", response.Content.Headers.GetValues("Content-Disposition").Single());
        Assert.True(response.Headers.CacheControl!.NoStore);

        string[] options = [.. query.Split('&', StringSplitOptions.RemoveEmptyEntries).SelectMany(part => part == "gzip=true" ? ["--gzip"] : new[] { $"--{part.Split('=')[0]}", part.Split('=')[1] })];
        var outcome = await exporting.RunRawAsync([table, .. options, "--data", api.History.Folder]);
        Assert.Equal(0, outcome.Code);
        Assert.Equal(outcome.Bytes, await response.Content.ReadAsByteArrayAsync());
        Assert.NotEmpty(outcome.Bytes);
        Assert.Equal(0, api.Context.Meters.Exports);
    }

    [Fact]
    public async Task Export_Filters_LeaveThoseThatFit()
    {
        await using var api = await ReadingApi.StartAsync();
        const string Hostile = "A&B \"'; DROP TABLE cycles;-- 锯";
        await api.History.AppendAsync(Cycles.Make("Saw 1", 0) with { Job = Hostile, LoadScore = 4.5, Outcome = CutOutcome.Aborted });
        await api.History.AppendAsync(Cycles.Make("Saw 1", 1) with { Material = "1045", LoadScore = 1 });
        await api.History.AppendAsync(Cycles.Make("Saw 2", 2) with { Blade = "B-9", Outcome = CutOutcome.Trim });

        async Task Finds(string query, params string[] ids) =>
            Assert.Equal(string.Concat(ids.Prepend("cycle_id").Select(id => id + "\n")), await api.Http.GetStringAsync(new Uri($"export/cycles?columns=cycle_id&{query}", UriKind.Relative)));
        await Finds("", "Saw 1-000000", "Saw 1-000001", "Saw 2-000002");
        await Finds($"job={Uri.EscapeDataString(Hostile)}", "Saw 1-000000");
        await Finds($"job={Uri.EscapeDataString(Hostile)}&job=J-1", "Saw 1-000000", "Saw 1-000001", "Saw 2-000002");
        await Finds("material=1045&material=none", "Saw 1-000001");
        await Finds("blade=B-9", "Saw 2-000002");
        await Finds("outcome=aborted&outcome=trim", "Saw 1-000000", "Saw 2-000002");
        await Finds("minScore=1&maxScore=4", "Saw 1-000001");
        await Finds("saw=Saw%202", "Saw 2-000002");
        await Finds("from=2026-03-02T06:02:00Z&to=2026-03-02T06:04:00Z", "Saw 1-000001");
        await Finds("from=2006-03-02T06:02:00Z&to=2036-03-02T06:04:00Z&saw=Saw%202", "Saw 2-000002");
        await Finds("job=none");
    }

    [Theory]
    [InlineData("export/cycles?to=never", "to", "RFC 3339")]
    [InlineData("export/cycles?from=2026-03-02T08:00:00Z&to=2026-03-02T07:00:00Z", "to", "ends after it begins")]
    [InlineData("export/cycles?saw=Saw%203", "saw", "the saws are Saw 1, Saw 2")]
    [InlineData("export/cycles?columns=saw,load_scor", "columns", "the nearest is load_score")]
    [InlineData("export/cycles?columns=saw&columns=saw", "columns", "named twice")]
    [InlineData("export/cycles?columns=colour", "columns", "known here: cycle_id")]
    [InlineData("export/cycles?format=excel", "format", "csv, jsonl, parquet, xlsx")]
    [InlineData("export/cycles?outcome=trim&outcome=fine", "outcome", "completed")]
    [InlineData("export/cycles?minScore=3&maxScore=2", "maxScore", "smaller than minScore")]
    [InlineData("export/cycles?units=imperial", "units", "metric, inch")]
    [InlineData("export/cycles?text=raw", "text", "safe, as-is")]
    [InlineData("export/cycles?format=parquet&gzip", "gzip", "compressed by itself")]
    [InlineData("export/cycles?limit=3", "limit", "not known here")]
    [InlineData("export/states?blade=B-1", "blade", "not known here")]
    [InlineData("export?format=csv", "format", "not known here")]
    public async Task Export_AskedWrongly_SaysWhatWouldBeRight(string path, string parameter, string words)
    {
        await using var api = await ReadingApi.StartAsync();
        var problem = await api.GetAsync(path, HttpStatusCode.BadRequest);
        var error = Assert.Single(problem.GetProperty("errors").EnumerateArray());
        Assert.Equal(parameter, error.GetProperty("parameter").GetString());
        Assert.Contains(words, error.GetProperty("detail").GetString(), StringComparison.Ordinal);
        Assert.DoesNotContain("..", problem.GetProperty("detail").GetString(), StringComparison.Ordinal);
    }

    [Fact]
    public async Task Export_OfAnUnknownTable_OffersTheNearest()
    {
        await using var api = await ReadingApi.StartAsync();
        Assert.Contains("did you mean 'cycles'?", (await api.GetAsync("export/cycels", HttpStatusCode.NotFound)).GetProperty("detail").GetString(), StringComparison.Ordinal);
        Assert.Contains("known here: cycles,", (await api.GetAsync("export/cycles.csv", HttpStatusCode.NotFound)).GetProperty("detail").GetString(), StringComparison.Ordinal);
    }

    [Fact]
    public async Task Export_List_IsTheDataDictionary()
    {
        await using var api = await ReadingApi.StartAsync();
        var items = (await api.GetAsync("export")).GetProperty("items");
        Assert.Equal(ExportTables.All.Select(table => table.Name), items.EnumerateArray().Select(table => table.GetProperty("name").GetString()));
        Assert.Equal(["saw", "job", "material", "blade", "outcome", "score"], items[0].GetProperty("filters").EnumerateArray().Select(word => word.GetString()));
        foreach (var (column, told) in ExportTables.Cycles.Columns.Zip(items[0].GetProperty("columns").EnumerateArray()))
            Assert.Equal((column.Name, column.Meaning, column.EmptyWhen), (told.GetProperty("name").GetString(), told.GetProperty("meaning").GetString(), told.GetProperty("empty").GetString()));
    }

    [Fact]
    public async Task Export_Head_TellsWithoutReading()
    {
        await using var api = await ReadingApi.StartAsync();
        using var request = new HttpRequestMessage(HttpMethod.Head, new Uri("export/cycles?format=xlsx&from=2026-03-02T00:00:00Z&to=2026-03-03T00:00:00Z", UriKind.Relative));
        using var response = await api.Http.SendAsync(request);
        Assert.Equal(HttpStatusCode.OK, response.StatusCode);
        Assert.Equal("attachment; filename=\"cycles-20260302.xlsx\"", response.Content.Headers.GetValues("Content-Disposition").Single());
        Assert.Empty(await response.Content.ReadAsByteArrayAsync());
    }

    [Fact]
    public async Task Export_WhileCyclesAreWritten_IsWholeUpToSomeCycle()
    {
        await using var api = await ReadingApi.StartAsync("Saw 1");
        var writing = Task.Run(async () =>
        {
            for (var i = 0; i < 3000; i++)
                await api.History.AppendAsync(Cycles.Make("Saw 1", i));
        });
        var last = 0;
        do
        {
            var lines = (await api.Http.GetStringAsync(new Uri("export/cycles?columns=cycle_id", UriKind.Relative))).Split('\n')[1..^1];
            Assert.Equal(Enumerable.Range(0, lines.Length).Select(i => Cycles.Make("Saw 1", i).CycleId), lines);
            Assert.True(lines.Length >= last);
            last = lines.Length;
        }
        while (!writing.IsCompleted);
        await writing;
        Assert.Equal(3001, (await api.Http.GetStringAsync(new Uri("export/cycles?columns=cycle_id", UriKind.Relative))).Count(c => c == '\n'));
    }

    [Fact]
    public async Task Export_ReaderGoesAway_EndsTheReading()
    {
        await using var api = await ReadingApi.StartAsync("Saw 1");
        await FillAsync(api.History);
        using (var reader = await DeafAsync(api.Address, "/api/v1/export/cycles"))
            await Until.TrueAsync(() => api.Context.Meters.Exports == 1, "the export has begun");
        await Until.TrueAsync(() => api.Context.Meters.Exports == 0, "the export has ended");
    }

    [Fact]
    public async Task Export_ReaderThatTakesNothing_IsCutOff()
    {
        await using var api = await ReadingApi.StartAsync("Saw 1");
        await FillAsync(api.History);
        var wall = new FakeTimeProvider();
        await using var app = await ServeAsync(api.Context with { Time = wall });
        using var reader = await DeafAsync(new Uri(app.Urls.First()), "/api/v1/export/cycles");
        await Until.TrueAsync(() => api.Context.Meters.Exports == 1, "the export has begun");
        await Until.TrueAsync(
            () =>
            {
                wall.Advance(ExportAnswer.Patience / 20);
                return api.Context.Meters.Exports == 0;
            },
            "the export has ended");

        // What it had got by then does not end as a whole answer does (RFC 9112, section 7.1: a chunk of no bytes).
        var rest = await ReadAsync(reader);
        Assert.False(rest.AsSpan().EndsWith("0\r\n\r\n"u8));
    }

    [Fact]
    public async Task Export_HistoryFailsOnTheWay_BreaksTheConnection()
    {
        await using var api = await ReadingApi.StartAsync("Saw 1");
        await FillAsync(api.History);
        using var folder = new TempFolder();
        var file = folder.File(HistoryDatabase.FileName);
        api.History.Ask($"VACUUM INTO '{file}'");
        await using (var stream = File.OpenWrite(file))
        {
            stream.Position = stream.Length / 2;
            await stream.WriteAsync(new byte[stream.Length / 4]);
        }

        var log = new LogCollector();
        await using var app = await ServeAsync(api.Context with { Reader = HistoryReader.OpenFolder(folder.Path), Loggers = log });
        using var reader = await DeafAsync(new Uri(app.Urls.First()), "/api/v1/export/cycles");
        var answered = await ReadAsync(reader);

        Assert.StartsWith("HTTP/1.1 200 OK\r\n", Encoding.ASCII.GetString(answered, 0, 30), StringComparison.Ordinal);
        Assert.False(answered.AsSpan().EndsWith("0\r\n\r\n"u8));
        Assert.InRange(answered.Length, 1_000_000, 39_000_000);
        Assert.Contains("an export of cycles broke off: The history", Assert.Single(log.Entries, entry => entry.Id == 8043).Text, StringComparison.Ordinal);
    }

    private static async Task<WebApplication> ServeAsync(ApiContext context)
    {
        var builder = WebApplication.CreateEmptyBuilder(new WebApplicationOptions());
        builder.WebHost.UseKestrelCore().UseUrls("http://127.0.0.1:0");
        builder.Services.AddRoutingCore();
        var app = builder.Build();
        app.UseRouting();
        ApiRead.Map(app.MapGroup("/api/v1"), context);
        await app.StartAsync();
        return app;
    }

    // Several batches of rows, more bytes than the buffers between two programs hold.
    private static async Task FillAsync(RunningHistory history)
    {
        var notes = new string('x', 4000);
        for (var part = 0; part < 10; part++)
            await history.Writer.AppendAsync([.. Enumerable.Range(part * 1000, 1000).Select(i => new FinishedCycle { Record = Cycles.Make("Saw 1", i) with { Notes = notes } })], CancellationToken.None);
    }

    private static async Task<Socket> DeafAsync(Uri address, string path)
    {
        var socket = new Socket(AddressFamily.InterNetwork, SocketType.Stream, ProtocolType.Tcp) { ReceiveBufferSize = 4096 };
        await socket.ConnectAsync(address.Host, address.Port);
        await socket.SendAsync(Encoding.ASCII.GetBytes($"GET {path} HTTP/1.1\r\nHost: {address.Authority}\r\n\r\n"));
        return socket;
    }

    private static async Task<byte[]> ReadAsync(Socket socket)
    {
        using var all = new MemoryStream();
        var buffer = new byte[64 * 1024];
        try
        {
            while (await socket.ReceiveAsync(buffer) is > 0 and var count)
                all.Write(buffer, 0, count);
        }
        catch (SocketException)
        {
            // Reset: broken off as well.
        }

        return all.ToArray();
    }
}
