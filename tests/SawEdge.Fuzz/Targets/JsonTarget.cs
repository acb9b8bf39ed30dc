using System.Text;
using System.Text.Json;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition;
using SawEdge.Gateway.Acquisition.Mqtt;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Formats;

namespace SawEdge.Fuzz.Targets;

/// <summary>JSON payloads: the members that are mapped, and their time.</summary>
internal sealed class JsonTarget : IFuzzTarget, IValueListener
{
    private readonly JsonFrame _json;

    public JsonTarget()
    {
        PublishedSignal[] signals =
        [
            Member(Signal.HeadPosition, "head.position"),
            Member(Signal.MotorLoad, "load"),
            Member(Signal.Cutting, "flags.1"),
            Member(Signal.Job, "job"),
            Member(Signal.PartCount, "c\\.n"),
        ];
        _json = new JsonFrame(signals, "time", this, new WrittenTime(TimeZoneInfo.Utc, null));
    }

    public string Name => "json";

    public int MaximumLength => 1024;

    public IEnumerable<byte[]> Seeds => new[]
    {
        """{"time":"2026-03-02T06:00:00.250Z","head":{"position":12.5},"load":3.25,"flags":[true,false],"job":"J-1","c.n":7}""",
        """{"time":1772431200250,"load":"3,25","flags":[null,1],"job":null,"other":{"a":[1,{"b":2}]}}""",
        """{"time":"2026-03-02 06:00:00","head":[{"position":-1e300}],"job":"\u0041\ud83d\ude00\n"}""",
        """[{"load":1},2]""",
    }.Select(Encoding.UTF8.GetBytes);

    public IReadOnlyList<byte[]> Tokens => [.. new[]
    {
        "{", "}", "[", "]", ":", ",", "\"", "\"time\":", "\"head\":", "\"position\":", "\"load\":", "\"flags\":", "\"job\":", "\"c.n\":", "true", "false", "null",
        "1e308", "-0", "1e-400", "9223372036854775808", "NaN", "\\u0000", "\\ud83d", "\\ude00", "\\\"", "\\\\", "2026-03-02T06:00:00Z", "1970-01-01T00:00:00+14:00", "9999-12-31T23:59:59.9999999-23:59",
        "[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[", "//", "\u00e9", "1772431200", "1772431200000000000",
    }.Select(Encoding.UTF8.GetBytes)];

    // The frame's texts, and what an exception of the reader costs.
    public long MostAllocated(int length) => 16384 + (8L * length);

    public void FixUp(Span<byte> input)
    {
        if (input.Length > 1)
            (input[0], input[^1]) = ((byte)'{', (byte)'}');
    }

    public void Run(ReadOnlySpan<byte> input)
    {
        var frame = default(SignalFrame);
        var isRead = _json.TryRead(input, ref frame, out var time, out var state, out var trouble);
        FuzzFinding.Unless(isRead == (trouble.Length == 0), "the trouble does not fit the result");
        FuzzFinding.Unless(trouble.Length < 1000, "the trouble is longer than a person reads");
        if (!isRead)
            return;

        // Another reader of the same format takes it, too.
        FuzzFinding.Unless(IsJson(input), "bytes that are no JSON were read");
        FuzzFinding.Unless(state != PayloadTimeState.Read || time > DateTimeOffset.MinValue, "there is no time, and it was read");
        foreach (var signal in new[] { Signal.HeadPosition, Signal.MotorLoad, Signal.PartCount })
            FuzzFinding.Unless(frame.QualityOf(signal) != SignalQuality.Good || double.IsFinite(frame.Number(signal)), "a good number is not finite");
    }

    void IValueListener.ValueRead(MappedSignal signal, bool good, ReadOnlySpan<byte> raw)
    {
    }

    private static bool IsJson(ReadOnlySpan<byte> input)
    {
        var reader = new Utf8JsonReader(input, new JsonReaderOptions { MaxDepth = JsonFrame.MaximumDepth });
        return JsonDocument.TryParseValue(ref reader, out var document) && Dispose(document) && !reader.Read();
    }

    private static bool Dispose(JsonDocument document)
    {
        document.Dispose();
        return true;
    }

    private static PublishedSignal Member(Signal signal, string member) => new(new MqttMapping { Signal = signal, Member = member });
}
