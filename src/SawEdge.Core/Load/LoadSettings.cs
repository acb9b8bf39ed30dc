namespace SawEdge.Core.Load;

/// <summary>What a person may set about the load score. Nothing has to be.</summary>
public sealed record LoadSettings
{
    /// <summary>False alarms that are accepted, per saw and 30 days; the threshold follows from the saw's own number of cuts.</summary>
    public double FalseAlarmsPerMonth { get; init; } = 1;

    /// <summary>A fixed threshold of the score instead; null: from <see cref="FalseAlarmsPerMonth"/>.</summary>
    public double? Threshold { get; init; }

    /// <summary>Rise of specific energy over the blade's own beginning at which it counts as dull, as a share. Default 0.25: common practice, no source.</summary>
    public double DullRise { get; init; } = 0.25;
}
