using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Tests.Configuration;

/// <summary>
/// Zones by their IANA names where the system has names of its own. That Windows finds them is tested where the program for Windows runs (tests/Install/windows.sh).
/// </summary>
public sealed class ZoneNamesTests
{
    // From https://github.com/unicode-org/cldr, common/supplemental/windowsZones.xml (from memory): territory 001.
    [Theory]
    [InlineData("Central Standard Time", "America/Chicago")]
    [InlineData("W. Europe Standard Time", "Europe/Berlin")]
    [InlineData("Tokyo Standard Time", "Asia/Tokyo")]
    [InlineData("UTC", "Etc/UTC")]
    public void IanaOf_ANameOfWindows_IsTheOneOfTheWholeWorld(string windows, string iana) => Assert.Equal(iana, ZoneNames.IanaOf(windows));

    [Fact]
    public void IanaOf_NoNameOfWindows_IsNone() => Assert.Null(ZoneNames.IanaOf("Ostrey Time"));

    [Fact]
    public void Under_AZoneAsWindowsHasIt_IsTheZoneOfTheIanaDataBase()
    {
        // Directive 2000/84/EC: from 01:00 UTC of the last Sunday in March to 01:00 UTC of the last Sunday in October.
        var rule = TimeZoneInfo.AdjustmentRule.CreateAdjustmentRule(
            DateTime.MinValue.Date, DateTime.MaxValue.Date, TimeSpan.FromHours(1),
            TimeZoneInfo.TransitionTime.CreateFloatingDateRule(new DateTime(1, 1, 1, 2, 0, 0), 3, 5, DayOfWeek.Sunday),
            TimeZoneInfo.TransitionTime.CreateFloatingDateRule(new DateTime(1, 1, 1, 3, 0, 0), 10, 5, DayOfWeek.Sunday));
        var windows = TimeZoneInfo.CreateCustomTimeZone("W. Europe Standard Time", TimeSpan.FromHours(1), "(UTC+01:00)", "standard", "daylight", [rule]);
        var berlin = TimeZoneInfo.FindSystemTimeZoneById("Europe/Berlin");

        var named = ZoneNames.Under("Europe/Berlin", windows);

        Assert.Equal("Europe/Berlin", named.Id);
        for (var moment = new DateTimeOffset(2010, 1, 1, 0, 30, 0, TimeSpan.Zero); moment.Year < 2030; moment = moment.AddHours(1))
        {
            Assert.Equal(berlin.GetUtcOffset(moment), named.GetUtcOffset(moment));
            var local = DateTime.SpecifyKind(moment.DateTime, DateTimeKind.Unspecified);
            Assert.Equal((berlin.IsInvalidTime(local), berlin.IsAmbiguousTime(local)), (named.IsInvalidTime(local), named.IsAmbiguousTime(local)));
        }

        Assert.Same(berlin, ZoneNames.Under("Europe/Berlin", berlin));
    }

    [Fact]
    public void Local_OnASystemWithIanaNames_IsTheSystems() => Assert.Equal(TimeZoneInfo.Local.Id, ZoneNames.Local.Id);
}
