using System.Globalization;
using System.Text.RegularExpressions;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Commands.Commissioning;

/// <summary>What a person sees on the controller's panel and looks for.</summary>
/// <param name="Text">As it was written.</param>
/// <param name="Number">The number; NaN where it is a text.</param>
/// <param name="Tolerance">How far off a number may be.</param>
/// <param name="Unit">Its unit as a configuration writes it; empty where it has none, or one that no signal has.</param>
internal sealed partial record SoughtValue(string Text, double Number, double Tolerance, string Unit)
{
    private static readonly QuantityKind[] Kinds = [QuantityKind.Length, QuantityKind.MotorLoad, QuantityKind.BladeSpeed];

    /// <summary>Reads it: a number, with a unit or without, or else a text. Without a tolerance, half of the last place counts.</summary>
    /// <param name="text">What a person wrote.</param>
    /// <param name="tolerance">A tolerance, or null.</param>
    /// <exception cref="CommandException">It cannot be looked for; the message says what would be right.</exception>
    public static SoughtValue Parse(string text, double? tolerance)
    {
        var trimmed = text.Trim();
        if (tolerance is { } stated && !(stated >= 0 && double.IsFinite(stated)))
            throw new CommandException("--tolerance: a number of 0 or more is wanted.");
        if (CommaNumber().IsMatch(trimmed))
            throw new CommandException($"--find: '{trimmed}': write decimals with a point, for example \"12.7 A\".");
        var match = NumberAndUnit().Match(trimmed);
        if (!match.Success)
        {
            return trimmed.Length >= 2
                ? new SoughtValue(trimmed, double.NaN, 0, "")
                : throw new CommandException("--find: a number as the panel shows it is wanted, for example \"12.7 A\", or a text of two characters or more.");
        }

        var number = double.Parse(match.Groups["number"].Value, CultureInfo.InvariantCulture);
        var decimals = match.Groups["decimals"].Length;
        var symbol = match.Groups["unit"].Value;
        var unit = Kinds.Select(kind => kind.Unit(symbol)).FirstOrDefault(found => found is not null)?.Symbol ?? "";
        return new SoughtValue(trimmed, number, tolerance ?? (0.5 * Math.Pow(10, -decimals)), unit);
    }

    [GeneratedRegex(@"^(?<number>[+-]?[0-9]+(?:\.(?<decimals>[0-9]+))?)\s*(?<unit>[^0-9\s].{0,19})?$")]
    private static partial Regex NumberAndUnit();

    [GeneratedRegex("^[+-]?[0-9]+,[0-9]+")]
    private static partial Regex CommaNumber();
}
