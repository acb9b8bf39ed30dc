namespace SawEdge.Gateway.Api;

/// <summary>One figure for <c>/metrics</c>.</summary>
/// <param name="Name">Its name, as <c>sawedge_frames_total</c>; counters end in <c>_total</c>.</param>
/// <param name="Help">What it is and its unit.</param>
/// <param name="IsCounter">Whether it only rises; otherwise it is a gauge.</param>
/// <param name="Value">The figure.</param>
/// <param name="Labels">What it is about, name and value.</param>
public readonly record struct Metric(string Name, string Help, bool IsCounter, double Value, params IReadOnlyList<(string Name, string Value)> Labels);
