using System.Net;
using System.Net.Http.Headers;
using System.Text.Json;
using SawEdge.Core;
using SawEdge.Core.Cycles;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Tests.History;

namespace SawEdge.Gateway.Tests.Api;

/// <summary>Cycles as the API tells them against the history.</summary>
public sealed class CycleReadTests
{
    [Fact]
    public async Task Cycles_EveryColumn_IsWhatTheHistoryHolds()
    {
        await using var api = await ReadingApi.StartAsync("Saw 1");
        var full = Cycles.Full() with { Saw = "Saw 1", StartedAt = Cycles.Start };
        await api.History.AppendAsync(full);
        await api.History.AppendAsync(Cycles.Bare() with { Saw = "Saw 1", StartedAt = Cycles.Start.AddHours(1), EndedAt = Cycles.Start.AddHours(2) });

        var items = (await api.GetAsync("cycles")).GetProperty("items");
        Assert.Equal(["bare", full.CycleId], items.EnumerateArray().Select(item => item.GetProperty("cycleId").GetString()));
        Assert.Equal(CycleColumns.All.Count, items[0].EnumerateObject().Count());
        var stored = (await api.History.Reader.CycleAsync(full.CycleId))!;
        foreach (var (column, member) in CycleColumns.All.Zip(items[1].EnumerateObject()))
        {
            // camelCase of the same words: the words put together again are the column's.
            Assert.Equal(column.Name.Replace("_", "", StringComparison.Ordinal), member.Name.ToLowerInvariant());
            switch (column.Get(stored))
            {
                case double number:
                    Assert.Equal(number, member.Value.GetDouble());
                    break;
                case long whole:
                    Assert.Equal(whole, member.Value.GetInt64());
                    break;
                case DateTimeOffset time:
                    Assert.Equal(time, member.Value.GetDateTimeOffset());
                    Assert.EndsWith("Z", member.Value.GetString());
                    break;
                default:
                    Assert.Equal(column.Get(stored), member.Value.GetString());
                    break;
            }
        }

        // What is not known is null, not 0 and not empty.
        Assert.Equal(["cycleId", "saw", "startedAt", "endedAt", "outcome", "frames"], items[0].EnumerateObject().Where(member => member.Value.ValueKind != JsonValueKind.Null).Select(member => member.Name));
    }

    [Theory]
    [InlineData("latest")]
    [InlineData("earliest")]
    public async Task Cycles_PageByPageWithEqualTimes_AreAllThereOnce(string order)
    {
        await using var api = await ReadingApi.StartAsync();
        foreach (var saw in new[] { "Saw 1", "Saw 2" })
        {
            for (var i = 0; i < 12; i++)
                await api.History.AppendAsync(Cycles.Make(saw, i) with { StartedAt = Cycles.Start.AddMinutes(i / 6) });
        }

        var (all, cursor) = (new List<string>(), "");
        do
        {
            var page = await api.GetAsync($"cycles?limit=5&order={order}{cursor}");
            all.AddRange(page.GetProperty("items").EnumerateArray().Select(item => item.GetProperty("cycleId").GetString()!));
            cursor = page.GetProperty("next").GetString() is { } next ? $"&cursor={next}" : "";
        }
        while (cursor.Length > 0);
        var stored = new List<string>();
        await foreach (var cycle in api.History.Reader.CyclesAsync(CycleFilter.All))
            stored.Add(cycle.CycleId);
        if (order == "latest")
            stored.Reverse();
        Assert.Equal(stored, all);
        Assert.Equal(24, all.Distinct().Count());
    }

    [Fact]
    public async Task Cycles_EachFilter_LeavesThoseThatFit()
    {
        await using var api = await ReadingApi.StartAsync();
        const string Hostile = "<img src=x onerror=alert(1)> \"'; DROP TABLE cycles;-- 锯";
        await api.History.AppendAsync(Cycles.Make("Saw 1", 0) with { Job = Hostile, LoadScore = 4.5, Outcome = CutOutcome.Aborted });
        await api.History.AppendAsync(Cycles.Make("Saw 1", 1) with { Material = "1045", LoadScore = 1 });
        await api.History.AppendAsync(Cycles.Make("Saw 2", 2) with { Blade = "B-9" });

        async Task Finds(string query, params string[] ids) =>
            Assert.Equal(ids, (await api.GetAsync($"cycles?order=earliest&{query}")).GetProperty("items").EnumerateArray().Select(item => item.GetProperty("cycleId").GetString()));
        await Finds($"job={Uri.EscapeDataString(Hostile)}", "Saw 1-000000");
        await Finds("material=1045", "Saw 1-000001");
        await Finds("blade=B-9", "Saw 2-000002");
        await Finds("outcome=aborted", "Saw 1-000000");
        await Finds("minScore=1", "Saw 1-000000", "Saw 1-000001");
        await Finds("saw=Saw%202", "Saw 2-000002");
        await Finds("saw=Saw%202&saw=Saw%201&from=2026-03-02T06:02:00Z&to=2026-03-02T06:04:00Z", "Saw 1-000001");

        // What a controller sent is text everywhere: no character of it could end a script.
        var raw = await api.Http.GetStringAsync(new Uri("cycles?outcome=aborted", UriKind.Relative));
        Assert.DoesNotContain("<img", raw, StringComparison.Ordinal);
        Assert.Equal(Hostile, JsonDocument.Parse(raw).RootElement.GetProperty("items")[0].GetProperty("job").GetString());
    }

    [Theory]
    [InlineData("cycles?from=2026-03-02T08:00:00Z&to=2026-03-02T07:00:00Z", "to", "ends after it begins")]
    [InlineData("cycles?from=2026-03-02T08:00:00Z&to=2036-03-02T07:00:00Z", "to", "400 days at most")]
    [InlineData("cycles?from=2030-03-02T08:00:00Z", "from", "future")]
    [InlineData("cycles?from=yesterday", "from", "RFC 3339")]
    [InlineData("cycles?saw=Saw%203", "saw", "the saws are Saw 1, Saw 2")]
    [InlineData("cycles?outcome=fine", "outcome", "completed")]
    [InlineData("cycles?limit=501", "limit", "from 1 to 500")]
    [InlineData("cycles?minScore=x", "minScore", "decimal point")]
    [InlineData("cycles?cursor=AAAA", "cursor", "first page")]
    [InlineData("cycles?cursor=eApTYXcgMQox", "cursor", "first page")]
    [InlineData("cycles?colour=blue", "colour", "not known here")]
    [InlineData("alarms?cursor=eAox", "cursor", "first page")]
    [InlineData("alarms/health?days=0", "days", "from 1 to 366")]
    [InlineData("saws?x=1", "x", "not known here")]
    public async Task Asked_Wrongly_SaysWhatWouldBeRight(string path, string parameter, string words)
    {
        await using var api = await ReadingApi.StartAsync();
        using var response = await api.Http.GetAsync(new Uri(path, UriKind.Relative));
        Assert.Equal(HttpStatusCode.BadRequest, response.StatusCode);
        Assert.Equal("application/problem+json", response.Content.Headers.ContentType!.MediaType);
        var error = Assert.Single(JsonDocument.Parse(await response.Content.ReadAsStringAsync()).RootElement.GetProperty("errors").EnumerateArray());
        Assert.Equal(parameter, error.GetProperty("parameter").GetString());
        Assert.Contains(words, error.GetProperty("detail").GetString(), StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("cycles/nothing", "There is no cycle 'nothing'")]
    [InlineData("cycles/%2E%2E%2Fhistory.db", "There is no cycle '../history.db'")]
    [InlineData("saws/Saw%209", "the saws are Saw 1, Saw 2")]
    [InlineData("alarms/99", "There is no alarm '99'")]
    [InlineData("alarms/x%27y", "There is no alarm")]
    [InlineData("blades/Saw%209", "the saws are Saw 1, Saw 2")]
    [InlineData("blades/Saw%201?blade=B-7", "Saw 1 has no blade 'B-7'")]
    public async Task Asked_ForWhatIsNotThere_SaysSo(string path, string words)
    {
        await using var api = await ReadingApi.StartAsync();
        var problem = await api.GetAsync(path, HttpStatusCode.NotFound);
        Assert.Contains(words, problem.GetProperty("detail").GetString(), StringComparison.Ordinal);
    }

    [Fact]
    public async Task Cycle_WithEverything_TellsWhatIsStored()
    {
        await using var api = await ReadingApi.StartAsync("Saw 1");
        for (var i = 0; i < 3; i++)
            await api.History.Writer.AppendAsync(Evidences.Row(Cycles.Make("Saw 1", i), i, Evidences.Job), CancellationToken.None);
        var detail = await api.GetAsync("cycles/Saw%201-000001");

        Assert.Equal("Saw 1-000001", detail.GetProperty("cycle").GetProperty("cycleId").GetString());
        Assert.Equal("Saw 1-000000", detail.GetProperty("previous").GetString());
        Assert.Equal("Saw 1-000002", detail.GetProperty("next").GetString());
        var expected = Evidences.Assessment();
        var assessment = detail.GetProperty("assessment");
        Assert.Equal(expected.Score, assessment.GetProperty("score").GetDouble());
        Assert.True(assessment.GetProperty("isUnusual").GetBoolean());
        Assert.Equal(expected.Views[0].Score, assessment.GetProperty("views")[0].GetProperty("score").GetDouble());
        Assert.Equal("level", assessment.GetProperty("views")[0].GetProperty("view").GetString());
        Assert.Equal("caution", assessment.GetProperty("causes")[0].GetProperty("caution").GetString());
        Assert.Equal("stall", assessment.GetProperty("findings")[0].GetProperty("kind").GetString());
        Assert.Equal(JsonValueKind.Null, assessment.GetProperty("findings")[0].GetProperty("limit").ValueKind);

        // Forty-eight bins, the fourth without an observation; what was expected of two bins is not of these.
        var measured = (await api.History.Reader.EvidenceAsync("Saw 1-000001"))!.Cut.Profile!;
        var profile = detail.GetProperty("profile");
        Assert.True(profile.GetProperty("byDepth").GetBoolean());
        Assert.Equal(measured.MeanLoadKw.Count, profile.GetProperty("loadKw").GetArrayLength());
        Assert.Equal(JsonValueKind.Null, profile.GetProperty("loadKw")[3].ValueKind);
        Assert.Equal(measured.MeanLoadKw[5], profile.GetProperty("loadKw")[5].GetDouble(), 3);
        Assert.Equal(0.5 * measured.DepthMm / 48, profile.GetProperty("depthMm")[0].GetDouble(), 1);
        Assert.Equal(JsonValueKind.Null, profile.GetProperty("expectedKw").ValueKind);

        // The section as it stood in the job list then: 4 in round.
        var section = detail.GetProperty("section");
        Assert.Equal(101.6, section.GetProperty("heightMm").GetDouble(), 3);
        var points = Assert.Single(section.GetProperty("outline").EnumerateArray()).EnumerateArray().Select(point => (X: point[0].GetDouble(), Y: point[1].GetDouble())).ToList();
        Assert.All(points, point => Assert.Equal(50.8, Math.Sqrt(Math.Pow(point.X - 50.8, 2) + Math.Pow(point.Y - 50.8, 2)), 0.3));
    }

    [Fact]
    public async Task Cycle_OfWhichOnlyTheRecordIsStored_HasNullsForTheRest()
    {
        await using var api = await ReadingApi.StartAsync("saw0");
        await api.History.AppendAsync(Cycles.Bare());
        var detail = await api.GetAsync("cycles/bare");
        Assert.All((string[])["assessment", "profile", "section", "previous", "next"], name => Assert.Equal(JsonValueKind.Null, detail.GetProperty(name).ValueKind));
    }

    [Fact]
    public async Task Cycle_ThatIsKnownAlready_IsNotSentAgain()
    {
        await using var api = await ReadingApi.StartAsync("Saw 1");
        await api.History.AppendAsync(Cycles.Make("Saw 1", 0));
        var path = new Uri("cycles/Saw%201-000000", UriKind.Relative);
        using var first = await api.Http.GetAsync(path);
        async Task<HttpStatusCode> AgainAsync()
        {
            using var request = new HttpRequestMessage(HttpMethod.Get, path);
            request.Headers.IfNoneMatch.Add(EntityTagHeaderValue.Parse(first.Headers.ETag!.ToString()));
            using var again = await api.Http.SendAsync(request);
            return again.StatusCode;
        }

        Assert.Equal(HttpStatusCode.NotModified, await AgainAsync());
        await api.History.AppendAsync(Cycles.Make("Saw 1", 0) with { Notes = "corrected" });
        Assert.Equal(HttpStatusCode.OK, await AgainAsync());
    }
}
