using System.Text;
using SawEdge.Gateway.Acquisition.Mqtt;
using SawEdge.Gateway.Formats;

namespace SawEdge.Fuzz.Targets;

/// <summary>Times in payloads: the first byte chooses how they are written.</summary>
internal sealed class PayloadTimeTarget : IFuzzTarget
{
    private readonly WrittenTime[] _written =
    [
        new(null, null), new(TimeZoneInfo.Utc, null), new(Riverbend(), "yyyy-MM-dd HH:mm:ss"), new(Riverbend(), "dd.MM.yyyy HH:mm:ss.fff"), new(null, "yyyy-MM-dd'T'HH:mm:sszzz"),
    ];

    public string Name => "time";

    public int MaximumLength => 80;

    public IEnumerable<byte[]> Seeds =>
    [
        [0, .. "2026-03-02T06:00:00.250Z"u8], [1, .. "2026-03-02 06:00:00"u8], [2, .. "2026-10-25 02:30:00"u8], [3, .. "25.10.2026 02:30:00.125"u8],
        [4, .. "2026-03-02T06:00:00+01:00"u8], [0, .. "1772431200250"u8], [0, .. "-62135596800"u8],
    ];

    public IReadOnlyList<byte[]> Tokens => [.. new[] { "0000", "9999", "9999-12-31", "0001-01-01", "23:59:60", "24:00:00", "+14:00", "-23:59", "Z", "T", ".", "e308", "1e18", "-", "2026-03-29 02:30:00" }.Select(Encoding.UTF8.GetBytes)];

    public long MostAllocated(int length) => 4096;

    public void FixUp(Span<byte> input)
    {
        if (input.Length > 0)
            input[0] = (byte)(input[0] % _written.Length);
    }

    public void Run(ReadOnlySpan<byte> input)
    {
        if (input.IsEmpty)
            return;
        if (!PayloadTime.TryReadText(_written[input[0] % _written.Length], input[1..], out var time, out var later))
            return;
        FuzzFinding.Unless(later is null || (later > time && later - time <= TimeSpan.FromHours(3)), "the later moment is not later");
        FuzzFinding.Unless(later is null || PayloadTime.Choose(time, later.Value, time, time) is var chosen && (chosen == time || chosen == later), "another moment was chosen");
        PayloadTime.IsPlausible(time, new DateTimeOffset(2026, 3, 2, 6, 0, 0, TimeSpan.Zero));
    }

    // A zone of our own, so that the machine's data about zones does not matter: UTC+1, an hour more from the last Sunday of March to that of October.
    private static TimeZoneInfo Riverbend()
    {
        var begin = TimeZoneInfo.TransitionTime.CreateFloatingDateRule(new DateTime(1, 1, 1, 2, 0, 0), 3, 5, DayOfWeek.Sunday);
        var end = TimeZoneInfo.TransitionTime.CreateFloatingDateRule(new DateTime(1, 1, 1, 3, 0, 0), 10, 5, DayOfWeek.Sunday);
        var rule = TimeZoneInfo.AdjustmentRule.CreateAdjustmentRule(DateTime.MinValue.Date, DateTime.MaxValue.Date, TimeSpan.FromHours(1), begin, end);
        return TimeZoneInfo.CreateCustomTimeZone("Riverbend", TimeSpan.FromHours(1), "Riverbend", "Riverbend", "Riverbend summer", [rule]);
    }
}
