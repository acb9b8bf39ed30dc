using System.Globalization;
using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Http;
using Microsoft.AspNetCore.Routing;
using SawEdge.Core.Blades;

namespace SawEdge.Gateway.Api;

/// <summary>Another blade was put on a saw.</summary>
/// <param name="Saw">The saw.</param>
/// <param name="At">When; left out: now.</param>
/// <param name="Blade">The new blade; left out: a name is made.</param>
/// <param name="Note">What else should be remembered.</param>
internal sealed record BladeChangeBody(string? Saw, DateTimeOffset? At, string? Blade, string? Note);

/// <summary>A change of a blade as it was entered.</summary>
internal sealed record BladeChangeView(string Saw, DateTimeOffset At, string Blade, string? Note, string EnteredBy);

/// <summary>Changes of blades; the gateway computes the records anew by itself.</summary>
internal static class BladeChangeEndpoints
{
    // As the command has it: an entry this near is the same change.
    private static readonly TimeSpan Nearness = TimeSpan.FromMinutes(1);

    /// <summary>Maps them.</summary>
    public static void Map(RouteGroupBuilder api, ApiContext context) =>
        api.MapPost("/blades/changes", (Delegate)((HttpContext http) => EnterAsync(http, context))).Needs(ApiRole.Operate);

    private static async Task<IResult> EnterAsync(HttpContext http, ApiContext context)
    {
        var (body, problem) = await ApiBody.ReadAsync<BladeChangeBody>(http);
        if (body is null)
            return problem!;
        var check = new ApiBody(context);
        var saw = check.Saw(body.Saw);
        var at = check.Past("at", body.At ?? context.Now);
        var blade = check.Text("blade", body.Blade);
        var note = check.Text("note", body.Note);
        if (check.Problem is { } wrong)
            return wrong;
        if (blade.Length == 0)
            blade = string.Create(CultureInfo.InvariantCulture, $"{saw}-{TimeZoneInfo.ConvertTime(at, context.Options.TimeZone):yyyyMMdd-HHmm}");

        var book = (await context.Reader.BladeEntriesAsync(saw, http.RequestAborted)).Book;
        if (book.Entries.FirstOrDefault(entry => entry.Kind != BladeEntryKind.Retire && (entry.At - at).Duration() <= Nearness) is { } there)
            return ApiProblem.Conflict($"There is an entry of {ApiJson.Moment(there.At)} for {saw} already; 'sawedge blade correct' on the gateway's machine changes it.");
        if (book.IsRetired(blade, at))
            return ApiProblem.Conflict($"Blade {blade} is retired already.");

        var audit = ApiEntering.Audit(http, "blade.change", saw, ("at", ApiJson.Moment(at)), ("blade", blade), ("note", note.Length == 0 ? null : note));
        return await ApiEntering.RunAsync(context, audit, async patience =>
        {
            await context.Writer.EnterBladesAsync([new BladeEntry(0, saw, at, BladeEntryKind.Change, blade, note)], audit, patience);
            return ApiAnswer.Made(new BladeChangeView(saw, at, blade, note.Length == 0 ? null : note, audit.Who));
        });
    }
}
