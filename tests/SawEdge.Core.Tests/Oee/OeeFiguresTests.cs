using SawEdge.Core.Oee;

namespace SawEdge.Core.Tests.Oee;

public sealed class OeeFiguresTests
{
    private static TimeSpan Minutes(double minutes) => TimeSpan.FromMinutes(minutes);

    // Willmott & McCarthy, TPM: A Route to World-Class Performance (2001), pp. 127-128, read: planned 910 min, stops 115 + 12, uptime 783; 3 min
    // standard cycle, 203 completed of 261 planned; 152 right first time. The book gives 86.0, 77.7, 74.9 and 50 %; it cuts 77.78 off to
    // 77.7, and 50.11 rounds to its 50.
    [Fact]
    public void Of_WillmottAndMcCarthyWeek17_GivesTheirFigures()
    {
        var figures = OeeFigures.Of(OeeElements.OfOneItem(Minutes(910), Minutes(910 - 115 - 12), Minutes(3), 203, 152));

        Assert.Equal(86.0, figures.Availability * 100, 0.05);
        Assert.Equal(77.7, Math.Floor(figures.Effectiveness * 1000) / 10);
        Assert.Equal(77.78, figures.Effectiveness * 100, 0.005);
        Assert.Equal(74.9, figures.QualityRatio * 100, 0.05);
        Assert.Equal(50, figures.Oee * 100, 0.5);
        Assert.Equal(152 * 3 / 910d, figures.Oee, 1e-12);
    }

    // The same book, fig. 7.18 p. 157, read: planned 450 min, uptime 147; an estimated output of 1622 reams was due in it. 32.7, 84.2, 88.6, 24.4 %;
    // how many reams came the book does not say: from its ratios.
    [Fact]
    public void Of_WillmottAndMcCarthyLineStudy_GivesTheirFigures()
    {
        var made = 0.842 * 1622;
        var figures = OeeFigures.Of(OeeElements.OfOneItem(Minutes(450), Minutes(147), Minutes(147) / 1622, (long)Math.Round(made), (long)Math.Round(0.886 * made)));

        Assert.Equal(32.7, figures.Availability * 100, 0.05);
        Assert.Equal(84.2, figures.Effectiveness * 100, 0.05);
        Assert.Equal(88.6, figures.QualityRatio * 100, 0.05);
        Assert.Equal(24.4, figures.Oee * 100, 0.05);
    }

    // The same book, table 6.3 p. 128 and fig. 7.18 p. 157, read: availability, performance, quality and their product, percent. The Tuesday and
    // the Wednesday of its week 16 have the same figures (the last row of the table here); "100" is printed as "loo" in places.
    [Theory]
    [InlineData(86.8, 71.0, 100, 61.6)]
    [InlineData(81.0, 75.3, 100, 61.0)]
    [InlineData(89.5, 45.7, 89.5, 36.6)]
    [InlineData(83.4, 82.6, 100, 68.9)]
    [InlineData(84.5, 68.3, 92.6, 53.4)]
    [InlineData(90.1, 55.2, 21.9, 10.9)]
    [InlineData(94.4, 79.6, 100, 75.1)]
    [InlineData(32.7, 84.2, 88.6, 24.4)]
    public void Of_WillmottAndMcCarthyRows_MultipliesAsTheyDo(double availability, double performance, double quality, double oee)
    {
        var planned = TimeSpan.FromHours(1000);
        var production = planned * (availability / 100);
        var run = production * (performance / 100);

        var figures = OeeFigures.Of(new OeeElements(planned, TimeSpan.Zero, production, run, run * (quality / 100)));

        Assert.Equal(oee, figures.Oee * 100, 0.05);
        Assert.Equal(performance, figures.Effectiveness * 100, 1e-9);
    }

    // Nakajima, Introduction to TPM (1988), worked example, from memory: 460 min loading, 60 min down, 0.5 min ideal cycle, 400 pieces, 2 %
    // defects: 87 %, 50 %, 98 %, 42.6 %.
    [Fact]
    public void Of_NakajimasDay_GivesHisFigures()
    {
        var figures = OeeFigures.Of(OeeElements.OfOneItem(Minutes(460), Minutes(400), Minutes(0.5), 400, 392));

        Assert.Equal(87, figures.Availability * 100, 0.5);
        Assert.Equal(50, figures.Effectiveness * 100, 1e-9);
        Assert.Equal(98, figures.QualityRatio * 100, 1e-9);
        Assert.Equal(42.6, figures.Oee * 100, 0.05);
    }

    // OPC UA for Machine Tools 1.01, C.2.4 (https://reference.opcfoundation.org/v105/MachineTool/v101/docs/C.2.4/): with the product of the
    // three, OEE = PRI * GQ / PBT. ISO 22400-2: effectiveness may exceed 100 %.
    [Fact]
    public void Of_ALooseStandard_IsNotCapped()
    {
        var figures = OeeFigures.Of(OeeElements.OfOneItem(Minutes(480), Minutes(240), Minutes(10), 30, 27));

        Assert.Equal(1.25, figures.Effectiveness, 1e-12);
        Assert.True(figures.BeatsStandard);
        Assert.Equal(270 / 480d, figures.Oee, 1e-12);
    }

    [Fact]
    public void Of_UnknownTime_IsNeitherUpNorDown()
    {
        var figures = OeeFigures.Of(new OeeElements(Minutes(480), Minutes(80), Minutes(200), Minutes(100), Minutes(100)));

        Assert.Equal(0.5, figures.Availability, 1e-12);
        Assert.Equal(80 / 480d, figures.UnknownShare, 1e-12);
        Assert.Equal(200 / 480d, figures.AvailabilityLow, 1e-12);
        Assert.Equal(280 / 480d, figures.AvailabilityHigh, 1e-12);
    }

    [Fact]
    public void Of_NothingSeen_IsNotKnown()
    {
        var figures = OeeFigures.Of(new OeeElements(Minutes(480), Minutes(480), TimeSpan.Zero, TimeSpan.Zero, TimeSpan.Zero));

        Assert.True(double.IsNaN(figures.Availability));
        Assert.True(double.IsNaN(figures.Oee));
        Assert.Equal(1, figures.UnknownShare);
    }

    [Fact]
    public void Of_ASawThatStoodAllShift_IsZeroAndNotUnknown()
    {
        var figures = OeeFigures.Of(new OeeElements(Minutes(480), TimeSpan.Zero, TimeSpan.Zero, TimeSpan.Zero, TimeSpan.Zero));

        Assert.Equal(0, figures.Availability);
        Assert.Equal(0, figures.Oee);
        Assert.True(double.IsNaN(figures.Effectiveness));
    }
}
