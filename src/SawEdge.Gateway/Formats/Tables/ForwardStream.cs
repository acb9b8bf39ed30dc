using System.Buffers;

namespace SawEdge.Gateway.Formats.Tables;

/// <summary>
/// What a library that writes a file gets in place of the real stream, which need not be able to seek or to write synchronously (the answer
/// of a web server can do neither): it counts from zero, keeps the little that is written synchronously until the next asynchronous write (a
/// zip archive does that at the end of each file in it), and can be shut, after which nothing reaches the real stream any more.
/// </summary>
/// <param name="stream">The real stream; left open.</param>
internal class ForwardStream(Stream stream) : Stream
{
    private readonly ArrayBufferWriter<byte> _waiting = new();
    private long _position;

    /// <summary>Breaks off what is written, also where a library does not pass one on.</summary>
    public CancellationToken Cancellation { get; set; }

    /// <summary>Whether what is written is thrown away from now on.</summary>
    public bool IsShut { get; set; }

    /// <inheritdoc/>
    public override bool CanRead => false;

    /// <inheritdoc/>
    public override bool CanSeek => false;

    /// <inheritdoc/>
    public override bool CanWrite => true;

    /// <inheritdoc/>
    public override long Length => _position;

    /// <inheritdoc/>
    public override long Position { get => _position; set => throw new NotSupportedException(); }

    /// <summary>Does nothing: whoever gave the stream is told at the end, with <see cref="FlushAsync"/>.</summary>
    public override void Flush()
    {
    }

    /// <inheritdoc/>
    public override async Task FlushAsync(CancellationToken cancellationToken)
    {
        if (IsShut)
            return;
        await WriteWaitingAsync(cancellationToken);
        await stream.FlushAsync(cancellationToken);
    }

    /// <inheritdoc/>
    public override async ValueTask WriteAsync(ReadOnlyMemory<byte> buffer, CancellationToken cancellationToken = default)
    {
        _position += buffer.Length;
        if (IsShut)
            return;
        Cancellation.ThrowIfCancellationRequested();
        await WriteWaitingAsync(cancellationToken);
        await stream.WriteAsync(buffer, cancellationToken.CanBeCanceled ? cancellationToken : Cancellation);
    }

    /// <inheritdoc/>
    public override Task WriteAsync(byte[] buffer, int offset, int count, CancellationToken cancellationToken) =>
        WriteAsync(buffer.AsMemory(offset, count), cancellationToken).AsTask();

    /// <inheritdoc/>
    public override void Write(byte[] buffer, int offset, int count) => Write(buffer.AsSpan(offset, count));

    /// <inheritdoc/>
    public override void Write(ReadOnlySpan<byte> buffer)
    {
        _position += buffer.Length;
        if (!IsShut)
            _waiting.Write(buffer);
    }

    /// <inheritdoc/>
    public override int Read(byte[] buffer, int offset, int count) => throw new NotSupportedException();

    /// <inheritdoc/>
    public override long Seek(long offset, SeekOrigin origin) => throw new NotSupportedException();

    /// <inheritdoc/>
    public override void SetLength(long value) => throw new NotSupportedException();

    private async ValueTask WriteWaitingAsync(CancellationToken cancellation)
    {
        if (_waiting.WrittenCount == 0)
            return;
        await stream.WriteAsync(_waiting.WrittenMemory, cancellation);
        _waiting.ResetWrittenCount();
    }
}
