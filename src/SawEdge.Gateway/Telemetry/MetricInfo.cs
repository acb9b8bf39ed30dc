namespace SawEdge.Gateway.Telemetry;

/// <summary>What a figure is.</summary>
/// <param name="Name">Its name at <c>/metrics</c>, as <c>sawedge_frames_total</c>; counters end in <c>_total</c>.</param>
/// <param name="Unit">Its unit as OTLP names it (UCUM, <c>s</c>, <c>By</c>, <c>{frame}</c>); 1: a share, or yes and no.</param>
/// <param name="Help">What it is.</param>
/// <param name="Labels">What each value is about: names of the labels.</param>
public sealed record MetricInfo(string Name, string Unit, string Help, params IReadOnlyList<string> Labels)
{
    private const string Prefix = "sawedge_";
    private const string Total = "_total";

    /// <summary>Whether it only rises.</summary>
    public bool IsCounter => Name.EndsWith(Total, StringComparison.Ordinal);

    /// <summary>Its name in OTLP: what receivers that speak Prometheus put behind a name again (the unit, <c>_total</c>) is left out.</summary>
    public string OtlpName
    {
        get
        {
            var name = Name[Prefix.Length..];
            if (IsCounter)
                name = name[..^Total.Length];
            var unit = Unit switch { "s" => "_seconds", "By" => "_bytes", _ => null };
            return "sawedge." + (unit is not null && name.EndsWith(unit, StringComparison.Ordinal) ? name[..^unit.Length] : name);
        }
    }
}
