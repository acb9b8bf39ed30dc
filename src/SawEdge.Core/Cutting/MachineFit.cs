using System.Globalization;
using SawEdge.Core.Sections;

namespace SawEdge.Core.Cutting;

/// <summary>Whether a saw takes a section.</summary>
public static class MachineFit
{
    /// <summary>What stands against a section on a saw, in whole sentences; empty where nothing does or the saw's capacity is not known.</summary>
    /// <param name="section">The section as it lies.</param>
    /// <param name="machine">The saw.</param>
    public static IReadOnlyList<string> Problems(Section section, SawMachine machine)
    {
        var problems = new List<string>();
        if (machine.CapacityHeightMm is { } height && section.HeightMm > height)
            problems.Add(Say("height", section.HeightMm, height));
        if (machine.CapacityWidthMm is { } width && section.OverallWidthMm > width)
            problems.Add(Say("width", section.OverallWidthMm, width));
        return problems;

        string Say(string what, double is_, double most) => string.Create(
            CultureInfo.InvariantCulture, $"{section.Notation} has a {what} of {is_:0.#} mm; {machine.Name} takes {most:0.#} mm at most.");
    }
}
