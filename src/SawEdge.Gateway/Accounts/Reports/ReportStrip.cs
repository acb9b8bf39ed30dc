using System.Text;
using SawEdge.Core.Cycles;
using SawEdge.Core.Oee;

namespace SawEdge.Gateway.Accounts.Reports;

/// <summary>What a saw did over some hours as a picture: cuts as bars whose height is actual against standard, under them what each moment was.</summary>
internal static class ReportStrip
{
    private const double Width = 1000;
    private const double CutTop = 14;
    private const double CutHeight = 56;
    private const double LineTop = CutTop + CutHeight + 4;
    private const double LineHeight = 22;
    private const double Height = LineTop + LineHeight + 16;

    // A cut that takes twice its standard fills the height; the standard is half of it.
    private const double HighestRatio = 2;

    /// <summary>The patterns of all strips, once for a page. Each bucket has a colour and a pattern of its own, so that neither is needed to tell them apart.</summary>
    public const string Patterns = """
        <svg width="0" height="0" aria-hidden="true" style="position:absolute"><defs>
        <pattern id="b0" width="8" height="8" patternUnits="userSpaceOnUse"><rect width="8" height="8" fill="#1f6f63"/></pattern>
        <pattern id="b1" width="6" height="6" patternUnits="userSpaceOnUse"><rect width="6" height="6" fill="#d08a1d"/><path d="M0 3h6" stroke="#6b4303" stroke-width="1.2"/></pattern>
        <pattern id="b2" width="8" height="8" patternUnits="userSpaceOnUse"><rect width="8" height="8" fill="#9ccbbf"/></pattern>
        <pattern id="b3" width="6" height="6" patternUnits="userSpaceOnUse"><rect width="6" height="6" fill="#f0d9a4"/><path d="M3 0v6" stroke="#9a7522" stroke-width="1"/></pattern>
        <pattern id="b4" width="6" height="6" patternUnits="userSpaceOnUse"><rect width="6" height="6" fill="#e6dcee"/><circle cx="3" cy="3" r="1.2" fill="#6d3f86"/></pattern>
        <pattern id="b5" width="7" height="7" patternUnits="userSpaceOnUse"><rect width="7" height="7" fill="#7d4b98"/><path d="M-1 8L8 -1" stroke="#fff" stroke-width="1.4"/></pattern>
        <pattern id="b6" width="7" height="7" patternUnits="userSpaceOnUse"><rect width="7" height="7" fill="#4a73ad"/><path d="M0 0l7 7M7 0l-7 7" stroke="#dbe6f5" stroke-width="1"/></pattern>
        <pattern id="b7" width="5" height="5" patternUnits="userSpaceOnUse"><rect width="5" height="5" fill="#b3392b"/><path d="M0 0h5M0 0v5" stroke="#f7d9d4" stroke-width="1"/></pattern>
        <pattern id="b8" width="8" height="8" patternUnits="userSpaceOnUse"><rect width="8" height="8" fill="#fff"/><path d="M-1 9L9 -1" stroke="#8a8f94" stroke-width="1"/></pattern>
        </defs></svg>
        """;

    /// <summary>A small field in the look of a bucket, for a legend.</summary>
    public static string Key(OeeBucket bucket) => ReportText.Said($"""<svg class="key" width="18" height="12" aria-hidden="true"><rect width="18" height="12" fill="url(#b{(int)bucket})" stroke="#3b4045" stroke-width=".6"/></svg>""");

    /// <summary>Shares of a whole as one bar.</summary>
    public static string Bar(OeeBuckets buckets)
    {
        var svg = new StringBuilder("<svg class=\"bar\" viewBox=\"0 0 1000 18\" preserveAspectRatio=\"none\" aria-hidden=\"true\">");
        var at = 0.0;
        foreach (var bucket in Enum.GetValues<OeeBucket>())
        {
            var width = buckets.PlannedBusyTime > TimeSpan.Zero ? Width * (buckets[bucket] / buckets.PlannedBusyTime) : 0;
            if (width > 0)
                svg.Append(ReportText.Said($"<rect x=\"{at:0.##}\" width=\"{width:0.##}\" height=\"18\" fill=\"url(#b{(int)bucket})\"/>"));
            at += width;
        }

        return svg.Append("</svg>").ToString();
    }

    /// <summary>The picture of a saw and a time.</summary>
    /// <param name="saw">The saw.</param>
    /// <param name="time">The time.</param>
    /// <param name="text">How times are written.</param>
    public static string Of(ReportSaw saw, Period time, ReportText text)
    {
        var svg = new StringBuilder();
        double X(DateTimeOffset at) => Width * Math.Clamp((at - time.From) / time.Duration, 0, 1);
        svg.Append(ReportText.Said($"<svg class=\"strip\" viewBox=\"0 0 {Width} {Height}\" role=\"img\" aria-label=\"{ReportText.Html($"{saw.Name} from {text.Moment(time.From)} to {text.Moment(time.To)}: cuts and what each moment was; the tables tell the same in figures")}\">"));
        foreach (var hour in Hours(time, text))
            svg.Append(ReportText.Said($"<path d=\"M{X(hour):0.##} {CutTop}V{LineTop + LineHeight}\" class=\"tick\"/><text x=\"{X(hour):0.##}\" y=\"{Height - 3}\" class=\"clock\">{text.Clock(hour)}</text>"));
        svg.Append(ReportText.Said($"<path d=\"M0 {CutTop + CutHeight}H{Width}\" class=\"axis\"/>"));
        foreach (var cut in saw.Line.Cuts.Where(cut => cut.Record.StartedAt < time.To && cut.Record.EndedAt > time.From))
            Cut(svg, cut, X);
        svg.Append(ReportText.Said($"<path d=\"M0 {CutTop + (CutHeight / 2)}H{Width}\" class=\"standard\"/><text x=\"{Width}\" y=\"{CutTop + (CutHeight / 2) - 3}\" class=\"note\">standard</text>"));
        foreach (var state in saw.Line.States.Where(state => state.Bucket is not null && state.Time.Overlaps(time)))
        {
            var part = state.Time.Clip(time);
            var (from, to) = (X(part.From), X(part.To));
            svg.Append(ReportText.Said($"<rect x=\"{from:0.##}\" y=\"{LineTop}\" width=\"{Math.Max(0.3, to - from):0.##}\" height=\"{LineHeight}\" fill=\"url(#b{(int)state.Bucket!.Value})\"><title>{ReportText.Html($"{text.Clock(part.From)} to {text.Clock(part.To)}: {ReportText.Buckets[(int)state.Bucket.Value]}{(state.Reason.Length > 0 ? ", " + state.Reason : "")}")}</title></rect>"));
        }

        return svg.Append(ReportText.Said($"<rect x=\"0\" y=\"{LineTop}\" width=\"{Width}\" height=\"{LineHeight}\" class=\"frame\"/></svg>")).ToString();
    }

    // A cut without a standard is an empty bar of the standard's height: nothing says whether it was slow.
    private static void Cut(StringBuilder svg, TimelineCut cut, Func<DateTimeOffset, double> x)
    {
        var record = cut.Record;
        var ratio = record.CutTimeRatio;
        var height = CutHeight * Math.Min(ratio ?? 1, HighestRatio) / HighestRatio;
        var (from, to) = (x(record.StartedAt), x(record.EndedAt));
        var look = cut.IsScrap ? "scrap" : record.Outcome is CutOutcome.Aborted or CutOutcome.Interrupted ? "lost" : ratio is null ? "free" : ratio > 1 ? "slow" : "good";
        var title = $"{record.Job} {record.Outcome.ToName()}{(ratio is { } told ? ReportText.Said($", {told * 100:0} % of its standard") : ", no standard")}";
        svg.Append(ReportText.Said($"<rect x=\"{from:0.##}\" y=\"{CutTop + CutHeight - height:0.##}\" width=\"{Math.Max(0.6, to - from - 0.4):0.##}\" height=\"{height:0.##}\" class=\"cut {look}\"><title>{ReportText.Html(title)}</title></rect>"));
        if (ratio > HighestRatio)
            svg.Append(ReportText.Said($"<path d=\"M{from:0.##} {CutTop - 1}l{(to - from) / 2:0.##} -6l{(to - from) / 2:0.##} 6z\" class=\"cut slow\"/>"));
    }

    private static IEnumerable<DateTimeOffset> Hours(Period time, ReportText text)
    {
        var step = time.Duration > TimeSpan.FromHours(14) ? 2 : 1;
        for (var at = time.From.AddTicks(TimeSpan.TicksPerHour - (text.Local(time.From).Ticks % TimeSpan.TicksPerHour)).AddHours(-1); at < time.To; at = at.AddHours(1))
        {
            if (at >= time.From && text.Local(at).Hour % step == 0)
                yield return at;
        }
    }
}
