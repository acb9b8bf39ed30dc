using System.Globalization;
using System.Text.RegularExpressions;
using Microsoft.Extensions.Logging.Abstractions;
using SawEdge.Core.Oee;
using SawEdge.Gateway.Accounts.Reports;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Tests.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Accounts;

public sealed partial class ReportTests
{
    [Theory]
    [InlineData(ReportEach.Shift)]
    [InlineData(ReportEach.Day)]
    [InlineData(ReportEach.Week)]
    public async Task Write_OfASpan_IsOnePageWhoseTimesAddUp(ReportEach each)
    {
        await using var bay = await MadeBay.OfAsync(4, handlingBetween: false);
        using var folder = new TempFolder();
        var report = await ReadAsync(bay, each);
        var (html, csv) = ReportWriter.Write(folder.Path, report);
        var page = await File.ReadAllTextAsync(html);

        Assert.Equal(2, Directory.GetFiles(folder.Path).Length);
        Assert.DoesNotMatch("<script|src=|href=|url\\((?!#)|@import", page);
        foreach (Match table in WhereTable().Matches(page))
        {
            var rows = Time().Matches(table.Groups[1].Value).Select(time => Seconds(time.Groups[1].Value)).ToList();
            Assert.Equal(Seconds(Time().Match(table.Groups[2].Value).Groups[1].Value), rows.Sum());
        }

        Assert.Equal(3, WhereTable().Count(page));

        // Each row of the table adds up as well, and all rows to the page's sum.
        var lines = (await File.ReadAllLinesAsync(csv)).Select(line => line.Split(',')).ToList();
        var planned = Array.IndexOf(lines[0], "planned_busy_s");
        var first = Array.IndexOf(lines[0], "cutting_at_standard_s");
        Assert.All(lines.Skip(1), line => Assert.Equal(Number(line[planned]), Enumerable.Range(first, 9).Sum(i => Number(line[i])), 1e-6));
        Assert.Equal(report.Total.Buckets.PlannedBusyTime.TotalSeconds, lines.Skip(1).Sum(line => Number(line[planned])), 1e-6);
    }

    [Fact]
    public async Task Write_WithHostileTexts_KeepsThemTexts()
    {
        await using var bay = await MadeBay.OfAsync(5, handlingBetween: false);
        var span = ReportSpan.LastBefore(bay.Options.Calendar!.Calendar, ReportEach.Day, bay.Machine.GetUtcNow())!;
        const string Hostile = "\"><script>alert(1)</script><img src=x onerror=alert(2)>";
        var at = span.Time.From.AddHours(1);
        await bay.History.Writer.SaveStatesAsync("Saw 1", [new StateSegment(at, at.AddHours(2), TimelineState.OutOfService, Hostile, Hostile)], CancellationToken.None);
        await bay.History.AppendAsync(Cycles.Make("Saw 1", 99_999) with { StartedAt = at, EndedAt = at.AddMinutes(5), CutStartedAt = null, CutEndedAt = null, Job = Hostile });
        var page = ReportHtml.Of(await ReadAsync(bay, ReportEach.Day));

        Assert.Contains("&lt;script&gt;alert(1)", page, StringComparison.Ordinal);
        Assert.DoesNotContain("<script", page, StringComparison.OrdinalIgnoreCase);
        Assert.DoesNotContain("<img", page, StringComparison.OrdinalIgnoreCase);
    }

    [Fact]
    public async Task Schedule_AfterASpan_WritesItOnceAndSaysAFolderThatRefusesOnce()
    {
        await using var bay = await MadeBay.OfAsync(6, handlingBetween: false);
        using var folder = new TempFolder();
        var refused = Path.Combine(folder.Path, "file");
        await File.WriteAllTextAsync(refused, "no folder");
        var log = new CollectedLog();
        var options = bay.Options with { Reports = [new ReportOptions(Path.Combine(folder.Path, "reports"), ReportEach.Shift), new ReportOptions(refused, ReportEach.Day)] };
        var schedule = new ReportSchedule(options, bay.Oee, Reader(bay), bay.Machine, log.For<ReportSchedule>());
        await schedule.LookAsync(CancellationToken.None);
        await schedule.LookAsync(CancellationToken.None);
        var files = Directory.GetFiles(Path.Combine(folder.Path, "reports"));

        Assert.Equal([".csv", ".html"], files.Select(Path.GetExtension).Order(StringComparer.Ordinal));
        Assert.Single(log.Entries, entry => entry.ToString()!.Contains("cannot be written", StringComparison.Ordinal));

        // The next one comes some minutes after the next shift, not before.
        var end = ReportSpan.NextEnd(bay.Options.Calendar!.Calendar, ReportEach.Shift, bay.Machine.GetUtcNow())!.Value;
        bay.Machine.SetUtcNow(end.AddMinutes(1));
        await schedule.LookAsync(CancellationToken.None);
        Assert.Equal(2, Directory.GetFiles(Path.Combine(folder.Path, "reports")).Length);
        bay.Machine.SetUtcNow(end + ReportSchedule.After);
        await schedule.LookAsync(CancellationToken.None);
        Assert.Equal(4, Directory.GetFiles(Path.Combine(folder.Path, "reports")).Length);
    }

    [Fact]
    public void Span_OfAWeek_IsNeverAPartOfOne()
    {
        var plan = new CalendarPlan { Zone = TimeZoneInfo.Utc, Shifts = [new WeeklyShift("all", Enum.GetValues<DayOfWeek>().ToHashSet(), new TimeOnly(6, 0), new TimeOnly(14, 0), [])] };
        for (var day = 0; day < 30; day++)
        {
            var now = new DateTimeOffset(2026, 3, 1, 12, 0, 0, TimeSpan.Zero).AddDays(day);
            var week = ReportSpan.LastBefore(new ShiftCalendar(plan), ReportEach.Week, now)!;
            Assert.Equal((7, DayOfWeek.Monday), (week.Shifts.Count, week.Shifts[0].Date.DayOfWeek));
            Assert.InRange(now - week.Time.To, TimeSpan.Zero, TimeSpan.FromDays(7));
        }
    }

    private static ReportReader Reader(MadeBay bay) => new(bay.Options, bay.Oee, bay.History.Reader, (_, _) => Task.FromResult<IReadOnlyList<SawEdge.Core.Blades.BladeAccount>>([]));

    private static Task<ReportData> ReadAsync(MadeBay bay, ReportEach each) =>
        Reader(bay).ReadAsync(ReportSpan.LastBefore(bay.Options.Calendar!.Calendar, each, bay.Machine.GetUtcNow().AddDays(each == ReportEach.Week ? -2 : 0))!);

    private static long Seconds(string time) => time.Split(':') is [var h, var m, var s] ? (Number(h) * 3600) + (Number(m) * 60) + Number(s) is var all ? (long)all : 0 : throw new FormatException(time);

    private static double Number(string text) => double.Parse(text, CultureInfo.InvariantCulture);

    [GeneratedRegex("<table class=\"where\">.*?<tbody>(.*?)</tbody><tfoot>(.*?)</tfoot>", RegexOptions.Singleline)]
    private static partial Regex WhereTable();

    [GeneratedRegex("<td class=\"n\">([0-9]+:[0-9:]+)</td>")]
    private static partial Regex Time();
}
