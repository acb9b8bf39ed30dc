using System.Text.Json;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Formats;

namespace SawEdge.Gateway.Acquisition.Mqtt;

/// <summary>What a payload said about its time.</summary>
internal enum PayloadTimeState : byte
{
    /// <summary>Nothing: no time is mapped, or the member is missing.</summary>
    Missing,

    /// <summary>A time.</summary>
    Read,

    /// <summary>Something that is no time.</summary>
    Unreadable,
}

/// <summary>Hears of each mapped value as it is read.</summary>
internal interface IValueListener
{
    /// <summary>A value was read.</summary>
    /// <param name="signal">The signal.</param>
    /// <param name="good">Whether the signal can be such a value.</param>
    /// <param name="raw">The value as it stands in the payload.</param>
    void ValueRead(MappedSignal signal, bool good, ReadOnlySpan<byte> raw);
}

/// <summary>
/// Reads a JSON payload (RFC 8259) into a frame, in one pass over its bytes, without building a document. Depth is limited; the
/// caller limits the size.
/// </summary>
internal sealed class JsonFrame
{
    /// <summary>The deepest nesting that is read.</summary>
    public const int MaximumDepth = 32;

    private static readonly JsonReaderOptions Options = new() { MaxDepth = MaximumDepth };

    private readonly MemberTree _root = new();
    private readonly IValueListener _listener;
    private readonly byte[] _unescaped = new byte[ControllerText.MaximumLength * 4];
    private readonly WrittenTime _written;
    private DateTimeOffset _time;
    private PayloadTimeState _timeState;
    private int _found;

    public JsonFrame(IEnumerable<PublishedSignal> signals, string? timeMember, IValueListener listener, WrittenTime? written = null)
    {
        _written = written ?? new WrittenTime(null, null);
        _listener = listener;
        foreach (var signal in signals)
            _root.At(signal.Mapping.Member!).Signals.Add(signal);
        if (timeMember is not null)
            _root.At(timeMember).IsTime = true;
    }

    /// <summary>The later moment that the payload's time can mean, where a local time comes twice; otherwise null.</summary>
    public DateTimeOffset? LaterTime { get; private set; }

    /// <summary>Reads a payload.</summary>
    /// <param name="payload">The whole payload.</param>
    /// <param name="frame">Takes the values; its time is left alone.</param>
    /// <param name="time">The payload's time, where it said one.</param>
    /// <param name="timeState">What it said about its time.</param>
    /// <param name="trouble">Why the payload cannot be used, where it cannot; the frame is then of no use either.</param>
    /// <returns>Whether the payload can be used.</returns>
    public bool TryRead(ReadOnlySpan<byte> payload, ref SignalFrame frame, out DateTimeOffset time, out PayloadTimeState timeState, out string trouble)
    {
        _found = 0;
        _timeState = PayloadTimeState.Missing;
        LaterTime = null;
        trouble = "";
        try
        {
            var reader = new Utf8JsonReader(payload, Options);
            reader.Read();
            ReadValue(ref reader, _root, ref frame);

            // What stands behind the value is refused here.
            reader.Read();
            if (_found == 0)
                trouble = "it has none of the members that are mapped";
        }
        catch (JsonException e)
        {
            trouble = payload.IsEmpty ? "it is empty" : $"it is no JSON that can be read: {ControllerText.Clean(e.Message)}";
        }
        catch (InvalidOperationException)
        {
            // How the reader says that an escaped name is no text, for example half of a surrogate pair.
            trouble = "it is no JSON that can be read: a name in it is no text";
        }

        time = _time;
        timeState = _timeState;
        return trouble.Length == 0;
    }

    private void ReadValue(ref Utf8JsonReader reader, MemberTree node, ref SignalFrame frame)
    {
        switch (reader.TokenType)
        {
            case JsonTokenType.StartObject when node.HasChildren:
                while (reader.Read() && reader.TokenType == JsonTokenType.PropertyName)
                {
                    var child = node.Member(ref reader);
                    reader.Read();
                    ReadOrSkip(ref reader, child, ref frame);
                }

                break;
            case JsonTokenType.StartArray when node.HasChildren:
                for (var i = 0; reader.Read() && reader.TokenType != JsonTokenType.EndArray; i++)
                    ReadOrSkip(ref reader, node.Item(i), ref frame);
                break;
            default:
                SetValue(ref reader, node, ref frame);
                reader.Skip();
                break;
        }
    }

    private void ReadOrSkip(ref Utf8JsonReader reader, MemberTree? node, ref SignalFrame frame)
    {
        if (node is null)
            reader.Skip();
        else
            ReadValue(ref reader, node, ref frame);
    }

    private void SetValue(ref Utf8JsonReader reader, MemberTree node, ref SignalFrame frame)
    {
        if (node.IsTime)
            SetTime(ref reader);
        foreach (var signal in node.Signals)
        {
            _found++;
            var good = reader.TokenType switch
            {
                JsonTokenType.Number => signal.SetNumber(reader.ValueSpan, ref frame),
                JsonTokenType.True => signal.SetFlag(true, ref frame),
                JsonTokenType.False => signal.SetFlag(false, ref frame),
                JsonTokenType.String => TryText(ref reader, out var text) ? signal.SetText(text, ref frame) : signal.SetInvalid(ref frame),
                JsonTokenType.Null => SetNothing(signal, ref frame),
                _ => signal.SetInvalid(ref frame),
            };
            _listener.ValueRead(signal, good, reader.ValueSpan);
        }
    }

    private void SetTime(ref Utf8JsonReader reader)
    {
        DateTimeOffset? later = null;
        var read = reader.TokenType switch
        {
            JsonTokenType.Number => PayloadTime.TryReadNumber(reader.ValueSpan, out _time),
            JsonTokenType.String => TryText(ref reader, out var text) && PayloadTime.TryReadText(_written, text, out _time, out later),
            _ => false,
        };
        LaterTime = later;
        _timeState = read ? PayloadTimeState.Read : PayloadTimeState.Unreadable;
    }

    private static bool SetNothing(MappedSignal signal, ref SignalFrame frame)
    {
        frame.Mark(signal.Signal, SignalQuality.NotRead);
        return true;
    }

    // The text without its escapes; false where it is no text or far too long to be one that is kept.
    private bool TryText(ref Utf8JsonReader reader, out ReadOnlySpan<byte> text)
    {
        text = reader.ValueSpan;
        if (!reader.ValueIsEscaped)
            return true;
        text = default;
        if (reader.ValueSpan.Length > _unescaped.Length)
            return false;
        try
        {
            text = _unescaped.AsSpan(0, reader.CopyString(_unescaped));
            return true;
        }
        catch (InvalidOperationException)
        {
            // Half of a surrogate pair: told to the caller by the result.
            return false;
        }
    }
}
