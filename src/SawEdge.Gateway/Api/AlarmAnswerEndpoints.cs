using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Http;
using Microsoft.AspNetCore.Routing;
using SawEdge.Core.Alarms;

namespace SawEdge.Gateway.Api;

/// <summary>What a person says about an alarm.</summary>
/// <param name="Note">Reason or remark.</param>
/// <param name="Until">For shelving: until when.</param>
internal sealed record AlarmAnswerBody(string? Note, DateTimeOffset? Until);

/// <summary>Answers to alarms: they go the way of those given by command or link, and the desk's word is waited for.</summary>
internal static class AlarmAnswerEndpoints
{
    /// <summary>The longest time on the shelf.</summary>
    public static readonly TimeSpan LongestShelf = TimeSpan.FromDays(31);

    private static readonly TimeSpan DeskPatience = TimeSpan.FromSeconds(8);
    private static readonly TimeSpan AskEvery = TimeSpan.FromMilliseconds(100);

    private static readonly (string Word, AlarmAction Action)[] Actions =
    [
        ("acknowledge", AlarmAction.Acknowledge),
        ("reset", AlarmAction.Reset),
        ("shelve", AlarmAction.Shelve),
        ("unshelve", AlarmAction.Unshelve),
        ("comment", AlarmAction.Comment),
        ("confirm", AlarmAction.Confirm),
        ("reject", AlarmAction.Reject),
    ];

    /// <summary>Maps them.</summary>
    public static void Map(RouteGroupBuilder api, ApiContext context)
    {
        foreach (var (word, action) in Actions)
            api.MapPost($"/alarms/{{number:long}}/{word}", (HttpContext http, long number) => AnswerAsync(http, context, number, word, action)).Needs(ApiRole.Operate);
    }

    private static async Task<IResult> AnswerAsync(HttpContext http, ApiContext context, long number, string word, AlarmAction action)
    {
        var (body, problem) = await ApiBody.ReadAsync<AlarmAnswerBody>(http);
        if (body is null)
            return problem!;
        var check = new ApiBody(context);
        var note = check.Text("note", body.Note, action switch
        {
            AlarmAction.Shelve => "is missing; write why the alarm is put aside",
            AlarmAction.Comment => "is missing; write the remark",
            _ => null,
        });
        CheckUntil(check, context, action, body.Until);
        if (check.Problem is { } wrong)
            return wrong;
        if (await context.Reader.AlarmAsync(number, http.RequestAborted) is null)
            return ApiProblem.NotFound(FormattableString.Invariant($"There is no alarm {number}; look at the list of alarms for its number."));

        var audit = ApiEntering.Audit(http, $"alarm.{word}", FormattableString.Invariant($"{number}"), ("note", note.Length == 0 ? null : note), ("until", body.Until));
        return await ApiEntering.RunAsync(context, audit, async patience =>
        {
            var id = await context.Writer.AnswerAsync(AlarmAnswer.To(number, action, audit.Who, note, body.Until), audit, patience);
            return await OutcomeAsync(http, context, number, id);
        });
    }

    private static void CheckUntil(ApiBody check, ApiContext context, AlarmAction action, DateTimeOffset? until)
    {
        if (action != AlarmAction.Shelve)
        {
            if (until is not null)
                check.Wrong("until", "goes with shelving alone; leave it out");
        }
        else if (until is not { } end)
            check.Wrong("until", $"is missing; write until when, for example \"{ApiJson.Moment(context.Now.AddHours(8))}\"");
        else if (end <= context.Now)
            check.Wrong("until", $"is over already: it is {ApiJson.Moment(context.Now)} now");
        else if (end - context.Now > LongestShelf)
            check.Wrong("until", FormattableString.Invariant($"is too far away; an alarm is shelved for {LongestShelf.TotalDays:0} days at most"));
    }

    private static async Task<IResult> OutcomeAsync(HttpContext http, ApiContext context, long number, long id)
    {
        using var ask = new PeriodicTimer(AskEvery, context.Time);
        var began = context.Time.GetTimestamp();
        while (context.Time.GetElapsedTime(began) < DeskPatience)
        {
            if (await context.Reader.AnswerOutcomeAsync(id, http.RequestAborted) is { } outcome)
            {
                if (outcome.Problem is { } why)
                    return ApiProblem.Conflict(why);
                return ApiAnswer.Live(AlarmView.Of((await context.Reader.AlarmAsync(number, http.RequestAborted))!));
            }

            await ask.WaitForNextTickAsync(http.RequestAborted);
        }

        // It is stored, and only how it ended is not known yet.
        return ApiAnswer.Taken(AlarmView.Of((await context.Reader.AlarmAsync(number, http.RequestAborted))!));
    }
}
