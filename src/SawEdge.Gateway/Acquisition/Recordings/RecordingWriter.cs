using System.Buffers;
using System.Globalization;
using System.Text;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Formats;

namespace SawEdge.Gateway.Acquisition.Recordings;

/// <summary>
/// Writes frames as a recording. A signal that was not read, or that its source did not deliver, is an empty field; one that was
/// read but cannot be used is <c>NaN</c> in a column of numbers (reading it back marks it invalid) and empty in a column of texts.
/// Rows collect in memory until <see cref="Flush"/>.
/// </summary>
public sealed class RecordingWriter : IDisposable
{
    private readonly Stream _stream;
    private readonly SignalInfo[] _signals;
    private readonly ArrayBufferWriter<byte> _rows = new(64 * 1024);
    private long _written;

    /// <summary>Starts with the header.</summary>
    /// <param name="stream">Where to write; closed with the writer.</param>
    /// <param name="signals">The columns; written in the order of <see cref="SignalInfo.All"/>.</param>
    public RecordingWriter(Stream stream, IEnumerable<Signal> signals)
    {
        var wanted = signals.ToHashSet();
        _stream = stream;
        _signals = [.. SignalInfo.All.Where(info => wanted.Contains(info.Signal))];
        if (_signals.Length == 0)
            throw new ArgumentException("A recording needs at least one signal.", nameof(signals));

        var names = _signals.Select(info => info.Name).Prepend(RecordingHeader.Saw).Prepend(RecordingHeader.Time);
        Encoding.UTF8.GetBytes(string.Join(',', names) + "\n", _rows);
    }

    /// <summary>Bytes that are in memory only.</summary>
    public int Pending => _rows.WrittenCount;

    /// <summary>Bytes of the recording so far, those in memory included.</summary>
    public long Length => _written + _rows.WrittenCount;

    /// <summary>Adds a row.</summary>
    /// <param name="saw">Name of the saw.</param>
    /// <param name="frame">The frame; values of signals that are no column are left out.</param>
    public void Write(string saw, in SignalFrame frame)
    {
        _rows.Advance(Rfc3339.Format(frame.Time, _rows.GetSpan(Rfc3339.MaximumLength)));
        _rows.Write(","u8);
        CsvText.Write(_rows, saw);
        foreach (var info in _signals)
        {
            _rows.Write(","u8);
            switch (frame.QualityOf(info.Signal))
            {
                case SignalQuality.Good:
                    WriteValue(in frame, info);
                    break;
                case SignalQuality.OutOfRange or SignalQuality.Invalid when SignalInfo.IsNumeric(info.Signal):
                    _rows.Write("NaN"u8);
                    break;
            }
        }

        _rows.Write("\n"u8);
    }

    /// <summary>Hands all rows to the system: a program that is killed after this loses none of them.</summary>
    public void Flush()
    {
        if (_rows.WrittenCount > 0)
        {
            _stream.Write(_rows.WrittenSpan);
            _stream.Flush();
            _written += _rows.WrittenCount;
            _rows.ResetWrittenCount();
        }
    }

    /// <summary>Closes after a failed <see cref="Flush"/>: the rows in memory are given up, and no half row is left at the end.</summary>
    public void Abandon()
    {
        _rows.ResetWrittenCount();
        try
        {
            if (_stream.CanSeek)
                _stream.SetLength(_written);
            _stream.Dispose();
        }
        catch (IOException)
        {
            // The disk fails still, which the caller has just reported; the handle is closed all the same.
        }
    }

    /// <summary>Flushes and closes.</summary>
    public void Dispose()
    {
        try
        {
            Flush();
        }
        finally
        {
            _stream.Dispose();
        }
    }

    private void WriteValue(in SignalFrame frame, SignalInfo info)
    {
        switch (info.Kind)
        {
            case SignalKind.Text:
                CsvText.Write(_rows, frame.Text(info.Signal)!);
                break;
            case SignalKind.Flag:
                _rows.Write(frame.Flag(info.Signal) == true ? "true"u8 : "false"u8);
                break;
            default:
                // The shortest text that reads back to the same double.
                frame.Number(info.Signal).TryFormat(_rows.GetSpan(32), out var written, default, CultureInfo.InvariantCulture);
                _rows.Advance(written);
                break;
        }
    }
}
