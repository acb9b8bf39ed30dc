using SawEdge.Core.Cutting;
using SawEdge.Core.Materials;
using SawEdge.Gateway.Commands.Reports;

using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Commands.Estimate;

/// <summary>An estimate for people, in lines of at most 96 characters. Sources are numbered, and told at the end.</summary>
internal sealed class EstimateText(TextWriter output, DisplayUnits units)
{
    private const int NumberEnds = 46;
    private const int Beside = 28;

    private readonly List<string> _sources = [];
    private readonly TextPage _page = new(output);

    /// <summary>Prints.</summary>
    public void Write(EstimateReport report)
    {
        foreach (var (name, value, remark) in report.Subject)
            _page.Wrapped($"{Capital(name),-10}", remark.Length > 0 ? $"{value} ({remark})" : value);
        foreach (var item in report.Items)
            Write(item);
        if (report.Advice.Count > 0)
        {
            output.WriteLine();
            output.WriteLine("Advice");
            foreach (var advice in report.Advice)
                _page.Wrapped("  - ", advice);
        }

        output.WriteLine();
        if (_sources.Count > 0)
            output.WriteLine("Where the numbers come from");
        foreach (var (index, source) in _sources.Index())
            _page.Wrapped($"  {$"[{index + 1}]",-5}", Capital(source));
        output.WriteLine();
        output.WriteLine(EstimateReport.Caution);
    }

    private void Write(EstimateItem item)
    {
        output.WriteLine();
        output.WriteLine(item.Title);
        foreach (var figure in item.Figures)
        {
            if (figure.Value is { } value)
                Line("  ", figure.Label, value, figure.Unit, "");
            else if (item.Missing.Count == 0 || figure.Unit != "share")
                output.WriteLine($"  {figure.Label}: not known");
        }

        if (item.Missing.Count > 0)
            _page.Wrapped("  missing: ", string.Join(", ", item.Missing));
        foreach (var remark in item.Remarks)
            _page.Wrapped("  ", remark);
        if (item.Factors.Count > 0)
            _page.Wrapped("    ", $"= {item.Rule}");
        foreach (var factor in item.Factors)
            Line("      ", Label(factor.Name), factor.Value, factor.Unit, From(factor));
    }

    private void Line(string indent, string label, double value, string unit, string from)
    {
        var (number, shown) = DisplayText.Of(units, value, unit);
        var begin = indent + label;
        output.WriteLine($"{begin}{number.PadLeft(Math.Max(1 + number.Length, NumberEnds - begin.Length))} {shown,-9} {from}".TrimEnd());
    }

    /// <summary>How a number is founded and, where there is room beside it, its source; otherwise the number of the source.</summary>
    private string From(RateFactor factor)
    {
        var whole = $"{Words(factor.Provenance)}: {factor.Source}";
        return factor.Source.Length <= Beside ? whole : $"{Words(factor.Provenance)} {Source(factor.Source)}";
    }

    private string Source(string source)
    {
        if (!_sources.Contains(source))
            _sources.Add(source);
        return $"[{_sources.IndexOf(source) + 1}]";
    }

    private static string Label(string name) => name switch
    {
        "length" => "length of cut",
        "blade" => "kind of blade",
        "section" => "kind of section",
        "break_in" => "breaking in",
        "descent_cap_of_feed" => "descent the teeth allow",
        "descent_cap_of_saw" => "descent the saw allows",
        _ => name.Replace('_', ' '),
    };

    private static string Capital(string words) => words.Length == 0 ? words : char.ToUpperInvariant(words[0]) + words[1..];

    private static string Words(Provenance provenance) => provenance switch
    {
        Provenance.Published => "published",
        Provenance.PublishedUncertain => "published, row uncertain",
        Provenance.Derived => "worked out",
        Provenance.CommonPractice => "common practice",
        Provenance.FromMemory => "from memory",
        Provenance.Plant => "stated",
        _ => "in use",
    };
}
