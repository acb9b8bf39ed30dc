using System.Globalization;
using System.Net;
using System.Net.Sockets;
using SawEdge.Core.Cutting;
using SawEdge.Core.Cycles;
using SawEdge.Core.Materials;
using SawEdge.Core.Signals;
using SawEdge.Simulator.Demo;
using SawEdge.Simulator.Saws;
using SawEdge.Simulator.Tests.Mqtt;
using SawEdge.Simulator.Tests.Saws;
using SawEdge.Simulator.Time;
using SawEdge.TestSupport;

namespace SawEdge.Simulator.Tests.Demo;

public sealed class PlantTests
{
    private static readonly Plant Plant = Plant.Create(Make.Start);

    [Fact]
    public void JobList_IsReadByTheJobBook_WithoutAnError()
    {
        var parse = JobBook.Parse(Plant.JobList, MaterialCatalogue.BuiltIn);
        Assert.Empty(parse.Errors);
        Assert.Equal(6, parse.Book.Count);
        foreach (var job in Plant.Saws.SelectMany(saw => saw.Options.Jobs))
        {
            var found = parse.Book.Find(job.Id)!;
            Assert.Equal(job.Section.AreaCm2, found.Section.AreaCm2, 1e-9);
            Assert.Equal(job.PartLengthMm, found.PartLengthMm);
            Assert.Equal(job.Material.Name, found.Material.Name);
        }
    }

    [Fact]
    public void Cuts_OfEverySaw_ComeNearTheStandardTime()
    {
        var book = JobBook.Parse(Plant.JobList, MaterialCatalogue.BuiltIn).Book;
        foreach (var saw in Plant.Create(Make.Start, withFaults: false).Saws)
        {
            foreach (var truth in VirtualSawTests.Cycles(new VirtualSaw(saw.Options), 60).Where(truth => truth.Outcome == CutOutcome.Completed))
            {
                var standard = CuttingModel.Standard(book.Find(truth.ControllerJob)!, saw.Options.Machine.ToSawMachine(), truth.Job.BladeSpeedMMin);
                Assert.InRange(truth.CutTimeS!.Value / standard.CutSeconds, 0.85, 1.25);
            }
        }
    }

    [Fact]
    public void Load_OfEverySaw_StaysWithinItsMotor()
    {
        foreach (var saw in Plant.Saws)
        {
            var machine = saw.Options.Machine;
            foreach (var truth in VirtualSawTests.Cycles(new VirtualSaw(saw.Options), 60).Where(truth => truth.EnergyKj > 0))
            {
                var mean = truth.EnergyKj / truth.CutTimeS!.Value;
                Assert.InRange(mean, 0.1, machine.RatedPowerKw);
            }
        }
    }

    [Fact]
    public void FirstFinishedCut_ComesWithinSecondsOfTheWallClock()
    {
        foreach (var saw in Plant.Saws)
        {
            var first = new VirtualSaw(saw.Options).Truth;
            Assert.True((first.Ended - Plant.Start).TotalSeconds / Plant.SuggestedSpeed < 20, $"{saw.Name}: {first.Ended - Plant.Start}");
        }
    }

    /// <summary>How the demo sees time: who polls takes its timer and its frames' time from the clock that the saws run by.</summary>
    [Fact]
    public async Task Poller_OnTheSameClock_GetsTheSawOfThatVirtualTime()
    {
        var clock = new ScaledTimeProvider(TimeProvider.System, 20, Plant.Start);
        await using var running = RunningPlant.Start(Plant, clock, "127.0.0.1", Peer.FreePort(), Plant.SuggestedInterval);
        using var client = new TcpClient();
        await client.ConnectAsync(IPAddress.Loopback, running.Device.Port);
        var stream = client.GetStream();
        var twin = new VirtualSaw(Plant.Saws[0].Options with { Noise = NoiseModel.None with { BarSigma = 0.025, CutSigma = 0.012, PaceSigma = 0.012, HandlingSigma = 0.03 } });

        using var pace = new PeriodicTimer(TimeSpan.FromMilliseconds(500), clock);
        var answer = new byte[11];
        var moved = new HashSet<int>();
        for (var i = 0; i < 60; i++)
        {
            await pace.WaitForNextTickAsync();
            var before = clock.GetUtcNow();
            await stream.WriteAsync(Convert.FromHexString("000100000006010300000001"));
            await stream.ReadExactlyAsync(answer);
            var after = clock.GetUtcNow();
            var head = (short)((answer[9] << 8) | answer[10]) / 10.0;
            moved.Add((int)head);
            // The head only falls in this stretch of the first cycle; 0.3 mm for the sensor's noise and step.
            twin.TrySample(before, out var from);
            twin.TrySample(after, out var to);
            if (after > twin.Truth.Breakthrough)
                break;
            Assert.InRange(head, to.Number(Signal.HeadPosition) - 0.3, from.Number(Signal.HeadPosition) + 0.3);
        }

        Assert.True(clock.GetUtcNow() - Plant.Start > TimeSpan.FromSeconds(25), "60 polls of 500 ms pass in virtual time");
        Assert.True(moved.Count > 5, "the head has moved");
    }

    [PeerFact("mosquitto", "mbpoll", "mosquitto_sub")]
    public async Task RunningPlant_CanBeReadFromOutside_OverBothProtocols()
    {
        using var folder = new TempFolder();
        var port = Peer.FreePort();
        await using var broker = await MqttPublisherTests.BrokerAsync(folder, port);
        var clock = new ScaledTimeProvider(TimeProvider.System, Plant.SuggestedSpeed, Plant.Start);
        await using var running = RunningPlant.Start(Plant, clock, "127.0.0.1", port, Plant.SuggestedInterval);
        string[] device = ["-1", "-m", "tcp", "-p", running.Device.Port.ToString(CultureInfo.InvariantCulture)];

        // The blade comes up to speed within the first cycle of the first saw: register 1 of unit 1, in 0.1 m/min.
        await Until.TrueAsync(
            async () => (await Peer.RunAsync("mbpoll", [.. device, "-a", "1", "-t", "4", "-r", "2", "127.0.0.1"])).Output is var output
                && output.Split('\n').FirstOrDefault(line => line.StartsWith("[2]:", StringComparison.Ordinal)) is { } line
                && int.Parse(line[4..].Trim(), CultureInfo.InvariantCulture) > 300,
            "the blade of the first saw runs");
        var (code, message) = await Peer.RunAsync("mosquitto_sub", ["-h", "127.0.0.1", "-p", port.ToString(CultureInfo.InvariantCulture), "-t", "ostrey-bight/saws/yard", "-C", "1"]);
        Assert.Equal(0, code);
        Assert.Contains("\"job\":\"OB-3302\"", message, StringComparison.Ordinal);
        await Until.TrueAsync(() => running.Saws.Any(saw => saw.TakeFinished().Count > 0), "a cycle ends");
    }
}
