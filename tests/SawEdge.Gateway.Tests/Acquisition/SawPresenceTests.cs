using Microsoft.Extensions.Time.Testing;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Acquisition;

public sealed class SawPresenceTests
{
    private readonly FakeTimeProvider _time = new();
    private readonly SawPresence _presence;

    public SawPresenceTests() => _presence = new SawPresence("saw-1", [Signal.MotorLoad, Signal.HeadPosition, Signal.Job], TimeSpan.FromMilliseconds(100), _time);

    [Fact]
    public void Silence_NeverHeard_IsAtLeastTheTimeSinceTheStart()
    {
        _time.Advance(TimeSpan.FromSeconds(42));
        Assert.Equal((42, true), _presence.Silence);
        Assert.True(double.IsNaN(_presence.Stale.Seconds));
    }

    [Fact]
    public void Silence_CountsFromTheLastFrameWithAUsableValue_WhateverTimeTheFrameCarries()
    {
        Take(load: 1, head: 2, at: DateTimeOffset.UnixEpoch);
        _time.Advance(TimeSpan.FromSeconds(5));
        Take(load: null, head: null);
        Assert.Equal((5, false), _presence.Silence);
        Assert.True(double.IsNaN(_presence.Stale.Seconds));
        Take(load: null, head: 3);
        Assert.Equal((0, false), _presence.Silence);
    }

    [Fact]
    public void Silence_OfASawThatPublishesChanges_BeginsWhenItsSourceIsLost()
    {
        var presence = new SawPresence("saw-1", [Signal.MotorLoad], TimeSpan.FromMilliseconds(100), _time, publishesChanges: true);
        _time.Advance(TimeSpan.FromSeconds(3));
        Assert.Equal((3, true), presence.Silence);
        var frame = new SignalFrame(_time.GetUtcNow());
        frame.Set(Signal.MotorLoad, 1.5);
        presence.Take(frame);
        _time.Advance(TimeSpan.FromHours(12));
        Assert.Equal((0, false), presence.Silence);

        // The broker is gone: what the saw does now is not known, from now on.
        frame.Mark(Signal.MotorLoad, SignalQuality.SourceFault);
        presence.Take(frame);
        _time.Advance(TimeSpan.FromSeconds(7));
        Assert.Equal((7, false), presence.Silence);
    }

    [Fact]
    public void Stale_ASignalThatWasThereIsGone_CountsWhileFramesCome_AndNamesIt()
    {
        Take(load: 1, head: 2, job: "J");
        Assert.Equal((0, false), _presence.Stale);
        for (var i = 0; i < 30; i++)
        {
            _time.Advance(TimeSpan.FromSeconds(1));
            Take(load: null, head: 2, job: "J");
        }

        Assert.Equal((30, false), _presence.Stale);
        Assert.Equal([Signal.MotorLoad], _presence.Missing);
        Take(load: 1, head: 2);
        Assert.Equal((0, false), _presence.Stale);
    }

    [Fact]
    public void Stale_AnEmptyText_IsNoTrouble_ButARefusedOneIs()
    {
        Take(load: 1, head: 2, job: "J");
        _time.Advance(TimeSpan.FromSeconds(60));
        Take(load: 1, head: 2, job: "");
        Assert.Equal((0, false), _presence.Stale);
        _time.Advance(TimeSpan.FromSeconds(5));
        var frame = Frame(1, 2, "");
        frame.Mark(Signal.Job, SignalQuality.SourceFault);
        _presence.Take(frame);
        Assert.Equal((5, false), _presence.Stale);
    }

    [Fact]
    public void Stale_AfterASilence_EverySignalHasItsTimeAgain()
    {
        Take(load: 1, head: 2);
        _time.Advance(TimeSpan.FromHours(1));
        Take(load: null, head: 2);
        Assert.Equal(0, _presence.Stale.Seconds);
        _time.Advance(TimeSpan.FromSeconds(7));
        Take(load: null, head: 2);
        Assert.Equal((7, false), _presence.Stale);
    }

    // After a restart a signal that is missing may have been there before: that all is well can not be said yet.
    [Fact]
    public void Stale_ASignalThatNeverCameSinceTheStart_IsNotKnownToBeWell_UntilTheSawIsKnown()
    {
        Take(load: null, head: 2);
        Assert.Equal((0, true), _presence.Stale);
        _time.Advance(SawPresence.Acquaintance);
        Take(load: null, head: 2);
        Assert.Equal((0, false), _presence.Stale);
    }

    [Fact]
    public void Take_AllocatesNothing()
    {
        var frame = Frame(1, 2, "J");
        Assert.Equal(0, Allocations.Of(() =>
        {
            for (var i = 0; i < 1000; i++)
                _presence.Take(frame);
        }));
    }

    private void Take(double? load, double? head, string job = "", DateTimeOffset? at = null) => _presence.Take(Frame(load, head, job, at));

    private SignalFrame Frame(double? load, double? head, string job, DateTimeOffset? at = null)
    {
        var frame = new SignalFrame(at ?? _time.GetUtcNow());
        frame.Set(Signal.Job, job);
        Set(ref frame, Signal.MotorLoad, load);
        Set(ref frame, Signal.HeadPosition, head);
        return frame;
    }

    private static void Set(ref SignalFrame frame, Signal signal, double? value)
    {
        if (value is { } known)
            frame.Set(signal, known);
        else
            frame.Mark(signal, SignalQuality.SourceFault);
    }
}
