using System.Globalization;
using SawEdge.Core;
using SawEdge.Core.Cycles;
using SawEdge.Gateway.Export;
using SawEdge.Gateway.Formats.Tables;
using SawEdge.Gateway.Tests.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Export;

/// <summary>CSV and JSON lines read back by other programs: Python's csv and json, and Debian's pandas.</summary>
public sealed class ExportPeerTests
{
    private const string Python = "/usr/bin/python3";
    private const string Pandas = "/usr/lib/python3/dist-packages/pandas/__init__.py";

    // Each value in a form that both sides can make without rounding: the bits of a double, the milliseconds of a moment.
    private const string Show =
        """
        import sys, csv, json, struct, datetime
        csv.field_size_limit(1 << 30)
        def moment(text): return str(round(datetime.datetime.strptime(text, '%Y-%m-%dT%H:%M:%S.%fZ').replace(tzinfo=datetime.timezone.utc).timestamp() * 1000))
        def bits(number): return struct.pack('>d', number).hex()
        def text(value): return value.encode('utf-8').hex()
        forms = {'Text': text, 'Time': moment, 'Number': lambda x: bits(float(x)), 'Integer': lambda x: str(int(x)), 'Flag': str}
        types = sys.argv[2].split(',')
        def show(rows):
            for row in rows: print(' '.join('-' if value is None or value == '' else forms[type](value) for value, type in zip(row, types)))

        """;

    [PeerFact(Python)]
    public Task Csv_HostileCycles_AreReadAlikeByPython() =>
        CompareAsync(TableFormat.Csv, isSafe: false, Show + "rows = list(csv.reader(open(sys.argv[1], encoding='utf-8', newline=''), strict=True))\nassert len(set(map(len, rows))) == 1\nshow(rows[1:])\n");

    [PeerFact(Python)]
    public Task SafeCsv_HostileCycles_AreReadByPythonWithAQuoteBeforeWhatASpreadsheetMayRun() =>
        CompareAsync(TableFormat.Csv, isSafe: true, Show + "rows = list(csv.reader(open(sys.argv[1], encoding='utf-8', newline=''), strict=True))\nshow(rows[1:])\n");

    [PeerFact(Python)]
    public Task JsonLines_HostileCycles_AreReadAlikeByPython() =>
        CompareAsync(TableFormat.JsonLines, isSafe: true, Show + "show(list(json.loads(line).values()) for line in open(sys.argv[1], encoding='utf-8', newline='\\n'))\n");

    [PeerFact(Python, Pandas)]
    public Task Csv_HostileCycles_AreReadAlikeByPandas() =>
        CompareAsync(
            TableFormat.Csv,
            isSafe: false,
            Show
            + """
            import pandas
            table = pandas.read_csv(sys.argv[1], float_precision='round_trip', keep_default_na=False, na_values=[''], dtype={name: {'Text': str, 'Integer': 'Int64'}[type] for name, type in zip(sys.argv[3].split(','), types) if type in ('Text', 'Integer')}, parse_dates=[name for name, type in zip(sys.argv[3].split(','), types) if type == 'Time'], encoding='utf-8', lineterminator='\n')
            forms['Time'] = lambda t: str(t.value // 1000000)
            show([None if pandas.isna(value) else value for value in row] for row in table.itertuples(index=False))
            """,
            records => records.Where(record => !record.Notes.Contains('\0', StringComparison.Ordinal)));

    private static async Task CompareAsync(TableFormat format, bool isSafe, string script, Func<IEnumerable<CycleRecord>, IEnumerable<CycleRecord>>? only = null)
    {
        using var folder = new TempFolder();
        await using var history = new RunningHistory();
        var random = new Random(3);
        var records = HostileTexts.All.Select((text, i) => Cycles.Make("saw", i) with
        {
            Notes = text,
            Job = text[..Math.Min(text.Length, 30)],
            CutTimeS = BitConverter.Int64BitsToDouble(random.NextInt64()) is var any && double.IsFinite(any) ? any : null,
            PeakLoadKw = i % 3 == 0 ? null : random.NextDouble(),
            // pandas 1.5 reads whole numbers beside empty cells by way of doubles, which end at 2^53.
            PartCount = i % 2 == 0 ? null : random.NextInt64(1L << 53),
        }).Append(Cycles.Full() with { StartedAt = Cycles.Start.AddDays(-1) });
        var kept = (only?.Invoke(records) ?? records).OrderBy(record => record.StartedAt).ToList();
        foreach (var record in kept)
            await history.AppendAsync(record);
        var file = folder.File("cycles");
        await ExportRun.ToFileAsync(ExportSources.Open(history.Reader, Exported.Cycles), new TableStyle { Format = format, IsSafeForSpreadsheets = isSafe }, file, null, CancellationToken.None);
        await File.WriteAllTextAsync(folder.File("read.py"), script);

        var (exit, output) = await Peer.RunAsync(Python, ["-W", "ignore", folder.File("read.py"), file, string.Join(',', CycleColumns.All.Select(column => column.Type)), string.Join(',', CycleColumns.All.Select(column => column.Name))]);

        Assert.True(exit == 0, output);
        Assert.Equal(kept.Select(record => string.Join(' ', CycleColumns.All.Select(column => Shown(column.Get(record), isSafe && format == TableFormat.Csv)))), output.TrimEnd('\n').Split('\n'));
    }

    private static string Shown(object? value, bool isSafe) => value switch
    {
        null or "" => "-",
        string text => Convert.ToHexStringLower(System.Text.Encoding.UTF8.GetBytes(isSafe && "=+-@\t\r\n".Contains(text[0], StringComparison.Ordinal) ? "'" + text : text)),
        DateTimeOffset time => time.ToUnixTimeMilliseconds().ToString(CultureInfo.InvariantCulture),
        double number => BitConverter.DoubleToInt64Bits(number).ToString("x16", CultureInfo.InvariantCulture),
        var other => ((long)other).ToString(CultureInfo.InvariantCulture),
    };
}
