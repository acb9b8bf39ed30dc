using System.Text;

namespace SawEdge.Fuzz.Targets;

/// <summary>Recordings, plain and gzip.</summary>
internal sealed class CsvTarget : IFuzzTarget
{
    public string Name => "csv";

    public int MaximumLength => 1024;

    public IEnumerable<byte[]> Seeds => new[]
    {
        "time,saw,head_position,motor_load,cutting,job\n2026-03-02T06:00:00.000Z,saw-1,300,0.5,false,J-1\n2026-03-02T06:00:00.200Z,saw-1,299.5,0.6,true,\"J,\"\"1\"\n",
        "\uFEFFtime,motor_load,part_count\r\n2026-03-02T06:00:00Z,1e3,1.0\r\n2026-03-02T07:00:00+01:00,,\r\n\r\n,,\r\n",
        "time;motor_load\n",
        "time,motor_load,motor_load\n",
        "time,cutting,mode,fault_code\n2026-03-02T06:00:00Z,TRUE,\"auto\nmatic\",3\n2026-03-02T06:00:01Z,2,a,b,c\n",
    }.Select(Encoding.UTF8.GetBytes);

    public IReadOnlyList<byte[]> Tokens => [.. new[]
    {
        "\n", "\r\n", ",", "\"", "\"\"", "\"\n", "time", "saw", "head_position", "motor_load", "cutting", "job", "2026-03-02T06:00:00Z", "2026-03-02T06:00:00.999+14:00", "0001-01-01T00:00:00Z", "NaN", "1e308", "-1e308", "true", "0", ";", "\t", "\0",
    }.Select(Encoding.UTF8.GetBytes), [0x1F, 0x8B, 8, 0], [0xEF, 0xBB, 0xBF], [0xFF, 0xFE]];

    // The buffers of a reader, and a message for each kind of mistake.
    public long MostAllocated(int length) => (1024 * 1024) + (512L * length);

    public void FixUp(Span<byte> input)
    {
        var header = "time,saw,motor_load,job\n"u8;
        if (input.Length > header.Length)
            header.CopyTo(input);
    }

    public void Run(ReadOnlySpan<byte> input) => RecordingCheck.Run(input, null);
}
