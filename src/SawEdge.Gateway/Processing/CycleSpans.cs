using System.Diagnostics;
using SawEdge.Core;
using SawEdge.Core.Cycles;
using SawEdge.Gateway.Telemetry;

namespace SawEdge.Gateway.Processing;

/// <summary>Traces of cycles from their end until they are stored. Nothing as long as nobody listens.</summary>
internal sealed class CycleSpans : IDisposable
{
    // A controller's clock may be far from the gateway's, and virtual time runs faster.
    private static readonly TimeSpan Plausible = TimeSpan.FromMinutes(10);

    private readonly List<Activity> _spans = [];

    private CycleSpans()
    {
    }

    /// <summary>Begins them, with the moment at which each cycle ended.</summary>
    /// <param name="cuts">What was found.</param>
    /// <param name="now">When it was found.</param>
    /// <returns>Null where nobody listens.</returns>
    public static CycleSpans? Begin(IEnumerable<FinishedCut> cuts, DateTimeOffset now)
    {
        CycleSpans? spans = null;
        foreach (var record in cuts.Select(cut => cut.Record))
        {
            var isPlausible = record.EndedAt <= now && now - record.EndedAt < Plausible;
            if (Spans.Root("cycle", began: isPlausible ? record.EndedAt : default) is not { } span)
                return spans;
            span.SetTag("sawedge.saw", record.Saw).SetTag("sawedge.cycle", record.CycleId).SetTag("sawedge.outcome", record.Outcome.ToName());
            span.AddEvent(new ActivityEvent("found", now));
            (spans ??= new CycleSpans())._spans.Add(span);
        }

        return spans;
    }

    /// <summary>They are stored.</summary>
    public void Dispose() => _spans.ForEach(span => span.Dispose());
}
