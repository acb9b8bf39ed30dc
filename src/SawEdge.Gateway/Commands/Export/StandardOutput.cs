using Microsoft.Win32.SafeHandles;

namespace SawEdge.Gateway.Commands.Export;

/// <summary>Whoever read what was written into a pipe has gone, as <c>head</c> goes when it has seen enough.</summary>
internal sealed class ReaderGoneException(Exception inner) : IOException("Nobody reads the output any more.", inner);

/// <summary>
/// Standard output for bytes. The framework's own stream takes what nobody reads any more for written, so that a long export would run
/// to its end for nothing; and a write that waits for a reader would keep Ctrl+C waiting too.
/// </summary>
/// <param name="inner">What is written to.</param>
internal sealed class StandardOutput(Stream inner) : Stream
{
    // EPIPE, on Linux and macOS alike.
    private const int BrokenPipe = 32;

    /// <inheritdoc/>
    public override bool CanRead => false;

    /// <inheritdoc/>
    public override bool CanSeek => false;

    /// <inheritdoc/>
    public override bool CanWrite => true;

    /// <inheritdoc/>
    public override long Length => throw new NotSupportedException();

    /// <inheritdoc/>
    public override long Position
    {
        get => throw new NotSupportedException();
        set => throw new NotSupportedException();
    }

    /// <summary>Opens that of this process.</summary>
    public static Stream Open()
    {
        // A file is left to the framework's stream: it shares its place in the file with what is written there before and after.
        if (Console.IsOutputRedirected && !OperatingSystem.IsWindows())
        {
            var pipe = new FileStream(new SafeFileHandle(1, ownsHandle: false), FileAccess.Write, bufferSize: 0);
            if (!pipe.CanSeek)
                return new StandardOutput(pipe);
        }

        return new StandardOutput(Console.OpenStandardOutput());
    }

    /// <inheritdoc/>
    public override void Write(byte[] buffer, int offset, int count) => Write(buffer.AsSpan(offset, count));

    /// <inheritdoc/>
    public override void Write(ReadOnlySpan<byte> buffer)
    {
        try
        {
            inner.Write(buffer);
        }
        catch (IOException e) when (e.HResult == BrokenPipe)
        {
            throw new ReaderGoneException(e);
        }
    }

    /// <inheritdoc/>
    public override Task WriteAsync(byte[] buffer, int offset, int count, CancellationToken cancellationToken) => WriteAsync(buffer.AsMemory(offset, count), cancellationToken).AsTask();

    /// <inheritdoc/>
    public override ValueTask WriteAsync(ReadOnlyMemory<byte> buffer, CancellationToken cancellationToken = default) =>
        new(Task.Run(() => Write(buffer.Span), CancellationToken.None).WaitAsync(cancellationToken));

    /// <inheritdoc/>
    public override void Flush() => inner.Flush();

    /// <inheritdoc/>
    public override Task FlushAsync(CancellationToken cancellationToken)
    {
        // Nothing is kept here.
        inner.Flush();
        return Task.CompletedTask;
    }

    /// <inheritdoc/>
    public override int Read(byte[] buffer, int offset, int count) => throw new NotSupportedException();

    /// <inheritdoc/>
    public override long Seek(long offset, SeekOrigin origin) => throw new NotSupportedException();

    /// <inheritdoc/>
    public override void SetLength(long value) => throw new NotSupportedException();

    /// <inheritdoc/>
    protected override void Dispose(bool disposing)
    {
        if (disposing)
            inner.Dispose();
        base.Dispose(disposing);
    }
}
