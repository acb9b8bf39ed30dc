using SawEdge.Core.Blades;
using SawEdge.Core.Tests.Cycles;
using SawEdge.Core.Tests.Load;

namespace SawEdge.Core.Tests.Blades;

/// <summary>Which blade is on the saw, and what each has done. Moments are minutes after the beginning.</summary>
public sealed class BladeShelfTests
{
    private readonly BladeShelf _shelf = new("");

    [Fact]
    public void BladeOf_NobodySpoke_IsWhatTheConfigurationSays()
    {
        Assert.Equal(("", BladeOrigin.AtStart), Of("", 1));
        _shelf.Configured = "C-1";
        Assert.Equal(("C-1", BladeOrigin.Configured), Of("", 2));
    }

    [Fact]
    public void BladeOf_WhoSpokeLast_IsRight()
    {
        var book = Book(Change(20, "by hand"), Change(60, "by hand 2"));
        Assert.Equal(("K-1", BladeOrigin.Controller), Cut("K-1", 10, book));

        // The controller still shows the old blade after a person entered another.
        Assert.Equal(("by hand", BladeOrigin.Operator), Cut("K-1", 30, book));
        Assert.Equal(("K-2", BladeOrigin.Controller), Cut("K-2", 40, book));
        _shelf.Propose("proposed", At(50));
        Assert.Equal(("K-2", BladeOrigin.Controller), Of("K-2", 49, book));
        Assert.Equal(("proposed", BladeOrigin.Proposed), Cut("K-2", 50, book));
        Assert.Equal(("by hand 2", BladeOrigin.Operator), Cut("K-2", 60, book));
        Assert.Equal(("K-3", BladeOrigin.Controller), Cut("K-3", 70, book));
    }

    [Fact]
    public void BladeOf_EntryBeforeTheFirstCut_OverrulesAControllerThatDidNotChange() =>
        Assert.Equal(("by hand", BladeOrigin.Operator), Cut("K-1", 10, Book(Change(5, "by hand"))));

    [Fact]
    public void Mount_SameBlade_IsNoChange()
    {
        Assert.True(_shelf.Mount("A", BladeOrigin.Controller, At(0)));
        Assert.False(_shelf.Mount("A", BladeOrigin.Operator, At(1)));
        Assert.True(_shelf.Mount("B", BladeOrigin.Controller, At(2)));
        Assert.Equal(["A", "B"], _shelf.Accounts.Select(account => account.Blade));
        Assert.Equal([false, true], _shelf.Accounts.Select(account => account.SeenNew));
    }

    [Fact]
    public void Mount_BladeThatComesBack_GoesOnWhereItWas()
    {
        _shelf.Mount("A", BladeOrigin.Operator, At(0));
        Wear(0.1, 200);
        var first = _shelf.Current!;
        _shelf.Mount("B", BladeOrigin.Operator, At(100));
        Wear(0, 50);
        Assert.True(_shelf.Mount("A", BladeOrigin.Operator, At(200)));
        Assert.Equal(first, _shelf.Current);
        Assert.Equal(0.1, _shelf.ExpectedLevel(5).Level, 0.01);
        Wear(0.1, 1);
        Assert.Equal(201, _shelf.Current!.Cuts);
        Assert.Equal(201 * 120, _shelf.Current.AreaCm2!.Value, 1e-6);
        Assert.Equal(["B", "A"], _shelf.Accounts.Select(account => account.Blade));
    }

    [Fact]
    public void ExpectedLevel_NewBlade_IsThatOfTheOthersWhenTheyWereNew()
    {
        _shelf.Mount("old", BladeOrigin.AtStart, At(0));
        Wear(0.2, 10);
        _shelf.Mount("A", BladeOrigin.Operator, At(10));
        Assert.True(_shelf.ExpectedLevel(0.2).Level < 0.2);
        Wear(-0.1, 100);
        Assert.Equal(-0.1, _shelf.Current!.Reference!.Value, 0.01);
        _shelf.Mount("B", BladeOrigin.Operator, At(20));
        Assert.Equal(-0.1, _shelf.ExpectedLevel(0.2).Level, 0.01);
        Wear(-0.04, 100);
        _shelf.Mount("C", BladeOrigin.Operator, At(30));
        Assert.Equal(-0.07, _shelf.ExpectedLevel(0.2).Level, 0.01);
    }

    [Fact]
    public void Add_BladeWhoseBeginningWasNotSeen_IsHeldAgainstTheOthers()
    {
        _shelf.Mount("old", BladeOrigin.AtStart, At(0));
        Wear(0.15, 100);
        Assert.Null(_shelf.Current!.Reference);
        Assert.Null(_shelf.Current.Forecast);
        _shelf.Mount("A", BladeOrigin.Operator, At(10));
        Wear(0, 100);
        _shelf.Mount("old", BladeOrigin.Operator, At(20));
        Wear(0.15, 5);
        Assert.Equal(Math.Exp(0.15) - 1, _shelf.Current!.Forecast!.Rise, 0.01);
    }

    [Fact]
    public void Add_UnknownArea_ClosesTheAccountForGood()
    {
        _shelf.Mount("A", BladeOrigin.Operator, At(0));
        Wear(0, 100);
        Assert.NotNull(_shelf.Current!.Forecast);
        _shelf.Add(null, double.NaN, 0.25, At(1));
        _shelf.Add(120, 0, 0.25, At(2));
        Assert.Equal((null, null), (_shelf.Current.AreaCm2, _shelf.Current.Forecast));
        Assert.Equal(102, _shelf.Current.Cuts);
        Assert.Null(_shelf.AreaSinceNewCm2);
    }

    [Fact]
    public void Mount_ManyBlades_TheOldestIsForgotten()
    {
        for (var i = 0; i <= BladeShelf.MostBlades; i++)
            _shelf.Mount($"blade {i}", BladeOrigin.Controller, At(i));
        Assert.Equal(BladeShelf.MostBlades, _shelf.Accounts.Count);
        Assert.Equal("blade 1", _shelf.Accounts[0].Blade);
    }

    [Fact]
    public void Restore_GoesOnBitForBit()
    {
        var book = Book(Change(20, "by hand"));
        Cut("K-1", 10, book);
        Wear(0.1, 120);
        Cut("K-1", 30, book);
        Wear(0, 120);
        _shelf.Propose("proposed", At(50));
        var again = new BladeShelf("");
        again.Restore([.. _shelf.Accounts.Select(account => account with { Wear = [] })], Stored.Read(_shelf.Save));
        Assert.Equal(Stored.Bytes(_shelf.Save), Stored.Bytes(again.Save));
        foreach (var (blade, at) in ((string, int)[])[("K-1", 40), ("K-1", 55), ("K-2", 60), ("K-1", 70)])
        {
            var (one, two) = (_shelf.BladeOf(blade, At(at), book), again.BladeOf(blade, At(at), book));
            Assert.Equal(one, two);
            Assert.Equal(_shelf.Mount(one.Blade, one.Origin, At(at)), again.Mount(two.Blade, two.Origin, At(at)));
            _shelf.Add(120, 0.05, 0.25, At(at + 1));
            again.Add(120, 0.05, 0.25, At(at + 1));
            Assert.Equal(_shelf.Current! with { Wear = [] }, again.Current! with { Wear = [] });
        }
    }

    [Fact]
    public void Restore_OtherNumberOfAccounts_IsRefused()
    {
        _shelf.Mount("A", BladeOrigin.Operator, At(0));
        Assert.Throws<FormatException>(() => new BladeShelf("").Restore([], Stored.Read(_shelf.Save)));
    }

    private static DateTimeOffset At(double minutes) => SawScript.Epoch.AddMinutes(minutes);

    private static BladeBook Book(params BladeEntry[] entries) => new(entries);

    private static BladeEntry Change(double minutes, string blade) => new(0, "Saw 1", At(minutes), BladeEntryKind.Change, blade);

    private (string Blade, BladeOrigin Origin) Of(string controller, double minutes, BladeBook? book = null) => _shelf.BladeOf(controller, At(minutes), book ?? BladeBook.Empty);

    // As the recorder does at each cut.
    private (string Blade, BladeOrigin Origin) Cut(string controller, double minutes, BladeBook book)
    {
        var of = Of(controller, minutes, book);
        _shelf.Mount(of.Blade, of.Origin, At(minutes));
        return of;
    }

    private void Wear(double residual, int cuts)
    {
        for (var i = 0; i < cuts; i++)
            _shelf.Add(120, residual, 0.25, At(i));
    }
}
