using SawEdge.EndToEnd.Tests.Support;
using SawEdge.Simulator.Faults;
using SawEdge.Simulator.Modbus;
using SawEdge.Simulator.Saws;
using SawEdge.TestSupport;

namespace SawEdge.EndToEnd.Tests;

/// <summary>
/// <c>kill -9</c> while three saws are in their cuts and a fourth has just finished one; then a start. Meanwhile the first saw
/// stayed in its cut, the second finished and counted it, the third was stopped and its head raised.
/// </summary>
public sealed class PowerCutStory : IAsyncLifetime, IDisposable
{
    private readonly Dictionary<string, (VirtualSawOptions Options, SawClock Clock, LiveSaw Live)> _saws = [];
    private readonly GatewayFolder _folder = new();
    private InfluxServer? _influx;

    internal HistoryFile History => _folder.History;

    internal InfluxServer Influx => _influx!;

    internal GatewayProcess? Second { get; private set; }

    internal IReadOnlyList<CycleRow> BeforeTheKill { get; private set; } = [];

    internal string IntegrityAfterTheKill { get; private set; } = "";

    internal int ExitCode { get; private set; } = -1;

    internal TimeSpan Away { get; private set; }

    /// <summary>The truth of a saw's first cycle, and when on the wall that was.</summary>
    internal (SawTruth Truth, SawClock Clock) Of(string saw) => (new VirtualSaw(_saws[saw].Options).Truth, _saws[saw].Clock);

    public async Task InitializeAsync()
    {
        // Without these programs every test of the class is skipped.
        if (Peer.Find(InfluxServer.Program) is null || Peer.Find(HistoryFile.Program) is null)
            return;
        Add("stays", 21);
        Add("counted", 22);
        Add("stopped", 23, new EmergencyStop(FaultTrigger.AtCycle(1), 0.8, 5));
        Add("done", 24);
        _influx = await InfluxServer.StartAsync("plant");
        await using var device = ModbusTcpServer.Start(_saws.Values.Select((saw, i) => (saw, i)).ToDictionary(pair => (byte)(pair.i + 1), pair => new ModbusUnit(pair.saw.Live, RegisterLayout.Plain)));
        _folder.WithDevice("plc", device.Port).WithInflux1(_influx, "plant");
        foreach (var (name, i) in _saws.Keys.Select((name, i) => (name, i)))
            _folder.WithSaw(name, "plc", i + 1);

        await using (var first = _folder.Start())
        {
            await first.UntilAsync(() => device.Requests > 0, "the gateway polls");
            foreach (var (_, clock, _) in _saws.Values)
                clock.Release();
            string[] cut = ["stays", "counted", "stopped"];
            foreach (var saw in cut)
                await first.UntilAsync(() => IsAbove(saw, SmallSaw.HeightMm - 4) is false, $"{saw} is in its cut");
            foreach (var saw in cut)
                _saws[saw].Clock.Hold();

            // What is stored from now on holds the contact.
            var parts = cut.ToDictionary(saw => saw, saw => History.LastOpenPart(saw) ?? 0);
            await first.UntilAsync(() => cut.All(saw => History.LastOpenPart(saw) > parts[saw]), "the frames of the open cuts are stored");
            await first.UntilAsync(() => History.Cycles("done").Count == 1, "the fourth saw's cycle is in the history");
            BeforeTheKill = History.Cycles();
            await first.KillAsync();
        }

        var killed = TimeProvider.System.GetTimestamp();
        IntegrityAfterTheKill = await History.IntegrityAsync();
        _saws["counted"].Clock.JumpTo(Of("counted").Truth.Ended.AddSeconds(1));
        _saws["stopped"].Clock.JumpTo(new VirtualSaw(_saws["stopped"].Options).TurnEnd.AddSeconds(-3));
        foreach (var saw in (string[])["counted", "stopped", "done"])
            _saws[saw].Clock.Hold();

        // Longer than what the detector still takes for two neighbouring frames.
        await Until.TrueAsync(() => TimeProvider.System.GetElapsedTime(killed) > TimeSpan.FromSeconds(5), "the power was away for a while");
        var asked = device.Requests;
        Second = _folder.Start();
        await Second.UntilAsync(() => device.Requests > asked, "the gateway polls again");
        Away = TimeProvider.System.GetElapsedTime(killed);
        _saws["stays"].Clock.Release();
        await Second.UntilAsync(() => History.Cycles().Count >= 4, "all four cycles are in the history");
        await Delivered.AllAsync(Second, _influx, "plant", 4);
        ExitCode = await Second.EndAsync();
    }

    public async Task DisposeAsync()
    {
        if (Second is not null)
            await Second.DisposeAsync();
        if (_influx is not null)
            await _influx.DisposeAsync();
    }

    public void Dispose() => _folder.Dispose();

    private void Add(string name, ulong seed, params Fault[] faults)
    {
        var options = SmallSaw.Named(name, seed, faults);

        // The saw that has finished a cycle waits before its next one, however long this machine takes to end the gateway.
        var clock = new SawClock(held: true) { StopsAt = name == "done" ? new VirtualSaw(options).Truth.Ended.AddSeconds(1) : DateTimeOffset.MaxValue };
        _saws.Add(name, (options, clock, new LiveSaw(new VirtualSaw(options), clock)));
    }

    private bool? IsAbove(string saw, double heightMm) =>
        _saws[saw].Live.TryRead(out var frame) ? frame.Number(Core.Signals.Signal.HeadPosition) > heightMm : null;
}

/// <inheritdoc cref="PowerCutStory"/>
public sealed class PowerCutTests(PowerCutStory story) : IClassFixture<PowerCutStory>
{
    private static readonly TimeSpan Sampling = TimeSpan.FromMilliseconds(400);

    [PeerFact(InfluxServer.Program, HistoryFile.Program)]
    public void SawStillInTheSameCut_IsOneCompletedRecord_AndCoverageTellsTheGap()
    {
        var cycle = Assert.Single(story.History.Cycles("stays"));
        var (truth, clock) = story.Of("stays");
        Assert.Equal("completed", cycle.Outcome);
        Assert.Equal(SmallSaw.Job, cycle.Text("job"));
        Near(clock.WallOf(truth.Contact!.Value), cycle.Time("cut_started_at"));
        Near(clock.WallOf(truth.Breakthrough!.Value), cycle.Time("cut_ended_at"));
        Assert.Equal(truth.PartCount, cycle.Whole("part_count"));

        // Frames were due all through the cut, and none came while the gateway was away; what it had not stored yet is gone too.
        var seen = 1 - (story.Away.TotalSeconds / cycle.Number("cut_time_s"));
        Assert.InRange(cycle.Number("coverage"), 0.05, seen + 0.05);
    }

    [PeerFact(InfluxServer.Program, HistoryFile.Program)]
    public void CutEndedMeanwhileAndWasCounted_IsAnUnobservedEnd()
    {
        var cycle = Assert.Single(story.History.Cycles("counted"));
        var (truth, clock) = story.Of("counted");
        Assert.Equal("unobserved_end", cycle.Outcome);
        Assert.Equal("frames broke off in the cut; the part counter rose meanwhile", cycle.Text("notes"));
        Near(clock.WallOf(truth.Contact!.Value), cycle.Time("cut_started_at"));
        Assert.Equal(truth.PartCount, cycle.Whole("part_count"));

        // Nothing that was not seen.
        Assert.False(cycle.IsKnown("cut_ended_at"));
        Assert.False(cycle.IsKnown("cut_time_s"));
        Assert.False(cycle.IsKnown("cut_time_ratio"));
    }

    [PeerFact(InfluxServer.Program, HistoryFile.Program)]
    public void SawStandsOutsideTheCutAndCountedNothing_IsInterrupted()
    {
        var cycle = Assert.Single(story.History.Cycles("stopped"));
        Assert.Equal("interrupted", cycle.Outcome);
        Assert.Equal("frames broke off in the cut; afterwards the saw stood outside it and the part counter had not risen", cycle.Text("notes"));
        Assert.Equal(1200, cycle.Whole("part_count"));
        Assert.False(cycle.IsKnown("cut_ended_at"));
        Assert.False(cycle.IsKnown("cut_time_s"));
    }

    [PeerFact(InfluxServer.Program, HistoryFile.Program)]
    public void WhatWasAcknowledgedBeforeTheKill_StandsUnchanged()
    {
        var before = Assert.Single(story.BeforeTheKill);
        Assert.Equal(before.ToString(), Assert.Single(story.History.Cycles("done")).ToString());
        Assert.Equal("completed", before.Outcome);
    }

    [PeerFact(InfluxServer.Program, HistoryFile.Program)]
    public async Task TheHistoryIsConsistent_AndTheServerHasExactlyIt()
    {
        Assert.Equal("ok", story.IntegrityAfterTheKill);
        Assert.Equal("ok", await story.History.IntegrityAsync());
        Assert.Equal(4, story.History.Cycles().Select(cycle => cycle.Id).Distinct().Count());
        Assert.Equal(4, story.History.Cycles().Count);
        await Delivered.IsTheHistoryAsync(story.Influx, "plant", story.History);
    }

    [PeerFact(InfluxServer.Program, HistoryFile.Program)]
    public void TheStartAfterIt_SaysOnceWhatHappened_AndEndsClean()
    {
        Assert.Equal(1, story.Second!.Count(3503));
        Assert.Equal(3, story.Second.Count(3001));
        Assert.Equal(0, story.ExitCode);
    }

    private static void Near(DateTimeOffset? truth, DateTimeOffset? found)
    {
        Assert.NotNull(truth);
        Assert.NotNull(found);
        Assert.True((found.Value - truth.Value).Duration() < Sampling, $"{(found.Value - truth.Value).TotalMilliseconds:0} ms off");
    }
}
