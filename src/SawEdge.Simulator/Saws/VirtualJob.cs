using SawEdge.Core.Sections;

namespace SawEdge.Simulator.Saws;

/// <summary>What the stock is really made of; the job list may say something else.</summary>
/// <param name="Name">Name of the material.</param>
/// <param name="Kc11">Specific cutting force at a feed per tooth of 1 mm, N/mm2.</param>
/// <param name="Mc">Exponent with which it rises as the feed falls (Kienzle): kc = kc11 * h^-mc.</param>
public sealed record VirtualMaterial(string Name, double Kc11, double Mc)
{
    /// <summary>Specific cutting force, N/mm2.</summary>
    /// <param name="feedPerToothMm">Mean feed per tooth, mm.</param>
    public double Kc(double feedPerToothMm) => Kc11 * Math.Pow(feedPerToothMm, -Mc);
}

/// <summary>One job as the saw runs it.</summary>
public sealed record VirtualJob
{
    /// <summary>The job's identifier at the controller.</summary>
    public required string Id { get; init; }

    /// <summary>The stock's section as it lies in the vise.</summary>
    public required Section Section { get; init; }

    /// <summary>What it is made of.</summary>
    public required VirtualMaterial Material { get; init; }

    /// <summary>Cutting rate the operator has set, cm2/min.</summary>
    public required double RateCm2Min { get; init; }

    /// <summary>Blade speed the operator has set, m/min.</summary>
    public required double BladeSpeedMMin { get; init; }

    /// <summary>Part length, mm.</summary>
    public required double PartLengthMm { get; init; }

    /// <summary>Parts to be made before the next job.</summary>
    public required int Quantity { get; init; }

    /// <summary>Length of a bar, mm.</summary>
    public double BarLengthMm { get; init; } = 6000;

    /// <summary>Length taken off the end of each bar by the trim cut, mm; 0: no trim cut.</summary>
    public double TrimLengthMm { get; init; } = 12;

    /// <summary>Shortest rest that the shuttle can still hold, mm: what is left is the remnant.</summary>
    public double RemnantMm { get; init; } = 120;
}
