using System.Text;
using SawEdge.Core.Alarms;
using SawEdge.Core.Oee;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Accounts.Reports;

/// <summary>A report as one page that needs nothing else: no script, nothing loaded, made for paper. Texts of anybody stay texts.</summary>
internal sealed partial class ReportHtml
{
    private const int MostStops = 15;
    private const int MostAlarms = 60;

    private readonly StringBuilder _page = new();
    private readonly ReportData _report;
    private readonly ReportText _text;

    private ReportHtml(ReportData report)
    {
        _report = report;
        _text = new ReportText(report.Zone);
    }

    /// <summary>The page.</summary>
    public static string Of(ReportData report)
    {
        var html = new ReportHtml(report);
        html.Head();
        html.Site();
        html.Saws();
        foreach (var saw in report.Saws)
            html.Saw(saw);
        html.Stops();
        html.Alarms();
        html.Blades();
        html.Foot();
        return html._page.ToString();
    }

    private static string H(string text) => ReportText.Html(text);

    private void Line(string html) => _page.Append(html).Append('\n');

    private void Head()
    {
        Line("<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">");
        Line("<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">");
        Line($"<title>{H($"{_report.Site}: {_report.Span.Title}")}</title>\n<style>\n{Style}\n</style>\n</head>\n<body>\n{ReportStrip.Patterns}");
        Line($"<header><p class=\"site\">{H(_report.Site)} · {H(_report.Gateway)}</p><h1>{H(_report.Span.Title)}</h1>");
        Line($"<p class=\"when\">{_text.Moment(_report.Span.Time.From)} to {_text.Moment(_report.Span.Time.To)}, {H(_report.Zone.Id)}</p></header>\n<main>");
    }

    private void Site()
    {
        var (buckets, figures) = (_report.Total.Buckets, _report.Total.Buckets.Figures);
        Line("<section class=\"sum\"><h2>All saws</h2>");
        Line($"<p class=\"oee\"><b>{ReportText.Percent(figures.Oee)}</b> OEE</p>");
        Line("<table class=\"made\"><caption>What it is made of</caption><thead><tr><th scope=\"col\">Figure</th><th scope=\"col\" class=\"n\">Value</th><th scope=\"col\" class=\"after\">is</th></tr></thead><tbody>");
        Made("Availability", figures.Availability, buckets.ActualProductionTime, "producing", buckets.Observed, "planned and seen");
        Made("Effectiveness", figures.Effectiveness, buckets.PlannedRunTime, "by the standards of all parts", buckets.ActualProductionTime, "producing");
        Made("Quality ratio", figures.QualityRatio, buckets.GoodRunTime, "by the standards of good parts", buckets.PlannedRunTime, "by those of all parts");
        Made("OEE", figures.Oee, buckets.GoodRunTime, "by the standards of good parts", buckets.Observed, "planned and seen");
        Line("</tbody></table>");
        Line(ReportText.Said($"<p>{buckets[OeeCount.Parts]} parts, {buckets[OeeCount.Scrap]} of them scrap. ") + Notes(buckets) + "</p>");
        Where(buckets);
        Line("</section>");
    }

    private void Made(string name, double value, TimeSpan part, string partIs, TimeSpan whole, string wholeIs) =>
        Line($"<tr><th scope=\"row\">{name}</th><td class=\"n\">{ReportText.Percent(value)}</td><td>{ReportText.Span(part)} {partIs}, of {ReportText.Span(whole)} {wholeIs}</td></tr>");

    // What a figure must not hide.
    private static string Notes(OeeBuckets buckets)
    {
        var (words, figures) = (new List<string>(), buckets.Figures);
        if (figures.UnknownShare > 0)
            words.Add(ReportText.Said($"In {figures.UnknownShare * 100:0.0} % of the planned time the saw was not seen: availability lies between {figures.AvailabilityLow * 100:0.0} % and {figures.AvailabilityHigh * 100:0.0} %."));
        if (figures.BeatsStandard)
            words.Add("More was made than the standards allow time for: a standard is too loose.");
        if (buckets[OeeCount.WithoutStandard] > 0)
            words.Add(ReportText.Said($"{buckets[OeeCount.WithoutStandard]} parts have no whole standard time and count as what they took ({ReportText.Span(buckets[OeeBeside.WithoutStandard])})."));
        if (buckets[OeeCount.Uncertain] > 0)
            words.Add(ReportText.Said($"Of {buckets[OeeCount.Uncertain]} cuts the end was not seen; they are not among the parts."));
        if (buckets[OeeCount.Lost] > 0)
            words.Add(ReportText.Said($"{buckets[OeeCount.Lost]} {(buckets[OeeCount.Lost] == 1 ? "cut was" : "cuts were")} given up."));
        if (buckets[OeeCount.PartsOutside] > 0)
            words.Add(ReportText.Said($"{buckets[OeeCount.PartsOutside]} {(buckets[OeeCount.PartsOutside] == 1 ? "part was made outside of planned time and is" : "parts were made outside of planned time and are")} not among them."));
        return string.Join(" ", words);
    }

    private void Where(OeeBuckets buckets)
    {
        Line(ReportStrip.Bar(buckets));
        Line("<table class=\"where\"><caption>Where the planned time went</caption><tbody>");
        var all = Enum.GetValues<OeeBucket>();
        var seconds = ReportText.AddingUp(all.Select(bucket => buckets[bucket]));
        foreach (var bucket in all)
        {
            var share = buckets.PlannedBusyTime > TimeSpan.Zero ? buckets[bucket] / buckets.PlannedBusyTime : double.NaN;
            Line($"<tr><th scope=\"row\">{ReportStrip.Key(bucket)} {ReportText.Buckets[(int)bucket]}</th><td class=\"n\">{ReportText.Seconds(seconds[(int)bucket])}</td><td class=\"n\">{ReportText.Percent(share)}</td></tr>");
        }

        Line($"</tbody><tfoot><tr><th scope=\"row\">Planned busy time</th><td class=\"n\">{ReportText.Seconds(seconds.Sum())}</td><td class=\"n\">{ReportText.Percent(buckets.PlannedBusyTime > TimeSpan.Zero ? 1 : double.NaN)}</td></tr></tfoot></table>");
    }

    private void Saws()
    {
        Line("<section><h2>Saws</h2><table class=\"saws\"><caption>Figures and what they are made of (h:min:s)</caption><thead><tr><th scope=\"col\">Saw</th><th scope=\"col\" class=\"n\">OEE</th><th scope=\"col\" class=\"n\">Availability</th><th scope=\"col\" class=\"n\">Effectiveness</th><th scope=\"col\" class=\"n\">Quality</th><th scope=\"col\" class=\"n\">Parts</th><th scope=\"col\" class=\"n\">Scrap</th><th scope=\"col\" class=\"n\">Not seen</th></tr></thead><tbody>");
        foreach (var saw in _report.Saws)
            Row(saw.Name, saw.Figures.Buckets, "");
        foreach (var group in _report.Groups)
            Row(group.Subject, group.Buckets, " class=\"group\"");
        Line("</tbody><tfoot>");
        Row("All saws", _report.Total.Buckets, "");
        Line("</tfoot></table></section>");
    }

    private void Row(string name, OeeBuckets b, string look)
    {
        string Cell(double share, TimeSpan part, TimeSpan whole) => $"<td class=\"n\">{ReportText.Percent(share)}<br><small>{ReportText.Span(part)} / {ReportText.Span(whole)}</small></td>";
        var f = b.Figures;
        Line($"<tr{look}><th scope=\"row\">{H(name)}</th>{Cell(f.Oee, b.GoodRunTime, b.Observed)}{Cell(f.Availability, b.ActualProductionTime, b.Observed)}{Cell(f.Effectiveness, b.PlannedRunTime, b.ActualProductionTime)}{Cell(f.QualityRatio, b.GoodRunTime, b.PlannedRunTime)}"
            + ReportText.Said($"<td class=\"n\">{b[OeeCount.Parts]}</td><td class=\"n\">{b[OeeCount.Scrap]}</td>") + Cell(f.UnknownShare, b[OeeBucket.Unknown], b.PlannedBusyTime) + "</tr>");
    }

    private void Saw(ReportSaw saw)
    {
        Line($"<section class=\"saw\"><h2>{H(saw.Name)}</h2>");
        foreach (var day in _report.Span.Shifts.GroupBy(shift => shift.Date))
        {
            if (_report.Span.Each == ReportEach.Week)
                Line(ReportText.Said($"<h3>{day.Key.DayOfWeek} {day.Key:yyyy-MM-dd}</h3>"));
            Line(ReportStrip.Of(saw, new Period(day.First().Time.From, day.Last().Time.To), _text));
        }

        Line($"<p>{Counter(saw.Figures)} {Notes(saw.Figures.Buckets)}</p>");
        Where(saw.Figures.Buckets);
        Line("</section>");
    }

    private static string Counter(OeeItem item)
    {
        var parts = ReportText.Said($"{item.Buckets[OeeCount.Parts]} parts, {item.Buckets[OeeCount.Scrap]} of them scrap.");
        if (item.Counter is not { Difference: { } difference } counter)
            return parts + " The controller told no part counter to hold this against.";
        if (counter.DoesNotCount)
            return parts + " The controller's part counter stands still: it is not in use.";
        var words = new List<string> { ReportText.Said($"The controller counted {counter.Counted}, {counter.Parts} were seen in that time") + (difference == 0 ? ": they agree." : ReportText.Said($": a difference of {difference:+0;-0}.")) };
        if (counter.Unseen > 0)
            words.Add(ReportText.Said($"{counter.Unseen} were counted while nobody looked."));
        if (counter.NotCounted > 0)
            words.Add(ReportText.Said($"{counter.NotCounted} were seen and not counted."));
        if (counter.Resets > 0)
            words.Add(ReportText.Said($"The counter was set back {counter.Resets} times."));
        if (counter.Rollovers > 0)
            words.Add(ReportText.Said($"It came to its end and began again {counter.Rollovers} times."));
        return $"{parts} {string.Join(" ", words)}";
    }

    private void Stops()
    {
        Line("<section><h2>Stops</h2>");
        var sums = _report.Saws.SelectMany(saw => saw.Figures.Buckets.Stops.Select(stop => (Saw: saw.Name, Stop: stop))).OrderByDescending(stop => stop.Stop.Time).ToList();
        if (sums.Count == 0)
        {
            Line("<p>No saw stood longer than a short stop in planned time.</p></section>");
            return;
        }

        Line("<table><caption>What cost most</caption><thead><tr><th scope=\"col\">Reason</th><th scope=\"col\">Booked as</th><th scope=\"col\">Saw</th><th scope=\"col\" class=\"n\">Time</th></tr></thead><tbody>");
        foreach (var (saw, stop) in sums.Take(MostStops))
            Line($"<tr><th scope=\"row\">{H(stop.Reason)}</th><td>{ReportText.Class(stop.Class)}</td><td>{H(saw)}</td><td class=\"n\">{ReportText.Span(stop.Time)}</td></tr>");
        Line("</tbody></table>");
        if (sums.Count > MostStops)
            Line(ReportText.Said($"<p>{sums.Count - MostStops} more of together {ReportText.Seconds((long)Math.Round(sums.Skip(MostStops).Sum(stop => stop.Stop.Time.TotalSeconds)))}.</p>"));
        Line("<table><caption>The longest</caption><thead><tr><th scope=\"col\">From</th><th scope=\"col\">Saw</th><th scope=\"col\" class=\"n\">Time</th><th scope=\"col\">Reason</th><th scope=\"col\">Who says so</th></tr></thead><tbody>");
        foreach (var stop in _report.Saws.SelectMany(saw => saw.Stops).OrderByDescending(stop => stop.Stretch.Time.Duration).Take(MostStops))
            Line($"<tr><th scope=\"row\">{_text.Moment(stop.Stretch.Time.From)}</th><td>{H(stop.Saw)}</td><td class=\"n\">{ReportText.Span(stop.Stretch.Time.Duration)}</td><td>{H(stop.Stretch.Reason)}</td><td>{(stop.Entry is { } entry ? H(entry.Entry.Who) : "controller")}</td></tr>");
        Line("</tbody></table></section>");
    }

    private void Alarms()
    {
        Line("<section><h2>Alarms</h2>");
        if (_report.Alarms.Count == 0)
        {
            Line("<p>None was raised.</p></section>");
            return;
        }

        Line(ReportText.Said($"<table><caption>{_report.Alarms.Count} raised</caption><thead><tr><th scope=\"col\">Raised</th><th scope=\"col\">Urgency</th><th scope=\"col\">About</th><th scope=\"col\">What</th><th scope=\"col\">Cleared</th></tr></thead><tbody>"));
        foreach (var alarm in _report.Alarms.Take(MostAlarms))
            Line($"<tr><th scope=\"row\">{_text.Moment(alarm.RaisedAt)}</th><td>{alarm.Severity.ToName()}</td><td>{H(alarm.Subject.Name)}</td><td>{H(alarm.Text.Length > 0 ? alarm.Text : alarm.Rule)}</td><td>{(alarm.ClearedAt is { } cleared ? _text.Moment(cleared) : "active")}</td></tr>");
        Line("</tbody></table>");
        if (_report.Alarms.Count > MostAlarms)
            Line(ReportText.Said($"<p>{_report.Alarms.Count - MostAlarms} more; 'sawedge alarm journal' lists all.</p>"));
        Line("</section>");
    }

    private void Blades()
    {
        Line("<section><h2>Blades</h2>");
        var known = _report.Saws.Where(saw => saw.Blade is not null).ToList();
        if (known.Count == 0)
        {
            Line("<p>Nothing is known of them yet.</p></section>");
            return;
        }

        Line($"<table><caption>As of {_text.Moment(_report.MadeAt)}</caption><thead><tr><th scope=\"col\">Saw</th><th scope=\"col\">Blade</th><th scope=\"col\">Since</th><th scope=\"col\" class=\"n\">Cuts</th><th scope=\"col\" class=\"n\">Area</th><th scope=\"col\" class=\"n\">Left</th><th scope=\"col\">State</th></tr></thead><tbody>");
        foreach (var saw in known)
        {
            var blade = saw.Blade!;
            var area = blade.AreaCm2 is { } cm2 ? DisplayText.Text(_report.Units, cm2 / 10_000, "m2") : ReportText.Unknown;
            var left = blade.Forecast?.CutsLeft is { } cuts ? ReportText.Said($"{Math.Floor(cuts):0} cuts") : ReportText.Unknown;
            var state = blade.Forecast is not { } forecast ? "too early to say" : forecast.IsDue ? "<b>due: have a new one ready</b>" : "good";
            Line($"<tr><th scope=\"row\">{H(saw.Name)}</th><td>{H(blade.Blade)}</td><td>{_text.Moment(blade.FirstCutAt)}</td>" + ReportText.Said($"<td class=\"n\">{blade.Cuts}</td>") + $"<td class=\"n\">{area}</td><td class=\"n\">{left}</td><td>{state}</td></tr>");
        }

        Line($"</tbody></table><p>{H("Before touching a blade: stop, isolate, lock out and tag out by the plant's procedure. Local codes and qualified people decide.")}</p></section>");
    }

    private void Foot()
    {
        Line("</main><footer><p>Availability, effectiveness, quality ratio and OEE after ISO 22400-2. The standard is the time that each very cut should take; groups and all saws are sums of the parts, never means of ratios. Time in which a saw was not seen is neither uptime nor downtime. A saw that stands with a job is delayed; one that is faulted, switched off or without a job is down.</p>");
        Line($"<p>In the strips a bar is a cut, its height the time it took against its standard (half of the height; an empty bar has none). Made {_text.Moment(_report.MadeAt)}.</p></footer>\n</body>\n</html>");
    }
}
