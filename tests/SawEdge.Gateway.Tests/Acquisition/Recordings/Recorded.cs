using System.IO.Compression;
using System.Text;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition.Recordings;

namespace SawEdge.Gateway.Tests.Acquisition.Recordings;

/// <summary>Reads recordings from memory, and takes frames apart for comparison.</summary>
internal static class Recorded
{
    public static Task<List<RecordedFrame>> ReadAsync(string text, RecordingProblems? problems = null, string? defaultSaw = null) =>
        ReadAsync(Encoding.UTF8.GetBytes(text), problems, defaultSaw);

    public static async Task<List<RecordedFrame>> ReadAsync(byte[] bytes, RecordingProblems? problems = null, string? defaultSaw = null, string name = "test.csv")
    {
        await using var reader = await RecordingReader.OpenAsync(name, new MemoryStream(bytes), problems ?? new RecordingProblems(), defaultSaw);
        return await ReadAsync(reader);
    }

    public static async Task<List<RecordedFrame>> ReadAsync(RecordingReader reader)
    {
        var frames = new List<RecordedFrame>();
        var row = default(RecordedFrame);
        do
        {
            while (reader.TryRead(ref row))
                frames.Add(row);
        }
        while (await reader.FillAsync());
        return frames;
    }

    public static async Task<List<RecordedFrame>> ReadAsync(RecordingSet set)
    {
        var frames = new List<RecordedFrame>();
        var row = default(RecordedFrame);
        while (await set.FillAsync())
        {
            while (set.TryRead(ref row))
                frames.Add(row);
        }

        return frames;
    }

    public static byte[] Gzip(string text)
    {
        using var memory = new MemoryStream();
        using (var gzip = new GZipStream(memory, CompressionLevel.Optimal))
            gzip.Write(Encoding.UTF8.GetBytes(text));
        return memory.ToArray();
    }

    /// <summary>Everything a frame holds, as text: equal texts are equal frames.</summary>
    public static string Show(this RecordedFrame row)
    {
        var frame = row.Frame;
        var values = SignalInfo.All.Select(info => frame.QualityOf(info.Signal) switch
        {
            SignalQuality.NotRead => "",
            SignalQuality.Good when info.Kind == SignalKind.Text => $" {info.Name}='{frame.Text(info.Signal)}'",
            SignalQuality.Good => $" {info.Name}={BitConverter.DoubleToInt64Bits(frame.Number(info.Signal)):X}",
            var quality => $" {info.Name}:{quality}",
        });
        return $"{row.Saw} {frame.Time:O}{string.Concat(values)}";
    }
}
