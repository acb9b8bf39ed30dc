using System.Globalization;

namespace SawEdge.Core.Load;

/// <summary>What the live watch says of its findings: one sentence each, with numbers and units.</summary>
internal static class LiveWords
{
    public static string Overload(double loadKw, double limitKw, double seconds, bool ofRated) =>
        Text($"The load stood above {limitKw:0.0#} kW{(ofRated ? " (150 % of the rated power)" : "")} for {seconds:0.0} s and is at {loadKw:0.0#} kW: the saw is overloaded.");

    public static string Stall(double loadKw, double idleKw, double limitKw, double depthMm, double headMm, double seconds, double expectedMm) =>
        Text($"The load rose to {loadKw:0.0#} kW (above {limitKw:0.0#} kW; idle {idleKw:0.0#} kW) and the head stands {Place(depthMm, headMm)}: in {seconds:0.0} s it should have gone on by {expectedMm:0.0} mm; the blade may be caught in the stock.");

    public static string BladeGone(double beforeKw, double loadKw, double depthMm, double headMm, double movedMm) =>
        Text($"The load fell from {beforeKw:0.0#} kW to {loadKw:0.0#} kW (idle) {Place(depthMm, headMm)} while the head went on {movedMm:0.0} mm: the blade may be broken or off its wheels.");

    public static string NoContact(double depthMm, string section, double loadKw, double expectedKw) =>
        Text($"The head is {depthMm:0.0} mm below the top of {section} and the load is still {loadKw:0.0#} kW (idle), where the stock would take {expectedKw:0.0#} kW more at the least: there may be no stock in the vise.");

    public static string AfterBreakthrough(double belowMm, double loadKw, double idleKw, double seconds) =>
        Text($"The head is {belowMm:0.0} mm below the height at which cuts are through, and for {seconds:0.0} s the load has stayed at {loadKw:0.0#} kW (idle {idleKw:0.0#} kW): the blade may not be through, or it drags.");

    public static string FrozenLoad(double loadKw, double seconds, int frames) =>
        Text($"The load has read exactly {loadKw:0.0##} kW for {seconds:0.0} s ({frames} frames) in the cut: the signal may be frozen.");

    public static string FrozenHead(double headMm, double seconds, double expectedMm, double loadKw) =>
        Text($"The head position has read exactly {headMm:0.0##} mm for {seconds:0.0} s while the load shows a running cut ({loadKw:0.0#} kW); at its pace the head should have gone on by {expectedMm:0.0} mm: the signal may be frozen.");

    private static string Place(double depthMm, double headMm) =>
        double.IsNaN(depthMm) ? Text($"at {headMm:0.0} mm above the table") : Text($"at {depthMm:0.0} mm depth");

    private static string Text(FormattableString text) => text.ToString(CultureInfo.InvariantCulture);
}
