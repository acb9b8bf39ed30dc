using Microsoft.AspNetCore.Http;
using Microsoft.Extensions.Logging;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Api;

/// <summary>How a change is made: with an entry in the audit trail, and not waited for without end.</summary>
internal static class ApiEntering
{
    /// <summary>How long to wait for the history to take a change.</summary>
    public static readonly TimeSpan Patience = TimeSpan.FromSeconds(10);

    /// <summary>The entry of the audit trail for a change.</summary>
    /// <param name="http">The request.</param>
    /// <param name="action">What is done, as <c>stop.reason</c>.</param>
    /// <param name="subject">What to.</param>
    /// <param name="detail">The rest.</param>
    public static AuditEntry Audit(HttpContext http, string action, string subject, params IReadOnlyList<(string Name, object? Value)> detail)
    {
        var caller = ApiCaller.Of(http);
        return new AuditEntry(caller.Name, caller.Remote, action, subject, detail.Count == 0 ? "" : EntryRows.Detail(detail));
    }

    /// <summary>Makes a change.</summary>
    /// <param name="context">The gateway.</param>
    /// <param name="audit">Who makes it.</param>
    /// <param name="enter">Makes it; an answer that is a problem says that nothing was changed.</param>
    public static async Task<IResult> RunAsync(ApiContext context, AuditEntry audit, Func<CancellationToken, Task<IResult>> enter)
    {
        // Not given up when the browser goes: the person pressed the button.
        using var patience = new CancellationTokenSource(Patience, context.Time);
        try
        {
            var answer = await enter(patience.Token);
            if (answer is not ApiProblem)
                ApiLog.Changed(context.Loggers.CreateLogger<ApiHost>(), audit.Action, audit.Subject, audit.Who, audit.Origin);
            return answer;
        }
        catch (OperationCanceledException) when (patience.IsCancellationRequested)
        {
            return ApiProblem.NotNow("The gateway's disk takes nothing at the moment. What was entered counts once it does, unless the gateway is stopped before; look again later.");
        }
    }
}
