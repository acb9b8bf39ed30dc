using CsCheck;
using SawEdge.Core.Alarms;

namespace SawEdge.Core.Tests.Alarms;

/// <summary>"m of n cuts": common practice, no source.</summary>
public sealed class CutWatchTests
{
    // x meets, o does not, d lies in the deadband, f was found while the cut runs, n another blade.
    [Theory]
    [InlineData(1, 1, 1, "o x o x", "- + - +")]
    [InlineData(1, 1, 3, "x o o x o o o", "+ + + + + + -")]
    [InlineData(3, 5, 2, "x x o x o o", ". . . + + -")]
    [InlineData(3, 5, 1, "o x x o x", "- - - - +")]
    [InlineData(3, 5, 1, "o x o o x o x x", "- - - - - - - +")]
    [InlineData(3, 3, 1, "x x o x x x", ". . - - - +")]
    [InlineData(2, 3, 1, "x x o o x o x", ". + - - - - +")]
    [InlineData(2, 3, 2, "x x d o d o o", ". + + + + + -")]
    [InlineData(1, 1, 2, "d d o o d", ". . . - -")]
    [InlineData(2, 3, 1, "x f", ". +")]
    [InlineData(2, 2, 1, "o x f", "- - +")]
    [InlineData(2, 2, 1, "o f x f", "- - - +")]
    [InlineData(1, 1, 1, "f o", "+ -")]
    [InlineData(3, 5, 2, "x x x n x x x", ". . + - - - +")]
    public void Push_ATable_HoldsByItsCount(int least, int of, int clearAfter, string cuts, string expected)
    {
        var watch = new CutWatch(new CutCount(least, of, clearAfter));
        var seen = cuts.Split(' ').Select(cut =>
        {
            if (cut == "f")
                watch.Found();
            else if (cut == "n")
                watch.Begin();
            else
                watch.Push(cut == "x", cut == "o");
            return watch.Holds switch { true => "+", false => "-", null => "." };
        });
        Assert.Equal(expected, string.Join(' ', seen));
    }

    // Told otherwise: all cuts since the condition was last over, and of those the latest.
    [Fact]
    public void Push_AnyCuts_HoldsExactlyWhereALookBackSaysSo() => Gen.Select(Gen.Int[1, 6], Gen.Int[0, 5], Gen.Int[1, 5], Gen.Int[0, 2].Array[1, 40]).Sample(
        (least, more, clearAfter, cuts) =>
        {
            var count = new CutCount(least, least + more, clearAfter);
            var watch = new CutWatch(count);
            var (from, expected) = (0, (bool?)null);
            for (var i = 0; i < cuts.Length; i++)
            {
                watch.Push(cuts[i] == 0, cuts[i] == 1);
                var latest = cuts[Math.Max(from, i + 1 - count.Of)..(i + 1)];
                if (latest.Count(cut => cut == 0) >= least && cuts[i] == 0)
                    expected = true;
                else if (i + 1 >= clearAfter && cuts[(i + 1 - clearAfter)..(i + 1)].All(cut => cut == 1))
                    (from, expected) = (expected == true ? i + 1 : from, false);
                if (expected != watch.Holds)
                    return false;
            }

            return true;
        },
        iter: 10_000);
}
