using System.CommandLine;
using System.Globalization;
using Microsoft.Extensions.Logging;
using SawEdge.Core;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Hosting;
using SawEdge.Simulator.Demo;
using SawEdge.Simulator.Time;

namespace SawEdge.Gateway.Commands.Demo;

/// <summary>
/// <c>demo</c>: a virtual plant, and the gateway in front of it as it would stand in front of a real one: its own
/// configuration file, job list, history. The only place that knows the simulator.
/// </summary>
internal static class DemoCommand
{
    /// <summary>Builds the command.</summary>
    public static Command Create()
    {
        var seconds = new Option<double?>("--for") { Description = "End after so many seconds of the wall clock; otherwise Ctrl+C ends it.", HelpName = "SECONDS" };
        var speed = new Option<double?>("--speed") { Description = "Virtual seconds in a second of the wall clock, 1 to 20; 10 unless told.", HelpName = "FACTOR" };
        var data = new Option<string?>("--data") { Description = "Folder for the demo's files; a new temporary one unless told.", HelpName = "FOLDER" };
        var command = new Command("demo", "Start three virtual saws and the gateway in front of them, and print each finished cut.") { seconds, speed, data };
        command.SetAction(async (arguments, cancellation) =>
        {
            var error = arguments.InvocationConfiguration.Error;
            if (arguments.GetValue(speed) is < 1 or > 20 or double.NaN)
            {
                await error.WriteLineAsync("--speed: a factor from 1 to 20 is wanted; beyond that a poll takes longer than its interval.");
                return ExitCodes.WrongInput;
            }

            using var end = CancellationTokenSource.CreateLinkedTokenSource(cancellation);
            if (arguments.GetValue(seconds) is { } limit)
            {
                if (!(limit > 0 && limit < 1e6))
                {
                    await error.WriteLineAsync("--for: a number of seconds above 0 is wanted.");
                    return ExitCodes.WrongInput;
                }

                end.CancelAfter(TimeSpan.FromSeconds(limit));
            }

            var folder = arguments.GetValue(data) is { } named ? Directory.CreateDirectory(named).FullName : Directory.CreateTempSubdirectory("sawedge-demo-").FullName;
            return await RunAsync(folder, arguments.GetValue(speed), arguments.InvocationConfiguration.Output, end.Token);
        });
        return command;
    }

    private static async Task<int> RunAsync(string folder, double? speed, TextWriter output, CancellationToken cancellation)
    {
        var now = TimeProvider.System.GetUtcNow();
        var plant = Plant.Create(new DateTimeOffset(now.Year, now.Month, now.Day, now.Hour, now.Minute, now.Second, TimeSpan.Zero));
        var factor = speed ?? plant.SuggestedSpeed;
        var clock = new ScaledTimeProvider(TimeProvider.System, factor, plant.Start);
        await using var broker = await EmbeddedBroker.StartAsync();
        await using var running = RunningPlant.Start(plant, clock, "127.0.0.1", broker.Port, plant.SuggestedInterval);

        var file = Path.Combine(folder, ConfigurationFile.DefaultName);
        await File.WriteAllTextAsync(file, DemoConfiguration.Write(plant, running.Device.Port, broker.Port, EmbeddedBroker.FreePort(), plant.SuggestedInterval, TimeSpan.FromSeconds(factor)), cancellation);
        await File.WriteAllTextAsync(Path.Combine(folder, "jobs.csv"), plant.JobList, cancellation);
        var loaded = ConfigurationFile.Load(file, new Dictionary<string, string>());
        if (loaded.Options is not { } options)
            throw new InvalidOperationException($"The demo's own configuration is wrong: {string.Join("; ", loaded.Errors)}");

        await output.WriteLineAsync(string.Create(
            CultureInfo.InvariantCulture,
            $"""
            Plant {plant.Site} (invented): {plant.Saws.Count} virtual saws. Virtual time runs {factor:0.#} times as fast as the wall clock.
              over Modbus TCP  {string.Join(", ", plant.Saws.Where(s => s.Link == PlantLink.Modbus).Select(s => $"{s.Name} (unit {s.Unit})"))} at 127.0.0.1:{running.Device.Port}
              over MQTT        {string.Join(", ", plant.Saws.Where(s => s.Link == PlantLink.Mqtt).Select(s => $"{s.Name} ({s.Topic})"))} at 127.0.0.1:{broker.Port}
              page             {options.Http!.Listen}
              configuration    {file}
              history          {Path.Combine(options.DataFolder, "history.db")}  (SQLite: table cycles)
            Each cut is printed when it is finished and on the disk, and alarms as they come and go; Ctrl+C ends the demo.

            {DemoLines.Heading}
            """));
        var cuts = 0;
        var failure = await GatewayHost.RunAsync(
            options,
            new GatewayClocks(clock, TimeProvider.System),
            LogForm.Text,
            LogLevel.Warning,
            finished =>
            {
                Interlocked.Increment(ref cuts);
                lock (output)
                    output.WriteLine(DemoLines.Of(finished.Record));
            },
            happened =>
            {
                if (DemoLines.Of(happened) is not { } line)
                    return;
                lock (output)
                    output.WriteLine(line);
            },
            cancellation);
        if (failure is not null)
            return ExitCodes.Failed;

        await output.WriteLineAsync(string.Create(CultureInfo.InvariantCulture, $"{Environment.NewLine}Ended: {cuts} cycles are in the history. The files stay in {folder}."));
        return ExitCodes.Done;
    }
}
