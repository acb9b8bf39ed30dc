using Microsoft.Extensions.Time.Testing;
using SawEdge.Gateway.Acquisition.Mqtt;

namespace SawEdge.Gateway.Tests.Acquisition.Mqtt;

public class FrameTimesTests
{
    private static readonly DateTimeOffset Start = new(2026, 3, 2, 6, 0, 0, TimeSpan.Zero);

    private readonly FakeTimeProvider _time = new(Start);
    private readonly FrameTimes _times;

    public FrameTimesTests() => _times = new FrameTimes(_time);

    [Fact]
    public void Judge_RisingTimes_Follow() => Assert.Equal([true, true, true], new[] { 0.0, 0.1, 50 }.Select(Takes));

    [Fact]
    public void Judge_ARepeatedRush_IsLeftOut()
    {
        for (var i = 0; i < 100; i++)
            Takes(i);
        Assert.DoesNotContain(true, Enumerable.Range(0, 100).Select(i => Takes(i)));
        Assert.True(Takes(100));
    }

    [Fact]
    public void Judge_HeldBackFramesBetweenThoseOfThePresent_AreLeftOut()
    {
        Takes(1000);
        for (var i = 1; i <= 200; i++)
        {
            _time.Advance(TimeSpan.FromMilliseconds(100));
            Assert.True(Takes(1000 + (0.1 * i)));
            for (var late = 0; late < 5; late++)
                Assert.False(Takes(i + (0.2 * late)));
        }
    }

    [Fact]
    public void Judge_ClockSetBack_CountsAgainAfterTheProof()
    {
        Takes(3600);
        var taken = new List<double>();
        for (var i = 0; i < 40; i++)
        {
            _time.Advance(TimeSpan.FromMilliseconds(100));
            if (Takes(i * 0.1))
                taken.Add(i * 0.1);
        }

        Assert.Equal(FrameTimes.Proof.TotalSeconds, taken[0], 3);
        Assert.Equal(20, taken.Count);
    }

    [Fact]
    public void Judge_ClockSetBackOfASawThatPublishesEachMinute_CountsAgainAtTheThird()
    {
        Takes(3600);
        var taken = Enumerable.Range(0, 4).Select(i =>
        {
            _time.Advance(TimeSpan.FromMinutes(1));
            return Takes(60 * i);
        });
        Assert.Equal([false, false, true, true], taken);
    }

    private bool Takes(double seconds)
    {
        var frame = Start.AddSeconds(seconds);
        if (_times.Judge(frame, _time.GetTimestamp()) == FrameTurn.Behind)
            return false;
        _times.Last = frame;
        return true;
    }
}
