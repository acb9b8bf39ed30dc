using Microsoft.Extensions.Logging;
using Microsoft.Extensions.Time.Testing;
using SawEdge.Gateway.Commands.Commissioning;

namespace SawEdge.Gateway.Tests.Commands.Commissioning;

/// <summary>What the sources say, kept while it holds.</summary>
public sealed partial class TroublesTests
{
    private readonly FakeTimeProvider _time = new(new DateTimeOffset(2026, 3, 2, 6, 0, 0, TimeSpan.Zero));

    [Fact]
    public void Now_TroubleThatEnds_IsGoneAndItsEndIsShownForAWhile()
    {
        using var troubles = new Troubles(_time);
        var logger = troubles.CreateLogger("x");
        Begins(logger, "plc", "it was refused");
        Begins(logger, "other", "it was refused");
        Starts(logger, "plc");
        Assert.Equal(["Device plc is away: it was refused.", "Device other is away: it was refused."], troubles.Now.Select(said => said.Text));

        Ends(logger, "plc", 4);
        Assert.Equal([("Device other is away: it was refused.", false), ("Device plc is back after 4 s.", true)], troubles.Now.Select(said => (said.Text, said.IsOver)));
        _time.Advance(Troubles.ShownAfterTheEnd + TimeSpan.FromSeconds(1));
        Assert.Equal("Device other is away: it was refused.", Assert.Single(troubles.Now).Text);
        Assert.Equal(2, troubles.Said);
    }

    [Fact]
    public void Now_SameTroubleAgain_IsKeptOnce()
    {
        using var troubles = new Troubles(_time);
        var logger = troubles.CreateLogger("x");
        for (var i = 0; i < 1000; i++)
            Begins(logger, "plc", $"for the {i}th time");
        Assert.Equal("Device plc is away: for the 999th time.", Assert.Single(troubles.Now).Text);
    }

    [Fact]
    public void Now_ManyTroubles_AreBounded()
    {
        using var troubles = new Troubles(_time);
        var logger = troubles.CreateLogger("x");
        for (var i = 0; i < 1000; i++)
            Begins(logger, $"plc-{i}", new string('x', 10_000));
        Assert.Equal(16, troubles.Now.Count);
        Assert.All(troubles.Now, said => Assert.InRange(said.Text.Length, 1, 600));
    }

    [Fact]
    public void Now_HostileText_IsCleaned()
    {
        using var troubles = new Troubles(_time);
        Begins(troubles.CreateLogger("x"), "plc", "\u001b[2J\u0007\u009b31m\u202Eevil\r\nline");
        Assert.Equal("Device plc is away: [2J31mevilline.", Assert.Single(troubles.Now).Text);
    }

    [LoggerMessage(2101, LogLevel.Warning, "Device {Device} is away: {Reason}.")]
    private static partial void Begins(ILogger logger, string device, string reason);

    [LoggerMessage(2102, LogLevel.Information, "Device {Device} is back after {Seconds} s.")]
    private static partial void Ends(ILogger logger, string device, double seconds);

    [LoggerMessage(2109, LogLevel.Information, "Device {Device} is polled.")]
    private static partial void Starts(ILogger logger, string device);
}
