namespace SawEdge.Gateway.Telemetry;

/// <summary>One figure as it is now.</summary>
/// <param name="Info">What it is.</param>
/// <param name="Value">The figure; NaN: not known.</param>
/// <param name="About">What it is about: a value for each of the labels, in their order.</param>
public readonly record struct Metric(MetricInfo Info, double Value, params IReadOnlyList<string> About)
{
    /// <summary>Its name.</summary>
    public string Name => Info.Name;

    /// <summary>What it is about, name and value.</summary>
    public IEnumerable<(string Name, string Value)> Labels => Info.Labels.Zip(About ?? []);
}
