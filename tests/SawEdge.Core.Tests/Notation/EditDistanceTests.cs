using CsCheck;
using SawEdge.Core.Notation;

namespace SawEdge.Core.Tests.Notation;

public class EditDistanceTests
{
    private static readonly Gen<string> Word = Gen.Char["abc"].Array[0, 6].Select(letters => new string(letters));

    /// <summary>kitten and sitting: the usual textbook example; ca and abc: what tells this distance (3) from the unrestricted one (2). Both from memory.</summary>
    [Theory]
    [InlineData("", "", 0)]
    [InlineData("", "abc", 3)]
    [InlineData("kitten", "sitting", 3)]
    [InlineData("ca", "abc", 3)]
    [InlineData("1045", "1054", 1)]
    [InlineData("1045", "1O45", 1)]
    [InlineData("saw-1", "SAW-1", 3)]
    public void Between_counts_steps(string a, string b, int steps) => Assert.Equal(steps, EditDistance.Between(a, b));

    [Fact]
    public void Between_is_what_its_definition_counts_out() => Gen.Select(Word, Word).Sample((a, b) =>
    {
        Assert.Equal(ByDefinition(a, b), EditDistance.Between(a, b));
        Assert.Equal(EditDistance.Between(b, a), EditDistance.Between(a, b));
        Assert.Equal(0, EditDistance.Between(a, a));
    });

    private static int ByDefinition(ReadOnlySpan<char> a, ReadOnlySpan<char> b)
    {
        if (a.Length == 0 || b.Length == 0)
            return a.Length + b.Length;
        var least = Math.Min(1 + ByDefinition(a[1..], b), 1 + ByDefinition(a, b[1..]));
        least = Math.Min(least, (a[0] == b[0] ? 0 : 1) + ByDefinition(a[1..], b[1..]));
        return a.Length > 1 && b.Length > 1 && a[0] == b[1] && a[1] == b[0] ? Math.Min(least, 1 + ByDefinition(a[2..], b[2..])) : least;
    }
}
