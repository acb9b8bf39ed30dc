using SawEdge.Core.Cycles;

namespace SawEdge.Core.Tests.Cycles;

/// <summary>Parts that were counted against cycles that are recorded, over times in which nobody looked.</summary>
public sealed class PartLedgerTests
{
    private static readonly DateTimeOffset Noon = new(2026, 3, 2, 12, 0, 0, TimeSpan.Zero);

    [Fact]
    public void Settle_CountedBeyondTheRecords_IsWhatWasUnseen()
    {
        var ledger = Away(rise: 5);
        ledger.Record();
        ledger.Record();
        Assert.Equal(new UnseenParts(3, true, Noon, Noon.AddHours(1)), ledger.Settle());
        Assert.Null(ledger.Settle());
    }

    [Fact]
    public void Settle_SomebodyLookedAllTheTime_TellsNothing()
    {
        // A counter that counts two parts a cycle, or that somebody set forward.
        var ledger = new PartLedger();
        ledger.Count(2, Noon);
        ledger.Record();
        Assert.Null(ledger.Settle());
    }

    [Fact]
    public void Settle_CounterThatDoesNotCount_TellsNothing()
    {
        var ledger = Away(rise: 0);
        ledger.Record();
        Assert.Null(ledger.Settle());
    }

    [Fact]
    public void Settle_PartOfAnOpenCycle_IsKeptForItsRecord()
    {
        var ledger = Away(rise: 2);
        Assert.Equal(1, ledger.Settle(ofOpenCycle: 1)!.Counted);
        ledger.Record();
        ledger.Away(Noon.AddHours(2));
        ledger.Count(0, Noon.AddHours(3));
        Assert.Null(ledger.Settle());
    }

    [Fact]
    public void Settle_TwoTimesAway_AreOne()
    {
        var ledger = Away(rise: 1);
        ledger.Away(Noon.AddHours(2));
        Assert.False(ledger.IsDue);
        ledger.Count(1, Noon.AddHours(3));
        Assert.True(ledger.IsDue);
        Assert.Equal(new UnseenParts(2, true, Noon, Noon.AddHours(3)), ledger.Settle());
    }

    [Fact]
    public void Settle_CounterFellMeanwhile_IsNotWhole_ButOneThatWasResetInViewIs()
    {
        Assert.Equal(new UnseenParts(0, false, Noon, Noon.AddHours(1)), Away(rise: null).Settle());
        var ledger = Away(rise: 1);
        ledger.Count(null, Noon.AddHours(2));
        Assert.Equal(new UnseenParts(1, true, Noon, Noon.AddHours(1)), ledger.Settle());
    }

    [Fact]
    public void Restore_GoesOnWhereSaveLeftIt()
    {
        var ledger = Away(rise: 4);
        ledger.Record();
        var other = new PartLedger();
        other.Restore(ledger.Save());
        Assert.Equal(ledger.Settle(), other.Settle());
    }

    private static PartLedger Away(long? rise)
    {
        var ledger = new PartLedger();
        ledger.Away(Noon);
        ledger.Count(rise, Noon.AddHours(1));
        return ledger;
    }
}
