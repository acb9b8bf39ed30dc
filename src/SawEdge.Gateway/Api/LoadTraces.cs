using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Http;
using Microsoft.AspNetCore.Routing;

namespace SawEdge.Gateway.Api;

/// <summary>The load of one saw in the last minutes and what was expected of it, oldest first; null where it was not known.</summary>
/// <param name="Saw">The saw.</param>
/// <param name="AgeS">How long ago each value was taken, seconds by the wall clock.</param>
/// <param name="LoadKw">Motor load, kW.</param>
/// <param name="ExpectedKw">Load expected at the depth of that moment, kW.</param>
/// <param name="LowKw">Lower end of the expected band, kW.</param>
/// <param name="HighKw">Upper end of the expected band, kW.</param>
internal sealed record LoadTrace(string Saw, IReadOnlyList<double> AgeS, IReadOnlyList<double?> LoadKw, IReadOnlyList<double?> ExpectedKw, IReadOnlyList<double?> LowKw, IReadOnlyList<double?> HighKw);

/// <summary>
/// Keeps the load of the last minutes of each saw, so that whoever opens the page sees at once how it went. In memory only: the
/// history holds finished cuts. What a saw does not tell any more is not taken down; there the trace has a gap.
/// </summary>
internal sealed class LoadTraces
{
    /// <summary>How often a value is taken.</summary>
    public static readonly TimeSpan Step = TimeSpan.FromSeconds(2);

    /// <summary>How many values are kept of a saw: five minutes, and a little for those that come late.</summary>
    public const int Kept = 160;

    private readonly ApiContext _context;
    private readonly Dictionary<string, Queue<Value>> _values = new(StringComparer.Ordinal);
    private readonly Lock _gate = new();

    /// <summary>Prepares the traces of all saws.</summary>
    public LoadTraces(ApiContext context) => _context = context;

    /// <summary>Maps the endpoint.</summary>
    public static void Map(RouteGroupBuilder api, ApiContext context) => api.MapGet("/traces", (HttpRequest request) =>
    {
        var query = new QueryReader(request.Query, context);
        var saws = query.Saws();
        return query.Problem() ?? ApiAnswer.Live(new { Items = (saws ?? [.. context.Options.Saws.Select(saw => saw.Name)]).Select(context.Traces.Of) });
    });

    /// <summary>Takes values until cancelled.</summary>
    public async Task RunAsync(CancellationToken cancellation)
    {
        if (_context.Live is null)
            return;
        using var step = new PeriodicTimer(Step, _context.Time);
        while (await step.WaitForNextTickAsync(cancellation))
            Take();
    }

    /// <summary>Takes a value of each saw.</summary>
    public void Take()
    {
        var (at, now) = (_context.Time.GetTimestamp(), _context.Now);
        lock (_gate)
        {
            var saws = _context.Options.Saws;
            foreach (var gone in _values.Keys.Where(known => saws.All(saw => saw.Name != known)).ToList())
                _values.Remove(gone);
            foreach (var name in saws.Select(saw => saw.Name))
            {
                if (!_values.TryGetValue(name, out var values))
                    _values[name] = values = new Queue<Value>(Kept);
                var moment = _context.Live!.Read(name);
                if (moment.Frames == 0 || now - moment.ReceivedAt > moment.Holds)
                    continue;
                if (values.Count == Kept)
                    values.Dequeue();
                values.Enqueue(new Value(at, moment.LoadKw, moment.ExpectedKw, moment.LowKw, moment.HighKw));
            }
        }
    }

    /// <summary>The trace of a configured saw.</summary>
    public LoadTrace Of(string saw)
    {
        Value[] values;
        lock (_gate)
            values = [.. _values.GetValueOrDefault(saw) ?? []];
        return new LoadTrace(
            saw,
            [.. values.Select(value => Math.Round(_context.Time.GetElapsedTime(value.At).TotalSeconds, 1))],
            [.. values.Select(value => Known.Number(value.LoadKw, 3))],
            [.. values.Select(value => Known.Number(value.ExpectedKw, 3))],
            [.. values.Select(value => Known.Number(value.LowKw, 3))],
            [.. values.Select(value => Known.Number(value.HighKw, 3))]);
    }

    private readonly record struct Value(long At, double LoadKw, double ExpectedKw, double LowKw, double HighKw);
}
