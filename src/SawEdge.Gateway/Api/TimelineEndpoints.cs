using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Http;
using Microsoft.AspNetCore.Routing;
using SawEdge.Core.Cycles;
using SawEdge.Core.Oee;

namespace SawEdge.Gateway.Api;

/// <summary>What one saw did, moment by moment: shifts, states, cuts.</summary>
internal static class TimelineEndpoints
{
    private static readonly TimeSpan LongestPeriod = TimeSpan.FromDays(14);

    /// <summary>Maps them.</summary>
    public static void Map(RouteGroupBuilder api, ApiContext context)
    {
        api.MapGet("/timeline", async (HttpRequest request, CancellationToken cancellation) =>
        {
            var query = new QueryReader(request.Query, context);
            var name = query.RequiredSaw();
            var period = query.RequiredPeriod(LongestPeriod);
            if (query.Problem() is { } problem)
                return problem;
            var saw = context.Options.Saws.First(saw => saw.Name == name);
            var line = await context.Oee.TimelineAsync(saw, period!.Value, cancellation);
            var answer = new
            {
                Shifts = line.Shifts.Select(shift => new { Label = shift.Name, shift.Date, shift.Time.From, shift.Time.To, Working = shift.Working.Select(time => (DateTimeOffset[])[time.From, time.To]) }),
                States = line.States.Select(state => new
                {
                    State = state.State.ToName(),
                    state.Reason,
                    state.Time.From,
                    state.Time.To,
                    Bucket = state.Bucket?.ToName(),
                }),
                Cuts = line.Cuts.Select(cut => new
                {
                    cut.Record.CycleId,
                    cut.Record.StartedAt,
                    cut.Record.EndedAt,
                    cut.Record.CutTimeS,
                    cut.Record.StandardCutTimeS,
                    cut.Record.CutTimeRatio,
                    Outcome = cut.Record.Outcome.ToName(),
                    cut.Record.Job,
                    cut.Record.LoadScore,
                    IsUnusual = cut.Assessment?.IsUnusual,
                    Scrap = cut.IsScrap,
                }),
            };
            return period.Value.To <= context.Now ? ApiAnswer.Past(answer) : ApiAnswer.Live(answer);
        });
    }
}
