using System.Net;
using System.Text.Json.Nodes;
using SawEdge.Core.Alarms;
using SawEdge.Core.Cycles;
using SawEdge.Core.Oee;
using SawEdge.Gateway.Api;
using SawEdge.Gateway.Tests.History;

namespace SawEdge.Gateway.Tests.Api;

/// <summary>What people change by the API: on the disk, in the audit trail, and refused in words where it cannot be.</summary>
public sealed class ApiChangeTests : IAsyncLifetime
{
    private static readonly Period Day = new(Cycles.Start, Cycles.Start.AddDays(1));

    private RunningApi _api = null!;
    private HttpClient _client = null!;
    private HttpClient _boss = null!;

    public async Task InitializeAsync()
    {
        _api = await RunningApi.StartAsync(RunningApi.BehindAnother);
        _client = _api.Client(_api.Token("shift lead", ApiRole.Operate));
        _boss = _api.Client(_api.Token("boss", ApiRole.Administer));
    }

    public Task DisposeAsync() => _api.DisposeAsync().AsTask();

    [Fact]
    public async Task Acknowledge_IsDoneByTheDesk_AndAnsweredWithTheAlarmAsItIsThen()
    {
        await _api.RaiseAsync();
        var (status, alarm) = await PostAsync("/alarms/1/acknowledge", """{ "note": "looking at it" }""");
        Assert.Equal(HttpStatusCode.OK, status);
        Assert.Equal(("acknowledged", "shift lead"), (alarm["state"]!.GetValue<string>(), alarm["acknowledgedBy"]!.GetValue<string>()));
        Assert.Equal("api", _api.History.Ask("SELECT via FROM alarm_answers"));
        var audit = await AuditAsync();
        Assert.Equal(("shift lead", "alarm.acknowledge", "1", "looking at it"), (Word(audit, "who"), Word(audit, "action"), Word(audit, "subject"), audit["detail"]!["note"]!.GetValue<string>()));
        Assert.Equal("127.0.0.1", Word(audit, "origin"));

        var (again, problem) = await PostAsync("/alarms/1/acknowledge", "{}");
        Assert.Equal(HttpStatusCode.Conflict, again);
        Assert.Contains("acknowledged", problem["detail"]!.GetValue<string>(), StringComparison.Ordinal);
    }

    [Fact]
    public async Task Shelve_NeedsReasonAndEnd_ThenUnshelveTakesItBack()
    {
        await _api.RaiseAsync();
        Assert.Equal(["note", "until"], (await WrongAsync("/alarms/1/shelve", "{}")).Keys.Order());
        Assert.StartsWith("is over already", (await WrongAsync("/alarms/1/shelve", """{ "note": "x", "until": "2026-01-01T00:00:00Z" }"""))["until"], StringComparison.Ordinal);
        Assert.StartsWith("is too far away", (await WrongAsync("/alarms/1/shelve", """{ "note": "x", "until": "2099-01-01T00:00:00Z" }"""))["until"], StringComparison.Ordinal);
        Assert.StartsWith("goes with shelving alone", (await WrongAsync("/alarms/1/confirm", """{ "until": "2099-01-01T00:00:00Z" }"""))["until"], StringComparison.Ordinal);
        Assert.Equal("is missing; write the remark", (await WrongAsync("/alarms/1/comment", """{ "note": " \r\n " }"""))["note"]);
        Assert.Equal(0L, _api.History.Ask("SELECT count(*) FROM alarm_answers"));

        var until = TimeProvider.System.GetUtcNow().AddHours(1);
        var (status, alarm) = await PostAsync("/alarms/1/shelve", $$"""{ "note": "guide is being changed", "until": "{{ApiJson.Moment(until)}}" }""");
        Assert.Equal((HttpStatusCode.OK, "shelved", ApiJson.Moment(until)), (status, Word(alarm, "state"), Word(alarm, "shelvedUntil")));
        (status, alarm) = await PostAsync("/alarms/1/unshelve", "{}");
        Assert.Equal((HttpStatusCode.OK, "unacknowledged"), (status, Word(alarm, "state")));
        (status, alarm) = await PostAsync("/alarms/1/confirm", """{ "note": "two teeth gone" }""");
        Assert.Equal((HttpStatusCode.OK, "confirmed"), (status, Word(alarm, "verdict")));
    }

    [Fact]
    public async Task AlarmThatIsNotThere_IsNotFound_AndNothingIsStored()
    {
        var (status, problem) = await PostAsync("/alarms/99/acknowledge", "{}");
        Assert.Equal(HttpStatusCode.NotFound, status);
        Assert.StartsWith("There is no alarm 99", Word(problem, "detail"), StringComparison.Ordinal);
        foreach (var path in (string[])["/alarms/x/acknowledge", "/alarms/1/explode", "/alarms/99999999999999999999/reset"])
            Assert.Equal((path, HttpStatusCode.NotFound), (path, (await PostAsync(path, "{}")).Status));
        Assert.Equal(0L, _api.History.Ask("SELECT count(*) FROM alarm_answers"));
        Assert.Equal(0L, _api.History.Ask("SELECT count(*) FROM audit WHERE action LIKE 'alarm%'"));
    }

    [Fact]
    public async Task StopReason_HoldsForFigures_UntilItIsWithdrawn_AndNothingIsDeleted()
    {
        var (status, made) = await PostAsync("/stops/reasons", """{ "saw": "north", "from": "2026-03-02T07:00:00Z", "to": "2026-03-02T07:30:00+00:00", "reason": "waiting for <b>crane</b>\r\n", "class": "delay" }""");
        Assert.Equal(HttpStatusCode.Created, status);
        Assert.Equal("shift lead", Word(made, "enteredBy"));
        var stored = Assert.Single(await _api.History.Reader.StopReasonsAsync("north", Day));
        Assert.Equal(("waiting for <b>crane</b>", StopClass.Delay, TimeSpan.FromMinutes(30)), (stored.Entry.Reason, stored.Entry.Class, stored.Entry.Time.Duration));
        Assert.Empty(await _api.History.Reader.StopReasonsAsync("south", Day));
        Assert.Empty(await _api.History.Reader.StopReasonsAsync("north", new Period(Day.From.AddHours(2), Day.To)));
        using var site = await _client.GetAsync("/api/v1/site");
        Assert.Equal("waiting for <b>crane</b>", (await RunningApi.ReadAsync(site))["stopReasons"]![0]!["reason"]!.GetValue<string>());

        Assert.Equal(HttpStatusCode.NoContent, await DeleteAsync($"/stops/reasons/{stored.Id}"));
        Assert.Equal(HttpStatusCode.NotFound, await DeleteAsync($"/stops/reasons/{stored.Id}"));
        Assert.Empty(await _api.History.Reader.StopReasonsAsync("north", Day));
        Assert.Equal("shift lead", _api.History.Ask("SELECT withdrawn_by FROM stop_reasons WHERE withdrawn IS NOT NULL"));
        Assert.Equal(["stop.withdraw", "stop.reason"], (await TrailAsync()).Select(entry => Word(entry!, "action")).Take(2));
    }

    [Fact]
    public async Task StopReason_Wrong_IsSaidForEachMember()
    {
        Assert.Equal(["class", "from", "reason", "saw", "to"], (await WrongAsync("/stops/reasons", "{}")).Keys.Order());
        var errors = await WrongAsync("/stops/reasons", """{ "saw": "east", "from": "2026-03-02T07:00:00Z", "to": "2026-03-02T06:00:00Z", "reason": "x", "class": "lunch" }""");
        Assert.Equal("there is no saw 'east' here; the saws are north, south", errors["saw"]);
        Assert.Equal("is not after from (2026-03-02T07:00:00.000Z)", errors["to"]);
        Assert.Equal("'lunch' is not known here; write one of delay, down, setup", errors["class"]);
        Assert.StartsWith("lies in the future", (await WrongAsync("/stops/reasons", """{ "saw": "north", "from": "2098-03-02T07:00:00Z", "to": "2098-03-02T08:00:00Z", "reason": "x", "class": "down" }"""))["from"], StringComparison.Ordinal);
        Assert.StartsWith("is 365 days after from", (await WrongAsync("/stops/reasons", """{ "saw": "north", "from": "2025-03-02T07:00:00Z", "to": "2026-03-02T07:00:00Z", "reason": "x", "class": "down" }"""))["to"], StringComparison.Ordinal);
        Assert.Equal("is no time; write for example \"2026-03-02T06:00:00Z\"", (await WrongAsync("/stops/reasons", """{ "from": "yesterday" }"""))["from"]);
        Assert.Equal("has the wrong type of value", (await WrongAsync("/stops/reasons", """{ "reason": 7 }"""))["reason"]);
        Assert.Equal("is longer than 128 characters", (await WrongAsync("/stops/reasons", $$"""{ "reason": "{{new string('x', 200)}}" }"""))["reason"]);
        Assert.StartsWith("is not known here; known here: saw, from, to, reason, class", (await WrongAsync("/stops/reasons", """{ "who": "me" }"""))["who"], StringComparison.Ordinal);
        Assert.Equal(0L, _api.History.Ask("SELECT count(*) FROM stop_reasons"));
    }

    [Theory]
    [InlineData("")]
    [InlineData("{")]
    [InlineData("[]")]
    [InlineData("null")]
    [InlineData("\"x\"")]
    [InlineData("{ \"saw\": \"north\", }")]
    [InlineData("{\"a\":{\"a\":{\"a\":{\"a\":{\"a\":{\"a\":{\"a\":{\"a\":{\"a\":{}}}}}}}}}}")]
    public async Task BodyThatIsNone_IsRefused(string body)
    {
        var (status, problem) = await PostAsync("/scrap", body);
        Assert.Equal(HttpStatusCode.BadRequest, status);
        Assert.NotEmpty(Word(problem, "detail"));
        Assert.DoesNotContain("System.", problem.ToJsonString(), StringComparison.Ordinal);
        Assert.DoesNotContain("SawEdge.", problem.ToJsonString(), StringComparison.Ordinal);
    }

    [Fact]
    public async Task ScrapOfACut_CountsOnce_AndCanBeWithdrawnAndEnteredAgain()
    {
        await _api.History.AppendAsync(Cycles.Make("north", 1));
        await _api.History.AppendAsync(Cycles.Make("north", 2) with { Outcome = CutOutcome.Trim });
        var (status, made) = await PostAsync("/scrap", """{ "saw": "north", "cycleId": "north-000001", "reason": "wrong length" }""");
        Assert.Equal(HttpStatusCode.Created, status);
        var (again, problem) = await PostAsync("/scrap", """{ "saw": "north", "cycleId": "north-000001" }""");
        Assert.Equal((HttpStatusCode.Conflict, "This cut is entered as scrap already."), (again, Word(problem, "detail")));
        var stored = Assert.Single(await _api.History.Reader.ScrapAsync("north", Day));
        Assert.Equal(("north-000001", 1, "wrong length", "shift lead", "J-1"), (stored.Entry.CycleId, stored.Entry.Quantity, stored.Entry.Reason, stored.Entry.Who, stored.Entry.Job));
        using var listed = await _client.GetAsync("/api/v1/scrap?from=2026-03-02T06:00:00Z&to=2026-03-02T12:00:00Z");
        Assert.Equal("north-000001", (await RunningApi.ReadAsync(listed))["items"]![0]!["cycleId"]!.GetValue<string>());

        Assert.Equal(HttpStatusCode.NoContent, await DeleteAsync($"/scrap/{made["id"]}"));
        Assert.Empty(await _api.History.Reader.ScrapAsync("north", Day));
        Assert.Equal(HttpStatusCode.Created, (await PostAsync("/scrap", """{ "saw": "north", "cycleId": "north-000001" }""")).Status);
        Assert.Equal(2L, _api.History.Ask("SELECT count(*) FROM scrap"));

        Assert.Equal("this cycle made no part (trim), so it cannot be scrap", (await WrongAsync("/scrap", """{ "saw": "north", "cycleId": "north-000002" }"""))["cycleId"]);
        Assert.Equal("there is no cycle 'north-000001' of this saw", (await WrongAsync("/scrap", """{ "saw": "south", "cycleId": "north-000001" }"""))["cycleId"]);
        Assert.Equal(["at", "quantity"], (await WrongAsync("/scrap", """{ "saw": "north", "cycleId": "north-000001", "at": "2026-03-02T06:00:00Z", "quantity": 2 }""")).Keys.Order());
    }

    [Fact]
    public async Task ScrapByNumber_IsStoredWithItsTime()
    {
        Assert.Equal(HttpStatusCode.Created, (await PostAsync("/scrap", """{ "saw": "south", "at": "2026-03-02T09:00:00Z", "quantity": 3 }""")).Status);
        var stored = Assert.Single(await _api.History.Reader.ScrapAsync("south", Day));
        Assert.Equal((Cycles.Start.AddHours(3), 3, (string?)null), (stored.Entry.At, stored.Entry.Quantity, stored.Entry.CycleId));
        foreach (var quantity in (string[])["0", "-1", "10001"])
            Assert.StartsWith($"is {quantity}; write a whole number", (await WrongAsync("/scrap", $$"""{ "saw": "south", "at": "2026-03-02T09:00:00Z", "quantity": {{quantity}} }"""))["quantity"], StringComparison.Ordinal);
        Assert.Equal("is missing; name the cut, or write \"at\" and \"quantity\"", (await WrongAsync("/scrap", """{ "saw": "south" }"""))["cycleId"]);
    }

    [Fact]
    public async Task BladeChange_IsAnEntryAsTheCommandMakesIt()
    {
        var (status, made) = await PostAsync("/blades/changes", """{ "saw": "north", "at": "2026-03-02T09:00:00Z", "blade": "B-17", "note": "new" }""");
        Assert.Equal((HttpStatusCode.Created, "B-17"), (status, Word(made, "blade")));
        var entry = Assert.Single((await _api.History.Reader.BladeEntriesAsync("north")).Book.Entries);
        Assert.Equal(("B-17", Cycles.Start.AddHours(3), "new"), (entry.Blade, entry.At, entry.Note));
        var (again, problem) = await PostAsync("/blades/changes", """{ "saw": "north", "at": "2026-03-02T09:00:30Z", "blade": "B-18" }""");
        Assert.Equal(HttpStatusCode.Conflict, again);
        Assert.StartsWith("There is an entry of 2026-03-02T09:00:00.000Z", Word(problem, "detail"), StringComparison.Ordinal);
        Assert.Equal("north-20260302-1200", Word((await PostAsync("/blades/changes", """{ "saw": "north", "at": "2026-03-02T12:00:00Z" }""")).Answer, "blade"));
        Assert.Equal(2, (await TrailAsync()).Count(line => Word(line!, "action") == "blade.change"));
    }

    [Fact]
    public async Task AuditTrail_IsReadPageByPage_TheLatestFirst()
    {
        for (var i = 0; i < 5; i++)
            await PostAsync("/scrap", $$"""{ "saw": "south", "at": "2026-03-02T0{{i}}:00:00Z", "quantity": 1 }""");
        var seen = new List<long>();
        string? cursor = null;
        do
        {
            using var answer = await _boss.GetAsync($"/api/v1/audit?limit=2{(cursor is null ? "" : $"&cursor={cursor}")}");
            var page = await RunningApi.ReadAsync(answer);
            seen.AddRange(page["items"]!.AsArray().Select(item => item!["id"]!.GetValue<long>()));
            cursor = page["next"]?.GetValue<string>();
        }
        while (cursor is not null);
        Assert.Equal(Enumerable.Range(1, 7).Select(id => (long)id).Reverse(), seen);

        using var wrong = await _boss.GetAsync("/api/v1/audit?limit=0&cursor=%00&page=2");
        Assert.Equal(["cursor", "limit", "page"], (await RunningApi.ErrorsAsync(wrong)).Keys.Order());
    }

    [Fact]
    public async Task Oversized_IsRefused_WholeOrInPieces()
    {
        var large = $$"""{ "reason": "{{new string('x', ApiHost.LargestBody)}}" }""";
        var (status, problem) = await PostAsync("/stops/reasons", large);
        Assert.Equal(HttpStatusCode.RequestEntityTooLarge, status);
        Assert.Equal("The body is larger than 16384 bytes.", Word(problem, "detail"));

        using var pieces = new HttpRequestMessage(HttpMethod.Post, "/api/v1/stops/reasons") { Content = RunningApi.Json(large) };
        pieces.Headers.TransferEncodingChunked = true;
        using var answer = await _client.SendAsync(pieces);
        Assert.Equal(HttpStatusCode.RequestEntityTooLarge, answer.StatusCode);
    }

    private async Task<(HttpStatusCode Status, JsonNode Answer)> PostAsync(string path, string body)
    {
        using var answer = await _client.PostAsync($"/api/v1{path}", RunningApi.Json(body));
        return (answer.StatusCode, await RunningApi.ReadAsync(answer));
    }

    private async Task<IReadOnlyDictionary<string, string>> WrongAsync(string path, string body)
    {
        using var answer = await _client.PostAsync($"/api/v1{path}", RunningApi.Json(body));
        Assert.Equal(HttpStatusCode.BadRequest, answer.StatusCode);
        return await RunningApi.ErrorsAsync(answer);
    }

    private async Task<HttpStatusCode> DeleteAsync(string path)
    {
        using var answer = await _client.DeleteAsync($"/api/v1{path}");
        return answer.StatusCode;
    }

    private async Task<JsonArray> TrailAsync()
    {
        using var answer = await _boss.GetAsync("/api/v1/audit");
        return (await RunningApi.ReadAsync(answer))["items"]!.AsArray();
    }

    private async Task<JsonNode> AuditAsync() => (await TrailAsync())[0]!;

    private static string Word(JsonNode node, string member) => node[member]!.GetValue<string>();
}
