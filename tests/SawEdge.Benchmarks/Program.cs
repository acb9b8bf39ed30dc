using System.Globalization;
using SawEdge.Benchmarks.Accounts;
using SawEdge.Benchmarks.Alarms;
using SawEdge.Benchmarks.Api;
using SawEdge.Benchmarks.Cutting;
using SawEdge.Benchmarks.Detection;
using SawEdge.Benchmarks.Export;
using SawEdge.Benchmarks.History;
using SawEdge.Benchmarks.Load;
using SawEdge.Benchmarks.Modbus;
using SawEdge.Benchmarks.Mqtt;
using SawEdge.Benchmarks.Page;
using SawEdge.Benchmarks.Recordings;
using SawEdge.Benchmarks.Score;

// Each measurement is a verb of its own, so that a table in the documentation can name the command that rebuilds it.
switch (args.FirstOrDefault())
{
    case "modbus":
        return await ModbusPolls.RunAsync();
    case "mqtt":
        await MqttSpeed.RunAsync(args.Length > 1 ? int.Parse(args[1], CultureInfo.InvariantCulture) : 3, Console.Out);
        return 0;
    case "mqtt-publish" when args.Length > 2:
        RawPublisher.Run(int.Parse(args[1], CultureInfo.InvariantCulture), int.Parse(args[2], CultureInfo.InvariantCulture));
        return 0;
    case "history":
        await HistoryBenchmark.RunAsync(Console.Out, CancellationToken.None);
        return 0;
    case "start" when args.Length > 1:
        await StartBenchmark.RunAsync(args.Length > 2 ? int.Parse(args[2], CultureInfo.InvariantCulture) : 1_000_000, args[1], Console.Out);
        return 0;
    case "first-frame":
        await FirstFrame.RunAsync(args[1..], 9, Console.Out);
        return 0;
    case "signals":
        await SignalSize.RunAsync(args.Length > 1 ? int.Parse(args[1], CultureInfo.InvariantCulture) : 14, Console.Out);
        return 0;
    case "space":
        await SpaceSize.RunAsync(args.Length > 1 ? int.Parse(args[1], CultureInfo.InvariantCulture) : 20_000, Console.Out);
        return 0;
    case "drain":
        await DrainBenchmark.RunAsync(Console.Out, CancellationToken.None);
        return 0;
    case "frames":
        PipelineSpeed.Run();
        return 0;
    case "alarms":
        RuleSpeed.Run(Console.Out);
        return 0;
    case "alarm-latency":
        await AlarmLatency.RunAsync(args.Length > 1 ? int.Parse(args[1], CultureInfo.InvariantCulture) : 60, Console.Out);
        return 0;
    case "score":
        ScoreSpeed.Run(Console.Out);
        return 0;
    case "year":
        YearSpeed.Run(args.Length > 1 ? int.Parse(args[1], CultureInfo.InvariantCulture) : 52);
        return 0;
    case "oee":
        await OeeSpeed.RunAsync(args.Length > 1 ? int.Parse(args[1], CultureInfo.InvariantCulture) : 50, args.Length > 2 ? int.Parse(args[2], CultureInfo.InvariantCulture) : 365, Console.Out);
        return 0;
    case "rebuild":
        await RebuildSpeed.RunAsync(Console.Out);
        return 0;
    case "backtest":
        await BacktestSpeed.RunAsync(Console.Out);
        return 0;
    case "load":
        return await GatewayLoad.RunAsync(args.Length > 1 ? int.Parse(args[1], CultureInfo.InvariantCulture) : 30);
    case "modbus-saws":
        return await ModbusSaws.RunAsync(args.Length > 1 ? int.Parse(args[1], CultureInfo.InvariantCulture) : 500, args.Length > 2 ? int.Parse(args[2], CultureInfo.InvariantCulture) : 60);
    case "modbus-saws-serve" when args.Length > 1:
        return await ModbusSaws.ServeAsync(int.Parse(args[1], CultureInfo.InvariantCulture));
    case "api":
        await ApiSpeed.RunAsync(args.Length > 1 ? int.Parse(args[1], CultureInfo.InvariantCulture) : 1_000_000, args.Length > 2 ? args[2] : null, Console.Out);
        return 0;
    case "serve" when args.Length > 2:
        await using (var server = await LargeServer.StartAsync(1_000_000, args[1], int.Parse(args[2], CultureInfo.InvariantCulture), Console.Out))
        {
            Console.WriteLine($"{server.Address} shows it; Ctrl+C ends it");
            await server.UntilStoppedAsync();
        }

        return 0;
    case "page" when args.Length > 1:
        await PageSpeed.RunAsync(args[1], Console.Out);
        return 0;
    case "export-parquet" when args.Length > 1:
        await ParquetSpeed.RunAsync(args[1..], Console.Out);
        return 0;
    case "export" when args.Length > 1:
        await ExportSpeed.RunAsync(args[1], Console.Out);
        return 0;
    case "export-once" when args.Length > 4:
        await ExportSpeed.OnceAsync(args[1..], Console.Out);
        return 0;
    case "cutting":
        CuttingBenchmarks.Run(Console.Out);
        return 0;
    case "recordings":
        return await RecordingBenchmark.RunAsync(Console.Out);
    case "detection":
        DetectionAccuracy.Run(args.Length > 1 ? int.Parse(args[1], CultureInfo.InvariantCulture) : 5, verbose: args.Contains("--verbose"));
        return 0;
    default:
        Console.Error.WriteLine(
            """
            usage: dotnet run -c Release --project tests/SawEdge.Benchmarks -- VERB
              frames                 frames a second through detector, live watch, model and load score, allocations
              alarms                 rules evaluated a second, their allocations, and what they take beside the pipeline
              alarm-latency [SECONDS] milliseconds from the frame that holds the evidence to the message handed to the channel, 100 virtual saws at 10 Hz
              score                  microseconds and bytes of a finished cut's record and load score, size of what is learned
              year [WEEKS]           a year of one saw (52 weeks unless told) through the pipeline
              oee [SAWS] [DAYS]      OEE of a year of 50 saws: from cycles and states, from kept sums, after a change
              rebuild                records computed anew from a history on the disk
              backtest               cycles and frames a second of alarm rules tried on a history and on a recording
              api [CYCLES] [FOLDER]  milliseconds of requests to the API before a history of 1,000,000 cycles of 50 saws; the history is kept in FOLDER
              page FOLDER            first paint of the page's views before such a history in FOLDER, and the memory of an open page (needs chromium)
              serve FOLDER PORT      serves the page before such a history in FOLDER, to look at it
              export FOLDER          rows a second and memory of exports of such a history in FOLDER, CSV beside the sqlite3 command's own
              export-parquet FOLDER  seconds, memory and bytes of all cycles of such a history in FOLDER as Parquet, beside DuckDB
              cutting                microseconds and allocations of an expected time, by section
              detection [SEEDS]      cycles found, outcomes and times against the truth of virtual saws (--verbose: each miss)
              load [SECONDS]         memory and processor time of a gateway with 10 and 100 virtual saws at 10 Hz
              modbus-saws [SAWS] [SECONDS] a whole gateway polling 500 virtual Modbus saws at 10 Hz, a connection each: CPU, memory, how late polls begin, polls missed
              recordings             frames a second read from recordings, plain and gzip
              modbus                 polls a second beside libmodbus's own client on the same server
              mqtt [SECONDS]         messages a second of the MQTT source beside a bare subscriber of the same library (needs mosquitto)
              history                cycles and downsampled signals a second to the disk beside bare SQLite
              start FOLDER [CYCLES]  seconds until the program is ready and records, with an empty history and with one of 1,000,000 cycles in FOLDER
              first-frame [PROGRAM...] seconds from the start of a published program until a frame of one saw is recorded, no history yet; nine times each, in turns
              signals [DAYS]         downsampled signals of 50 saws over 14 days: bytes a saw and day, nanoseconds a frame, reading and clearing away
              space [CYCLES]         bytes that a cycle takes on the disk, table by table; milliseconds that clearing away and giving back take (needs sqlite3)
              drain                  points a second into InfluxDB beside a bare HTTP client
            """);
        return 2;
}
