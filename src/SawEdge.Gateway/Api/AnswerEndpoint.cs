using Microsoft.AspNetCore.Http;
using Microsoft.Extensions.Logging;
using SawEdge.Core.Alarms;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Formats;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Api;

/// <summary>
/// What is behind the links in messages. Opening a link shows what it would do and does nothing, since mail servers open links to look
/// at them; the button on the page does it, once.
/// </summary>
/// <param name="signer">Tells this gateway's links from others.</param>
/// <param name="page">Writes the pages.</param>
/// <param name="reader">The alarms.</param>
/// <param name="writer">Where answers go.</param>
/// <param name="time">The wall clock.</param>
/// <param name="logger">Where it speaks.</param>
internal sealed class AnswerEndpoint(LinkSigner signer, AnswerPage page, HistoryReader reader, HistoryWriter writer, TimeProvider time, ILogger logger)
{
    /// <summary>How long to wait for the history to take an answer.</summary>
    public static readonly TimeSpan StorePatience = TimeSpan.FromSeconds(10);

    /// <summary>How long to wait for the alarms to act on an answer before saying that they will.</summary>
    public static readonly TimeSpan DeskPatience = TimeSpan.FromSeconds(5);

    private static readonly TimeSpan AskEvery = TimeSpan.FromMilliseconds(100);

    /// <summary>Shows what a link would do.</summary>
    public async Task ShowAsync(HttpContext context, string token)
    {
        if (await ReadAsync(context, token) is not ({ } link, { } alarm))
            return;
        await AnswerAsync(context, StatusCodes.Status200OK, page.Ask(link, alarm));
    }

    /// <summary>Does it.</summary>
    public async Task DoAsync(HttpContext context, string token)
    {
        if (await ReadAsync(context, token) is not ({ } link, { } alarm))
            return;
        if (await ReadNoteAsync(context) is not { } note)
        {
            await AnswerAsync(context, StatusCodes.Status400BadRequest, page.Say("Not understood", "Open the link in a browser and use the button there."));
            return;
        }

        if (note.Length == 0 && AnswerPage.NeedsNote(link.Action))
        {
            await AnswerAsync(context, StatusCodes.Status400BadRequest, page.Ask(link, alarm, "A reason is needed: whoever looks at this later wants to know."));
            return;
        }

        if (await StoreAsync(context, link, note) is not { IsStored: true } stored)
            return;
        if (stored.Id is not { } id)
        {
            await SayUsedAsync(context, alarm);
            return;
        }

        ApiLog.Taken(logger, link.Alarm, AnswerPage.Deed(link), link.Contact, context.Connection.RemoteIpAddress?.ToString() ?? "");
        await SayOutcomeAsync(context, link, id);
    }

    private async Task<(AnswerLink? Link, Alarm? Alarm)> ReadAsync(HttpContext context, string token)
    {
        if (!signer.TryRead(token, time.GetUtcNow(), out var link, out var problem))
        {
            // Only who holds a link of ours is told that it has expired.
            var isExpired = signer.TryRead(token, DateTimeOffset.MinValue, out _, out _);
            await AnswerAsync(context, isExpired ? StatusCodes.Status410Gone : StatusCodes.Status404NotFound, page.Say(isExpired ? "This link has expired" : "This link does not work", problem));
            return default;
        }

        try
        {
            if (await reader.AlarmAsync(link.Alarm, context.RequestAborted) is { } alarm)
            {
                if (!await reader.IsLinkUsedAsync(link.Nonce, context.RequestAborted))
                    return (link, alarm);
                await SayUsedAsync(context, alarm);
                return default;
            }

            await AnswerAsync(context, StatusCodes.Status404NotFound, page.Say("This alarm is not there any more", $"Alarm {link.Alarm} is not in this gateway's history."));
        }
        catch (HistoryException e)
        {
            ApiLog.NotStored(logger, link.Alarm, e.Message);
            await AnswerAsync(context, StatusCodes.Status503ServiceUnavailable, page.Say("Not at the moment", "The history of the gateway cannot be read at the moment. Nothing has been done; try again later."));
        }

        return default;
    }

    private Task SayUsedAsync(HttpContext context, Alarm alarm) =>
        AnswerAsync(context, StatusCodes.Status410Gone, page.Say("This link was used before", "A link works once, and this one was used. How the alarm is now stands below.", alarm));

    // Null where what came is no form.
    private static async Task<string?> ReadNoteAsync(HttpContext context)
    {
        if (!context.Request.HasFormContentType)
            return null;
        try
        {
            var form = await context.Request.ReadFormAsync(context.RequestAborted);
            return ControllerText.Clean(form["note"].ToString());
        }
        catch (InvalidDataException)
        {
            return null;
        }
    }

    private async Task<(bool IsStored, long? Id)> StoreAsync(HttpContext context, AnswerLink link, string note)
    {
        DateTimeOffset? until = link.Action == AlarmAction.Shelve ? time.GetUtcNow() + LinkSigner.ShelfTime : null;
        var answer = AlarmAnswer.To(link.Alarm, link.Action, link.Contact, note, until);
        using var patience = new CancellationTokenSource(StorePatience, time);
        try
        {
            // Not given up when the browser goes: the person pressed the button.
            return (true, await writer.UseLinkAsync(link.Nonce, link.Expires, answer, patience.Token));
        }
        catch (Exception e) when (e is HistoryException || (e is OperationCanceledException && patience.IsCancellationRequested))
        {
            ApiLog.NotStored(logger, link.Alarm, e is HistoryException ? e.Message : "the history takes nothing at the moment");
            await AnswerAsync(context, StatusCodes.Status503ServiceUnavailable, page.Say("Not stored yet", "The gateway's disk takes nothing at the moment. The answer counts once it does; open the link again later to see."));
            return (false, null);
        }
    }

    private async Task SayOutcomeAsync(HttpContext context, AnswerLink link, long id)
    {
        AnswerOutcome? outcome = null;
        Alarm? alarm = null;
        try
        {
            using var ask = new PeriodicTimer(AskEvery, time);
            var began = time.GetTimestamp();
            while ((outcome = await reader.AnswerOutcomeAsync(id, context.RequestAborted)) is null && time.GetElapsedTime(began) < DeskPatience)
                await ask.WaitForNextTickAsync(context.RequestAborted);
            alarm = await reader.AlarmAsync(link.Alarm, context.RequestAborted);
        }
        catch (HistoryException e)
        {
            // The answer is stored; only how it ended is not known yet.
            ApiLog.NotStored(logger, link.Alarm, e.Message);
        }

        var deed = AnswerPage.Deed(link);
        var (status, heading, words) = outcome switch
        {
            null => (StatusCodes.Status202Accepted, "Taken down", $"Your answer ({deed}) is stored. The gateway acts on it as soon as it can."),
            { Problem: { } problem } => (StatusCodes.Status409Conflict, "Not done", problem),
            _ => (StatusCodes.Status200OK, "Done", $"{deed}: recorded for alarm {link.Alarm}, by {link.Contact}."),
        };
        await AnswerAsync(context, status, page.Say(heading, words, alarm));
    }

    private static async Task AnswerAsync(HttpContext context, int status, string html)
    {
        context.Response.StatusCode = status;
        context.Response.ContentType = "text/html; charset=utf-8";
        if (!HttpMethods.IsHead(context.Request.Method))
            await context.Response.WriteAsync(html, context.RequestAborted);
    }
}
