using System.Globalization;
using SawEdge.Core.Sections;

namespace SawEdge.Core.Cutting;

/// <summary>
/// The rule of the teeth in the cut: at least 3, at most 24 in each stretch of contact (read in a band saw blog's
/// note on the three-tooth rule), at best 6 to 12 (from memory). Advice on a job, never an error.
/// </summary>
public static class ToothRule
{
    /// <summary>Fewest teeth in a stretch of contact.</summary>
    public const double Fewest = 3;

    /// <summary>Most teeth in a stretch of contact.</summary>
    public const double Most = 24;

    // Where a stretch only just begins or ends it is always short; advice is given where it is so over more than this share of the depth.
    private const double NoticeableShare = 0.15;
    private const int Places = 64;

    /// <summary>Teeth in the mean width of the stretches of contact.</summary>
    public static double MeanTeeth(Section section, Blade blade) => section.MeanWidthMm / blade.PitchMm;

    /// <summary>Advice on a blade for a section; empty where it suits.</summary>
    public static IReadOnlyList<string> Advise(Section section, Blade blade)
    {
        var segments = new ContactSegment[section.MaximumSegments];
        var (few, many) = (0, 0);
        var (least, greatest) = (double.PositiveInfinity, 0.0);
        for (var i = 0; i < Places; i++)
        {
            var count = section.SegmentsAt(section.HeightMm * (i + 0.5) / Places, segments);
            var shortest = double.PositiveInfinity;
            var longest = 0.0;
            for (var k = 0; k < count; k++)
            {
                var teeth = segments[k].LengthMm / blade.PitchMm;
                shortest = Math.Min(shortest, teeth);
                longest = Math.Max(longest, teeth);
            }

            few += shortest < Fewest ? 1 : 0;
            many += longest > Most ? 1 : 0;
            least = Math.Min(least, shortest);
            greatest = Math.Max(greatest, longest);
        }

        var advice = new List<string>();
        if (few > NoticeableShare * Places)
            advice.Add(Say($"Fewer than {Fewest} teeth in a stretch of contact over {100.0 * few / Places:0} % of the depth (least {least:0.0}): teeth may strip; take a finer pitch."));
        if (many > NoticeableShare * Places)
            advice.Add(Say($"More than {Most} teeth in a stretch of contact over {100.0 * many / Places:0} % of the depth (most {greatest:0.0}): gullets may fill; take a coarser pitch."));
        return advice;
    }

    private static string Say(FormattableString text) => text.ToString(CultureInfo.InvariantCulture);
}
