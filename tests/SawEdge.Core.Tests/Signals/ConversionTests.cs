using SawEdge.Core.Signals;

namespace SawEdge.Core.Tests.Signals;

public sealed class ConversionTests
{
    [Theory]
    [InlineData(0, 0)]
    [InlineData(512, 20)]
    [InlineData(1024, 40)]
    [InlineData(2048, 200)]
    [InlineData(4096, 520)]
    [InlineData(-512, -20)]
    public void Apply_ATableOfPoints_GivesStraightLinesBetweenAndBeyond(double raw, double value) =>
        Assert.Equal(value, new TableConversion([(0, 0), (1024, 40), (2048, 200), (3072, 360)]).Apply(raw), 9);

    [Fact]
    public void Apply_AFallingTable_HasItsLeastValueAtItsEnd()
    {
        var table = new TableConversion([(100, 450), (3000, 0)]);
        Assert.Equal((0, 450), (table.Least, table.Greatest));
        Assert.Equal(225, table.Apply(1550), 9);
    }

    [Theory]
    [InlineData(new double[] { 1, 5 }, 1)]
    [InlineData(new double[] { 1, 5, 1, 6 }, 1)]
    [InlineData(new double[] { 1, 5, 2, 5 }, 1)]
    [InlineData(new double[] { 1, 5, 2, 6, 3, 4 }, 2)]
    [InlineData(new double[] { 1, 5, 2, double.NaN, 3, 4 }, 1)]
    [InlineData(new double[] { 1, 5, 2, 6, 3, 7 }, null)]
    public void FindFault_PointsThatTurnRound_NamesTheFirst(double[] numbers, int? fault) =>
        Assert.Equal(fault, TableConversion.FindFault([.. numbers.Chunk(2).Select(pair => (pair[0], pair[1]))]));

    [Fact]
    public void Apply_AtRatedCurrent_IsRatedPower()
    {
        var conversion = new MotorCurrentConversion(0.1, 0, 5.5, 11, 4.4);
        Assert.Equal(5.5, conversion.Apply(110), 12);
        Assert.Equal(0, conversion.Apply(44));
        Assert.Equal(0, conversion.Apply(12));
    }

    /// <summary>
    /// The right-angled triangle of active and magnetizing current: 3-4-5. A magnetizing current of 3 A and an active current of 4 A are 5 A; at a
    /// rated active current of 8 A the motor then gives half of its rated power.
    /// </summary>
    [Fact]
    public void Apply_ATriangleOfCurrents_GivesTheActivePart() =>
        Assert.Equal(2, new MotorCurrentConversion(1, 0, 4, Math.Sqrt((8 * 8) + (3 * 3)), 3).Apply(5), 12);

    [Fact]
    public void Apply_WithoutANoLoadCurrent_IsProportional() => Assert.Equal(2.75, new MotorCurrentConversion(1, 0, 5.5, 11, 0).Apply(5.5), 12);

    /// <summary>The pins as points in the plane, turned by coordinates and not by the equation under test.</summary>
    [Theory]
    [InlineData(900, 700, 0, false)]
    [InlineData(800, 600, 120, false)]
    [InlineData(700, 950, 150, true)]
    public void Apply_APivotingHead_AgreesWithTurnedPoints(double toBase, double toRod, double pivotAbove, bool retracts)
    {
        const double Cut = 1150;
        const double Closed = 500;
        for (var degrees = 0.0; degrees <= 45; degrees += 2.5)
        {
            var up = degrees * Math.PI / 180;

            // The base pin lies below (or, where the cylinder pulls, above) the rod pin by 50 degrees when the blade lies on the table.
            var between = 50 * Math.PI / 180;
            (double X, double Y) basePin = (toBase, 0);
            (double X, double Y) RodPin(double angle) => (toRod * Math.Cos(angle), toRod * Math.Sin(angle));
            double Length(double angle) => Math.Sqrt(Math.Pow(RodPin(angle).X - basePin.X, 2) + Math.Pow(RodPin(angle).Y - basePin.Y, 2));
            var atTable = retracts ? -between : between;
            var geometry = new CylinderGeometry(toBase, toRod, Closed, Length(atTable) - Closed, Cut, pivotAbove, retracts);
            var stroke = Length(atTable + up) - Closed;

            // Two points of the cutting edge, turned about the pivot; the height is where their line crosses the upright at the cut.
            var first = Turn((0, -pivotAbove), up);
            var second = Turn((2000, -pivotAbove), up);
            var slope = (second.Y - first.Y) / (second.X - first.X);
            var height = first.Y + (slope * (Cut - first.X)) + pivotAbove;
            Assert.Equal(height, new CylinderConversion(geometry).Apply(stroke), 6);
        }

        static (double X, double Y) Turn((double X, double Y) point, double angle) =>
            ((point.X * Math.Cos(angle)) - (point.Y * Math.Sin(angle)), (point.X * Math.Sin(angle)) + (point.Y * Math.Cos(angle)));
    }

    [Fact]
    public void Apply_AStrokeThatCannotBe_IsNoNumber()
    {
        var conversion = new CylinderConversion(new CylinderGeometry(900, 700, 500, 100, 1150));
        Assert.Equal(0, conversion.Apply(100), 9);
        Assert.True(double.IsNaN(conversion.Apply(5000)));
        Assert.Throws<ArgumentException>(() => new CylinderConversion(new CylinderGeometry(900, 100, 10, 0, 1150)));
    }
}
