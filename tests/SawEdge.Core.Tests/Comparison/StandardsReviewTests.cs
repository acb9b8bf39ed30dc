using SawEdge.Core.Comparison;

namespace SawEdge.Core.Tests.Comparison;

public class StandardsReviewTests
{
    private static readonly DateTimeOffset Start = new(2026, 3, 2, 6, 0, 0, TimeSpan.Zero);

    [Fact]
    public void RunOf_ParksNothingTogetherThatIsApart()
    {
        var runs = new RunTracker(5);
        int Of(string job, string blade, double hour) => runs.RunOf(job, blade, Start.AddHours(hour), Start.AddHours(hour + 0.05));

        Assert.Equal(5, Of("A", "B-1", 0));
        Assert.Equal(6, Of("C", "B-1", 0.1));
        // Jobs that take turns go on.
        Assert.Equal(5, Of("A", "B-1", 0.2));
        Assert.Equal(6, Of("C", "B-1", 0.3));
        Assert.Equal(7, Of("A", "B-2", 0.4));
        Assert.Equal(5, Of("A", "B-1", 0.49));
        // Other work for a quarter of an hour, or a pause of two hours.
        Assert.Equal(6, Of("C", "B-1", 0.54));
        Assert.Equal(8, Of("A", "B-1", 0.8));
        Assert.Equal(8, Of("A", "B-1", 2.84));
        Assert.Equal(9, Of("A", "B-1", 4.9));
        // No longer than a shift.
        for (var hour = 5.0; hour < 12.9; hour++)
            Assert.Equal(9, Of("A", "B-1", hour));
        Assert.Equal(10, Of("A", "B-1", 12.91));
        Assert.Equal(11, runs.Next);
    }

    [Fact]
    public void Close_AFewOddCuts_DoNotSwayWhatIsSaid()
    {
        var (plain, odd) = (new StandardsReview(), new StandardsReview());
        var kind = new CutKind("north", "1045", "round", "");
        var random = new Random(9);
        for (var i = 0; i < 200; i++)
        {
            var cut = 0.05 + (0.04 * (random.NextDouble() + random.NextDouble() + random.NextDouble() - 1.5));
            plain.Take(kind, i / 10, cut);
            odd.Take(kind, i / 10, i % 50 == 7 ? 2.5 : cut);
        }

        var (without, with) = (plain.Close(20).Kinds[0].Typical!.Value, odd.Close(20).Kinds[0].Typical!.Value);
        Assert.Equal(without.Value, with.Value, 0.001);
        Assert.Equal(without.High - without.Low, with.High - with.Low, 0.002);
    }

    [Fact]
    public void Close_CutsThatAreAllOfOneRun_OrAllTheSame_SayNothing()
    {
        var review = new StandardsReview();
        for (var i = 0; i < 500; i++)
        {
            review.Take(new CutKind("a", "1045", "round", ""), 0, i % 7 * 0.01);
            review.Take(new CutKind("b", "1045", "round", ""), 1 + (i / 10), 0.05);
        }

        var (kinds, _) = review.Close(20);
        Assert.All(kinds, kind => Assert.Null(kind.Typical));
        Assert.All(kinds, kind => Assert.False(kind.Differs));
        Assert.Equal(Math.Exp(0.05), kinds[1].Median, 1e-12);
        Assert.Equal(0, kinds[1].Spread);
    }

    /// <summary>A kind of cut with too little to say has no part in the rate of its material, and a material whose kinds lie apart is called so.</summary>
    [Fact]
    public void Close_OfAMaterial_StandsOnTheKindsThatSayEnough()
    {
        var review = new StandardsReview();
        var random = new Random(10);
        void Add(string saw, string blade, double middle, int runs, int from)
        {
            for (var i = 0; i < 8 * runs; i++)
                review.Take(new CutKind(saw, "1045", "round", blade), from + (i / 8), middle + (0.05 * (random.NextDouble() - 0.5)));
        }

        Add("a", "x", 0.10, 10, 0);
        Add("b", "x", 0.25, 10, 100);
        Add("b", "y", 2, 2, 200);

        var material = Assert.Single(review.Close(20).Materials);
        Assert.Equal(160, material.Cuts);
        Assert.Equal(["a", "b"], material.Saws);
        Assert.True(material.Disagrees);
        Assert.True(material.IsProposed);
        Assert.InRange(material.Typical.Value, Math.Exp(0.16), Math.Exp(0.19));
        Assert.True(material.Typical.High / material.Typical.Low > 1.05, "saws that lie apart make the interval wide");
    }

    [Fact]
    public void Compare_NothingInCommon_OrTooFew_SaysNothing()
    {
        var comparison = new CutComparison(byBlade: false);
        comparison.Take(new CutKind("a", "1045", "round", ""), false, 0, 0, 0);
        comparison.Take(new CutKind("a", "304", "round", ""), true, 1, 1, 0);
        var apart = comparison.Close(2);
        Assert.Null(apart.Rate);
        Assert.Empty(apart.Kinds);
        Assert.Equal((1, 1), (apart.FirstAlone, apart.SecondAlone));

        comparison.Take(new CutKind("a", "304", "round", ""), false, 2, 0, 0.1);
        var few = comparison.Close(2);
        Assert.Null(few.Rate);
        Assert.Single(few.Kinds);
        Assert.Equal((1, 0), (few.FirstAlone, few.SecondAlone));
        Assert.Empty(new CutComparison(byBlade: true).Close(2).Kinds);
    }
}
