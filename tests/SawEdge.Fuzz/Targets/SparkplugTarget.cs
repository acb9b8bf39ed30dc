using SawEdge.Gateway.Acquisition.Sparkplug;

namespace SawEdge.Fuzz.Targets;

/// <summary>Sparkplug payloads.</summary>
internal sealed class SparkplugTarget : IFuzzTarget
{
    private readonly SparkplugPayload _payload = new();

    public string Name => "sparkplug";

    public int MaximumLength => 1024;

    public IEnumerable<byte[]> Seeds => SparkplugBytes.Seeds;

    public IReadOnlyList<byte[]> Tokens => SparkplugBytes.Tokens;

    // The list of metrics grows to its limit once and is kept.
    public long MostAllocated(int length) => 4096 + (256L * length);

    public void FixUp(Span<byte> input) => SparkplugBytes.FixUp(input);

    public void Run(ReadOnlySpan<byte> input)
    {
        var isRead = SparkplugDecoder.TryDecode(input, _payload, out var trouble);
        FuzzFinding.Unless(isRead == (trouble.Length == 0), "the trouble does not fit the result");
        if (!isRead)
            return;
        FuzzFinding.Unless(_payload.Metrics.Length <= Math.Min(input.Length / 2, SparkplugPayload.MaximumMetrics), "more metrics than the bytes can hold");
        foreach (ref readonly var metric in _payload.Metrics)
        {
            FuzzFinding.Unless(metric.NameLength < 0 || (metric.NameStart >= 0 && metric.NameStart + metric.NameLength <= input.Length), "a name outside the payload");
            FuzzFinding.Unless(metric.ValueLength == 0 || (metric.ValueStart >= 0 && metric.ValueStart + metric.ValueLength <= input.Length), "a text outside the payload");
            FuzzFinding.Unless(metric.Quality >= -1, "a quality below none");
        }
    }
}
