using System.Globalization;
using Microsoft.Extensions.Logging.Abstractions;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition.Recordings;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Tests.Acquisition.Recordings;

/// <summary>A process that records until it is killed, and prints how many frames should be safe.</summary>
internal static class RecordingProcess
{
    public static async Task RunAsync(string folder)
    {
        using var sink = new RecordingSink(new RecordOptions { Folder = folder }, [Signal.MotorLoad, Signal.Job], TimeProvider.System, NullLogger<RecordingSink>.Instance);
        var run = sink.RunAsync(CancellationToken.None);
        using var pace = new PeriodicTimer(TimeSpan.FromMilliseconds(5));
        for (var i = 0; await pace.WaitForNextTickAsync(); i++)
        {
            var frame = new SignalFrame(DateTimeOffset.UnixEpoch.AddMilliseconds(i));
            frame.Set(Signal.MotorLoad, i);
            frame.Set(Signal.Job, "J-1");
            sink.Offer("saw-1", in frame);
            if (i % 20 == 0)
                await Console.Out.WriteLineAsync(string.Create(CultureInfo.InvariantCulture, $"{sink.Recorded}"));
        }

        await run;
    }
}
