using System.Text;
using SawEdge.Core.Cutting;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition.Recordings;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Fuzz.Targets;

/// <summary>Recordings of other loggers, whose columns a configuration names.</summary>
internal sealed class MappedCsvTarget : IFuzzTarget
{
    private static readonly RecordingLayouts Layouts = new(new GatewayOptions { Site = "Riverbend", Gateway = "fuzz", DataFolder = "", TimeZone = TimeZoneInfo.Utc, Saws = [Saw("saw-1", "A"), Saw("saw-2", "B")] });

    public string Name => "mapped";

    public int MaximumLength => 1024;

    public IEnumerable<byte[]> Seeds => new[]
    {
        "Datum;Zeit;Nr;Pos;Last;An\n02.03.2026;06:00:00;A;300,5;1,25;1\n02.03.2026;06:00:01;B;\"1.300,5\";;0\n",
        "Datum;Zeit;Nr;Last\r\n25.10.2026;02:30:00;A;1\r\nDatum;Zeit;Pos;Nr\r\n25.10.2026;02:30:00;2;C\r\n",
        "time,saw,motor_load\n2026-03-02T06:00:00Z,saw-1,1\n",
    }.Select(Encoding.UTF8.GetBytes);

    public IReadOnlyList<byte[]> Tokens => [.. new[]
    {
        "\n", "\r\n", ";", "\"", "\"\"", ",", "Datum", "Zeit", "Nr", "Pos", "Last", "An", "A", "B", "02.03.2026", "06:00:00", "1,5", "1.300,5", "-", "1e308", "NaN", "ja", "Datum;Zeit;Nr;Pos;Last;An\n", "02.03.2026;06:00:00;A;1;2;1\n",
    }.Select(Encoding.UTF8.GetBytes)];

    // The buffers of a reader for each way of taking the file apart, and a message for each kind of mistake.
    public long MostAllocated(int length) => (2 * 1024 * 1024) + (512L * length);

    public void FixUp(Span<byte> input)
    {
        var header = "Datum;Zeit;Nr;Pos;Last;An\n"u8;
        if (input.Length > header.Length)
            header.CopyTo(input);
    }

    public void Run(ReadOnlySpan<byte> input) => RecordingCheck.Run(input, Layouts);

    private static SawOptions Saw(string name, string value) => new()
    {
        Machine = new SawMachine { Name = name },
        Interval = TimeSpan.FromMilliseconds(200),
        Source = new RecordingSourceOptions
        {
            DateColumn = "Datum",
            TimeColumn = "Zeit",
            TimeFormat = "dd.MM.yyyy HH:mm:ss",
            Separator = ';',
            Decimal = ',',
            SawColumn = "Nr",
            SawValue = value,
            Signals =
            [
                new ColumnMapping { Signal = Signal.HeadPosition, Column = "Pos" },
                new ColumnMapping { Signal = Signal.MotorLoad, Column = "Last", Maximum = 20 },
                new ColumnMapping { Signal = Signal.Cutting, Column = "An" },
            ],
        },
    };
}
