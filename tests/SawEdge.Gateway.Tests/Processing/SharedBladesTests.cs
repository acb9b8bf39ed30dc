using SawEdge.Gateway.Processing;

namespace SawEdge.Gateway.Tests.Processing;

public sealed class SharedBladesTests
{
    private static readonly DateTimeOffset Start = new(2026, 3, 2, 6, 0, 0, TimeSpan.Zero);

    [Fact]
    public void Take_TheSameBladeOnTwoSawsWithinADay_IsSaidOnceAPairAndBlade()
    {
        var blades = new SharedBlades();
        Assert.Null(blades.Take("north", "B-1", Start));
        Assert.Null(blades.Take("quay", "B-2", Start));
        Assert.Null(blades.Take("north", "", Start));
        Assert.Null(blades.Take("quay", "", Start));
        Assert.Equal("north", blades.Take("quay", "B-1", Start.AddHours(24)));
        Assert.Null(blades.Take("quay", "B-1", Start.AddHours(24)));
        Assert.Null(blades.Take("north", "B-1", Start.AddHours(25)));
        Assert.NotNull(blades.Take("yard", "B-1", Start.AddHours(25)));
        Assert.Equal("quay", blades.Take("north", "B-2", Start));
    }

    [Fact]
    public void Take_ABladeThatMovedToAnotherSawLater_IsNoTrouble()
    {
        var blades = new SharedBlades();
        Assert.Null(blades.Take("north", "B-1", Start));
        Assert.Null(blades.Take("quay", "B-1", Start.AddHours(24.1)));
    }
}
