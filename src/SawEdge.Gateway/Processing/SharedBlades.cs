namespace SawEdge.Gateway.Processing;

/// <summary>Watches that no two saws name the same blade within a day: a blade is on one saw at a time. For several threads.</summary>
internal sealed class SharedBlades
{
    private static readonly TimeSpan Within = TimeSpan.FromHours(24);

    private readonly Lock _gate = new();
    private readonly Dictionary<(string Blade, string Saw), DateTimeOffset> _seen = [];
    private readonly HashSet<(string Blade, string One, string Other)> _said = [];

    /// <summary>Takes note of a cut.</summary>
    /// <param name="saw">The saw.</param>
    /// <param name="blade">Its blade; may be empty.</param>
    /// <param name="at">When.</param>
    /// <returns>Another saw that cut with a blade of this name within a day, once a pair and blade; otherwise null.</returns>
    public string? Take(string saw, string blade, DateTimeOffset at)
    {
        if (blade.Length == 0)
            return null;
        lock (_gate)
        {
            _seen[(blade, saw)] = at;
            foreach (var ((name, other), then) in _seen)
            {
                if (name != blade || other == saw || (at - then).Duration() > Within)
                    continue;
                var (one, two) = string.CompareOrdinal(saw, other) < 0 ? (saw, other) : (other, saw);
                if (_said.Add((blade, one, two)))
                    return other;
            }

            return null;
        }
    }
}
