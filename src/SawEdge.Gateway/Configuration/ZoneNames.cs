using System.Diagnostics.CodeAnalysis;
using TimeZoneConverter;

namespace SawEdge.Gateway.Configuration;

/// <summary>
/// Time zones by their names in the IANA data base, on every system: Windows has zones under names of its own, and a zone that is found there
/// bears its IANA name all the same, because files, the page and the API say it.
/// </summary>
internal static class ZoneNames
{
    /// <summary>The zones that this machine knows, by IANA name.</summary>
    public static IEnumerable<string> Known =>
        OperatingSystem.IsWindows() ? TZConvert.KnownIanaTimeZoneNames : TimeZoneInfo.GetSystemTimeZones().Select(zone => zone.Id);

    /// <summary>The machine's own zone.</summary>
    public static TimeZoneInfo Local => OperatingSystem.IsWindows() ? Under(Iana(TimeZoneInfo.Local), TimeZoneInfo.Local) : TimeZoneInfo.Local;

    /// <summary>Finds a zone.</summary>
    /// <param name="iana">Its IANA name.</param>
    /// <param name="zone">The zone, under that name.</param>
    public static bool TryFind(string iana, [MaybeNullWhen(false)] out TimeZoneInfo zone)
    {
        if (!OperatingSystem.IsWindows())
            return TimeZoneInfo.TryFindSystemTimeZoneById(iana, out zone);
        zone = null;
        if (!TZConvert.TryIanaToWindows(iana, out var windows) || !TimeZoneInfo.TryFindSystemTimeZoneById(windows, out var found))
            return false;
        zone = Under(iana, found);
        return true;
    }

    /// <summary>A zone of Windows with its rules under another name. (Elsewhere .NET makes no zone again of all rules that it hands out.)</summary>
    /// <param name="name">The name.</param>
    /// <param name="zone">The zone.</param>
    public static TimeZoneInfo Under(string name, TimeZoneInfo zone) => zone.Id == name
        ? zone
        : TimeZoneInfo.CreateCustomTimeZone(name, zone.BaseUtcOffset, zone.DisplayName, zone.StandardName, zone.DaylightName, zone.GetAdjustmentRules());

    /// <summary>The IANA name of a zone of the system; "UTC" where it has none.</summary>
    public static string Iana(TimeZoneInfo zone) =>
        zone.HasIanaId ? zone.Id : IanaOf(zone.Id) ?? "UTC";

    /// <summary>The IANA name of a zone by its name in Windows; null where Windows has none of that name.</summary>
    public static string? IanaOf(string windows) => TZConvert.TryWindowsToIana(windows, out var iana) ? iana : null;
}
