using System.Globalization;
using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Http;
using Microsoft.AspNetCore.Routing;
using SawEdge.Core.Alarms;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Api;

/// <summary>Looking at alarms.</summary>
internal static class AlarmReadEndpoints
{
    private const int LongestHealthDays = 366;

    /// <summary>Maps them.</summary>
    public static void Map(RouteGroupBuilder api, ApiContext context)
    {
        api.MapGet("/alarms", async (HttpRequest request, CancellationToken cancellation) =>
        {
            var query = new QueryReader(request.Query, context);
            var (from, to) = query.OpenPeriod();
            var filter = new AlarmFilter { OnlyOpen = query.Flag("open"), Subject = query.Saw() ?? query.Text("subject"), Rule = query.Text("rule"), From = from, To = to };
            var limit = query.Limit();
            var before = Place(query);
            if (query.Problem() is { } problem)
                return problem;
            var alarms = await context.Reader.AlarmPageAsync(filter, before, limit + 1, cancellation);
            var page = alarms.Take(limit).ToList();
            var next = alarms.Count > limit
                ? QueryReader.CursorText(page[^1].RaisedAt.ToUnixTimeMilliseconds().ToString(CultureInfo.InvariantCulture), page[^1].Number.ToString(CultureInfo.InvariantCulture))
                : null;
            return ApiAnswer.Live(new { Items = page.Select(AlarmView.Of), Next = next });
        });
        api.MapGet("/alarms/{number}", async (string number, HttpRequest request, CancellationToken cancellation) =>
        {
            if (new QueryReader(request.Query, context).Problem() is { } problem)
                return problem;
            if (!long.TryParse(number, NumberStyles.None, CultureInfo.InvariantCulture, out var wanted) || await context.Reader.AlarmAsync(wanted, cancellation) is not { } alarm)
                return NotThere(number);
            var events = new List<AlarmEventView>();
            await foreach (var stored in context.Reader.AlarmEventsAsync(null, null, wanted, cancellation))
                events.Add(AlarmEventView.Of(stored.Event));
            return ApiAnswer.Live(new { Alarm = AlarmView.Of(alarm), Events = events });
        });
        api.MapGet("/alarms/health", async (HttpRequest request, CancellationToken cancellation) =>
        {
            var query = new QueryReader(request.Query, context);
            var days = query.Number("days", 30, 1, LongestHealthDays);
            return query.Problem() ?? ApiAnswer.Live(Health(await context.Reader.AlarmHealthAsync(days, context.Now, cancellation)));
        });
    }

    /// <summary>There is no such alarm.</summary>
    public static ApiProblem NotThere(string number) => ApiProblem.NotFound($"There is no alarm {QueryReader.Quoted(number)} in this gateway's history. An alarm's number is a whole number, as the list of alarms shows it.");

    private static (DateTimeOffset RaisedAt, long Number)? Place(QueryReader query)
    {
        if (query.Cursor(2) is not [var raised, var number])
            return null;
        if (long.TryParse(raised, NumberStyles.AllowLeadingSign, CultureInfo.InvariantCulture, out var milliseconds) && long.TryParse(number, NumberStyles.None, CultureInfo.InvariantCulture, out var last)
            && milliseconds >= DateTimeOffset.MinValue.ToUnixTimeMilliseconds() && milliseconds <= DateTimeOffset.MaxValue.ToUnixTimeMilliseconds())
            return (DateTimeOffset.FromUnixTimeMilliseconds(milliseconds), last);
        query.Wrong("cursor", "is none that this gateway gave; take \"next\" from the page before as it is, or leave it out for the first page");
        return null;
    }

    private static object Health(AlarmHealth? health) => health is null
        ? new { From = (DateTimeOffset?)null, To = (DateTimeOffset?)null, Announced = 0, Figures = Array.Empty<object>(), MostFrequent = Array.Empty<object>(), Chattering = Array.Empty<object>(), Fleeting = Array.Empty<object>(), Standing = Array.Empty<object>() }
        : new
        {
            health.From,
            health.To,
            health.Announced,
            Figures = health.Figures.Select(figure => new { figure.Name, figure.Value, Unit = Known.Text(figure.Unit), Benchmark = Known.Text(figure.Benchmark), figure.IsWithin, figure.Sentence }),
            MostFrequent = health.MostFrequent.Select(Frequent),
            Chattering = health.Chattering.Select(Frequent),
            Fleeting = health.Fleeting.Select(Frequent),
            Standing = health.Standing.Select(AlarmView.Of),
        };

    private static object Frequent(FrequentAlarm alarm) => new { alarm.Rule, SubjectKind = alarm.Subject.Kind.ToName(), Subject = alarm.Subject.Name, alarm.Count, alarm.Share };
}
