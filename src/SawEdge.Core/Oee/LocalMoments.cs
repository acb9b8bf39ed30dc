namespace SawEdge.Core.Oee;

/// <summary>
/// From the clock on the wall to the moment. A clock time stands for the first moment at which that clock shows it or more: one that
/// a change skips is the moment of the change, and of one that comes twice it is the first. So what follows by the clock follows
/// in time, and shifts that meet or keep apart by the clock do so in time, whatever the clock does.
/// </summary>
internal static class LocalMoments
{
    private static readonly TimeSpan Around = TimeSpan.FromHours(27);

    /// <summary>The first moment at which the clock of a zone shows a time or more.</summary>
    public static DateTimeOffset FirstAt(TimeZoneInfo zone, DateTime local)
    {
        var asUtc = DateTime.SpecifyKind(local, DateTimeKind.Utc);
        var early = zone.GetUtcOffset(asUtc - Around);
        var late = zone.GetUtcOffset(asUtc + Around);
        if (early == late)
            return new DateTimeOffset(asUtc - early, TimeSpan.Zero);

        // The clock changes near by: the greater offset gives the earlier moment.
        var (greater, smaller) = early > late ? (early, late) : (late, early);
        if (Shows(zone, asUtc - greater, local))
            return new DateTimeOffset(asUtc - greater, TimeSpan.Zero);
        if (Shows(zone, asUtc - smaller, local))
            return new DateTimeOffset(asUtc - smaller, TimeSpan.Zero);

        // Skipped: the change lies between the two, and around a skip the clock only rises.
        var (before, after) = ((asUtc - greater).Ticks, (asUtc - smaller).Ticks);
        while (after - before > 1)
        {
            var middle = before + ((after - before) / 2);
            if (TimeZoneInfo.ConvertTimeFromUtc(new DateTime(middle, DateTimeKind.Utc), zone) < local)
                before = middle;
            else
                after = middle;
        }

        return new DateTimeOffset(after, TimeSpan.Zero);
    }

    private static bool Shows(TimeZoneInfo zone, DateTime utc, DateTime local) => TimeZoneInfo.ConvertTimeFromUtc(utc, zone) == DateTime.SpecifyKind(local, DateTimeKind.Unspecified);
}
