using System.Diagnostics;
using System.Globalization;
using Microsoft.Extensions.Logging.Abstractions;
using MQTTnet;
using MQTTnet.Protocol;
using SawEdge.Core.Cutting;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition;
using SawEdge.Gateway.Acquisition.Mqtt;
using SawEdge.Gateway.Configuration;
using SawEdge.TestSupport;

namespace SawEdge.Benchmarks.Mqtt;

/// <summary>
/// Messages a second that the gateway's MQTT source takes, decoded to frames in the inboxes of ten saws which are emptied meanwhile,
/// beside a bare subscriber of the same library that only counts: same broker (mosquitto), same topics, same publisher in a process
/// of its own. The two take turns. Also the processor time of this process for each message.
/// </summary>
public static class MqttSpeed
{
    private const int Rounds = 7;
    private static readonly TimeSpan Warm = TimeSpan.FromSeconds(1);

    /// <summary>Runs the comparison and prints it.</summary>
    /// <param name="seconds">Length of one measurement.</param>
    /// <param name="output">Takes the table.</param>
    public static async Task RunAsync(int seconds, TextWriter output)
    {
        foreach (var quality in new[] { 0, 1 })
        {
            await using var broker = await MosquittoBroker.StartAsync(null, "log_type error");
            await using var publisher = Peer.Start("dotnet", [typeof(MqttSpeed).Assembly.Location, "mqtt-publish", Text(broker.Port), Text(quality)]);
            output.WriteLine(Say($"quality of service {quality}, {RawPublisher.PayloadBytes} bytes:"));
            output.WriteLine("round   bare messages/s  CPU us   SawEdge messages/s  CPU us   ratio");
            var (bare, own) = (new List<Figure>(), new List<Figure>());
            for (var round = 0; round <= Rounds; round++)
            {
                var theirs = await BareAsync(broker.Port, quality, seconds);
                var ours = await SourceAsync(broker.Port, quality, seconds);
                if (publisher.HasExited)
                    throw new InvalidOperationException($"The publisher has ended:\n{publisher.Output}");
                if (round == 0)
                    continue; // Warms both up.
                bare.Add(theirs);
                own.Add(ours);
                output.WriteLine(Say($"{round,5}   {theirs.PerSecond,15:0}  {theirs.Microseconds,6:0.0}   {ours.PerSecond,18:0}  {ours.Microseconds,6:0.0}   {ours.PerSecond / theirs.PerSecond,5:0.00}"));
            }

            var ratios = own.Zip(bare, (our, their) => our.PerSecond / their.PerSecond).ToList();
            output.WriteLine(Say($"median: bare {Median(bare.Select(figure => figure.PerSecond)):0}/s, SawEdge {Median(own.Select(figure => figure.PerSecond)):0}/s, ratio {Median(ratios):0.00} (from {ratios.Min():0.00} to {ratios.Max():0.00}); CPU {Median(bare.Select(figure => figure.Microseconds)):0.0} and {Median(own.Select(figure => figure.Microseconds)):0.0} us a message; {Environment.ProcessorCount} processors"));
        }
    }

    private static async Task<Figure> BareAsync(int port, int quality, int seconds)
    {
        using var client = new MqttClientFactory().CreateMqttClient();
        var messages = 0L;
        client.ApplicationMessageReceivedAsync += _ =>
        {
            Interlocked.Increment(ref messages);
            return Task.CompletedTask;
        };
        await client.ConnectAsync(new MqttClientOptionsBuilder().WithTcpServer("127.0.0.1", port).WithClientId("bare").WithProtocolVersion(MQTTnet.Formatter.MqttProtocolVersion.V500).Build());
        await client.SubscribeAsync("bench/+/frame", (MqttQualityOfServiceLevel)quality);
        var figure = await MeasureAsync(() => Interlocked.Read(ref messages), seconds);
        await client.TryDisconnectAsync();
        return figure;
    }

    private static async Task<Figure> SourceAsync(int port, int quality, int seconds)
    {
        var saws = Enumerable.Range(0, RawPublisher.Saws).Select(i => (Saw(i), new SawInbox(Text(i)))).ToList();
        var source = new MqttBrokerSource(
            new MqttBrokerOptions { Name = "bench", Host = "127.0.0.1", Port = port, ClientId = "own" },
            saws,
            new FrameClock(TimeProvider.System),
            TimeProvider.System,
            NullLogger<MqttBrokerSource>.Instance);
        using var stop = new CancellationTokenSource();
        var run = source.RunAsync(stop.Token);
        var readers = saws.Select(saw => EmptyAsync(saw.Item2)).ToList();
        await Until.TrueAsync(() => source.IsListening, "the broker is listened to");
        var figure = await MeasureAsync(() => saws.Sum(saw => saw.Item2.Offered), seconds);
        await stop.CancelAsync();
        await run;
        await Task.WhenAll(readers);
        if (saws.Any(saw => saw.Item2.Lost > 0))
            throw new InvalidOperationException("The inboxes were not emptied in time.");
        return figure;
    }

    private static async Task EmptyAsync(SawInbox inbox)
    {
        while (await inbox.Frames.WaitToReadAsync())
        {
            while (inbox.Frames.TryRead(out _))
            {
            }
        }
    }

    private static async Task<Figure> MeasureAsync(Func<long> messages, int seconds)
    {
        using var process = Process.GetCurrentProcess();
        await Task.Delay(Warm);
        process.Refresh();
        var (before, cpu, start) = (messages(), process.TotalProcessorTime, Stopwatch.GetTimestamp());
        await Task.Delay(TimeSpan.FromSeconds(seconds));
        process.Refresh();
        var count = messages() - before;
        return new Figure(count / Stopwatch.GetElapsedTime(start).TotalSeconds, (process.TotalProcessorTime - cpu).TotalMicroseconds / Math.Max(count, 1));
    }

    private static SawOptions Saw(int number) => new()
    {
        Machine = new SawMachine { Name = Text(number) },
        Source = new MqttSourceOptions
        {
            Broker = "bench",
            FrameTopic = RawPublisher.Topic(number),
            FrameTemplate = "bench/{saw}/frame",
            TimeMember = "time",
            Signals = [.. new[] { Signal.HeadPosition, Signal.MotorLoad, Signal.BladeSpeed, Signal.Cutting, Signal.CycleActive, Signal.PartCount, Signal.Job }.Select(signal => new MqttMapping { Signal = signal, Member = SignalInfo.Of(signal).Name })],
        },
        Interval = TimeSpan.FromMilliseconds(100),
    };

    private static string Text(int number) => number.ToString(CultureInfo.InvariantCulture);

    private static string Say(FormattableString text) => text.ToString(CultureInfo.InvariantCulture);

    private static double Median(IEnumerable<double> values)
    {
        var sorted = values.Order().ToList();
        return (sorted[(sorted.Count - 1) / 2] + sorted[sorted.Count / 2]) / 2;
    }

    private sealed record Figure(double PerSecond, double Microseconds);
}
