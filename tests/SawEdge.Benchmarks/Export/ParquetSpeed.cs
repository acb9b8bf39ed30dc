using System.Diagnostics;
using System.Globalization;
using System.Text.Json;
using DuckDB.NET.Data;
using SawEdge.Core;
using SawEdge.Gateway.Export;
using SawEdge.Gateway.Formats.Tables;
using SawEdge.Gateway.History;
using SawEdge.TestSupport;

namespace SawEdge.Benchmarks.Export;

/// <summary>
/// All cycles of a large history as Parquet, beside DuckDB with the same rows, taking turns. DuckDB reads SQLite with an extension that it
/// fetches from the net; where it has none, it gets the rows from a table of its own (writing alone is compared) and from a CSV file (reading
/// and writing). Both write zstd and row groups of 100,000 rows. Each side is a process of its own.
/// </summary>
internal static class ParquetSpeed
{
    private const int Rounds = 3;

    /// <summary>What a process reports.</summary>
    /// <param name="Seconds">What was measured.</param>
    /// <param name="ProcessorSeconds">Of all threads, meanwhile.</param>
    /// <param name="PeakMegabytes">Greatest memory of the process (VmHWM).</param>
    internal sealed record Run(double Seconds, double ProcessorSeconds, double PeakMegabytes);

    /// <summary>Measures and prints a table; with more arguments, does one side of it.</summary>
    public static async Task RunAsync(string[] arguments, TextWriter output)
    {
        if (arguments.Length > 2)
        {
            await output.WriteLineAsync(JsonSerializer.Serialize(await OnceAsync(arguments[0], arguments[1], arguments[2], arguments[3..])));
            return;
        }

        var folder = arguments[0];
        using var temporary = new TempFolder();
        var csv = temporary.File("rows.csv");
        await ExportRun.ToFileAsync(Cycles(folder), new TableStyle { Format = TableFormat.Csv, IsSafeForSpreadsheets = false }, csv, null, CancellationToken.None);

        (string Title, string Side, string[] More)[] sides =
        [
            ("SawEdge, SQLite to Parquet", "whole", []),
            ("SawEdge, writing alone", "writing", []),
            ("DuckDB, SQLite to Parquet", "duckdb-sqlite", ["2"]),
            ("DuckDB, CSV to Parquet", "duckdb-csv", ["2", csv]),
            ("DuckDB, its table to Parquet, 1 thread", "duckdb-table", ["1", csv]),
            ("DuckDB, its table to Parquet, 2 threads", "duckdb-table", ["2", csv]),
        ];
        var runs = sides.ToDictionary(side => side.Title, _ => new List<Run>());
        for (var round = 0; round < Rounds; round++)
        {
            foreach (var (title, side, rest) in sides)
            {
                var (exit, printed) = await Peer.RunAsync("dotnet", [typeof(ParquetSpeed).Assembly.Location, "export-parquet", folder, side, temporary.File(title + ".parquet"), .. rest]);
                if (exit == 0)
                    runs[title].Add(JsonSerializer.Deserialize<Run>(printed)!);
                else if (side == "duckdb-sqlite")
                    runs[title].Clear();
                else
                    throw new InvalidOperationException(printed);
            }
        }

        await output.WriteLineAsync("| what | s | processor, s | peak memory, MB | file, MB |");
        await output.WriteLineAsync("|---|---|---|---|---|");
        foreach (var (title, own) in runs)
        {
            if (own.Count == 0)
                await output.WriteLineAsync($"| {title} | no extension to be had | | | |");
            else
                await output.WriteLineAsync(string.Create(CultureInfo.InvariantCulture, $"| {title} | {Median(title, run => run.Seconds):0.0} | {Median(title, run => run.ProcessorSeconds):0.0} | {own.Max(run => run.PeakMegabytes):0} | {new FileInfo(temporary.File(title + ".parquet")).Length / 1e6:0.0} |"));
        }

        await output.WriteLineAsync(string.Create(CultureInfo.InvariantCulture, $"writing alone, SawEdge / DuckDB (1 thread): {Median(sides[1].Title, run => run.Seconds) / Median(sides[4].Title, run => run.Seconds):0.00} of the time, {Median(sides[1].Title, run => run.ProcessorSeconds) / Median(sides[4].Title, run => run.ProcessorSeconds):0.00} of the processor"));
        await output.WriteLineAsync($"the files hold the same rows: {Digest(temporary.File(sides[0].Title + ".parquet")) == Digest(temporary.File(sides[3].Title + ".parquet"))}");

        double Median(string title, Func<Run, double> of) => runs[title].Select(of).Order().ElementAt(runs[title].Count / 2);
    }

    private static IRowSource Cycles(string folder) => ExportSources.Open(HistoryReader.OpenFolder(folder), new ExportQuestion { Table = ExportTables.Find("cycles")! });

    private static async Task<Run> OnceAsync(string folder, string side, string to, string[] rest)
    {
        var clock = new Clock();
        switch (side)
        {
            case "whole":
                clock.Start();
                await ExportRun.ToFileAsync(Cycles(folder), new TableStyle { Format = TableFormat.Parquet }, to, null, CancellationToken.None);
                clock.Stop();
                break;
            case "writing":
                await WriteAloneAsync(Cycles(folder), to, clock);
                break;
            default:
                Duck(folder, side, to, rest, clock);
                break;
        }

        var peak = (await File.ReadAllLinesAsync("/proc/self/status")).First(line => line.StartsWith("VmHWM:", StringComparison.Ordinal));
        return new Run(clock.Seconds, clock.ProcessorSeconds, double.Parse(peak.Split(' ', StringSplitOptions.RemoveEmptyEntries)[^2], CultureInfo.InvariantCulture) / 1000);
    }

    // Reads and writes in turns, and counts what writing takes.
    private static async Task WriteAloneAsync(IRowSource source, string to, Clock clock)
    {
        await using var stream = File.Create(to);
        await using var writer = TableFormats.Writer(source.Head, new TableStyle { Format = TableFormat.Parquet }, stream);
        var batch = new RowBatch(source.Head.Columns.Count);
        while (true)
        {
            batch.Clear();
            await source.FillAsync(batch, CancellationToken.None);
            clock.Start();
            if (batch.Count == 0)
                break;
            await writer.WriteAsync(batch, CancellationToken.None);
            clock.Stop();
        }

        await writer.FinishAsync(CancellationToken.None);
        clock.Stop();
    }

    private static void Duck(string folder, string side, string to, string[] rest, Clock clock)
    {
        using var connection = new DuckDBConnection("DataSource=:memory:");
        connection.Open();
        Do($"SET TimeZone = 'UTC'; SET threads = {rest[0]}; SET preserve_insertion_order = true");
        var names = string.Join(", ", ExportTables.Find("cycles")!.Columns.Select(column => column.Name));
        var rows = side switch
        {
            "duckdb-sqlite" => $"SELECT {names} FROM sqlite_scan('{Path.Combine(folder, HistoryDatabase.FileName)}', 'cycles') ORDER BY started_at, saw, cycle_id",
            "duckdb-csv" => Csv(rest[1]),
            _ => "FROM cycles",
        };
        if (side == "duckdb-sqlite")
            Do("LOAD sqlite");
        if (side == "duckdb-table")
            Do($"CREATE TABLE cycles AS {Csv(rest[1])}");
        clock.Start();
        Do($"COPY ({rows}) TO '{to}' (FORMAT parquet, COMPRESSION zstd, ROW_GROUP_SIZE {ParquetRows.UsualGroup})");
        clock.Stop();

        string Csv(string csv) => $"FROM read_csv('{csv}', header = true, columns = {{{string.Join(", ", ExportTables.Find("cycles")!.Columns.Select(column => $"'{column.Name}': '{Type(column.Type)}'"))}}})";

        void Do(string sql)
        {
            using var command = connection.CreateCommand();
            command.CommandText = sql;
            command.ExecuteNonQuery();
        }
    }

    private static string Type(ColumnType type) => type switch
    {
        ColumnType.Text => "VARCHAR",
        ColumnType.Time => "TIMESTAMPTZ",
        ColumnType.Number => "DOUBLE",
        ColumnType.Integer => "BIGINT",
        _ => "BOOLEAN",
    };

    private static string Digest(string file)
    {
        using var connection = new DuckDBConnection("DataSource=:memory:");
        connection.Open();
        using var command = connection.CreateCommand();
        command.CommandText = $"SELECT count(*) || ' ' || bit_xor(hash(row)) FROM '{file}' row";
        return (string)command.ExecuteScalar()!;
    }

    private sealed class Clock
    {
        private readonly Process _process = Process.GetCurrentProcess();
        private long _began;
        private TimeSpan _processor;

        public double Seconds { get; private set; }

        public double ProcessorSeconds { get; private set; }

        public void Start()
        {
            _process.Refresh();
            _processor = _process.TotalProcessorTime;
            _began = Stopwatch.GetTimestamp();
        }

        public void Stop()
        {
            Seconds += Stopwatch.GetElapsedTime(_began).TotalSeconds;
            _process.Refresh();
            ProcessorSeconds += (_process.TotalProcessorTime - _processor).TotalSeconds;
        }
    }
}
