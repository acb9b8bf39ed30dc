namespace SawEdge.Gateway.Api;

/// <summary>
/// The body of a long answer, to a reader who must take each piece of it in time. Kestrel's own least pace is one over the whole answer: a reader
/// that took the first megabytes at once could then keep what is read for him open for an hour.
/// </summary>
/// <param name="inner">Where the answer goes; not disposed.</param>
/// <param name="patience">How long a reader may take nothing.</param>
/// <param name="time">The wall clock.</param>
internal sealed class PatientStream(Stream inner, TimeSpan patience, TimeProvider time) : Stream
{
    private const int Piece = 64 * 1024;

    /// <summary>Whether a piece was not taken in time; then the writing was cancelled.</summary>
    public bool HasEnded { get; private set; }

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

    /// <inheritdoc/>
    public override async ValueTask WriteAsync(ReadOnlyMemory<byte> buffer, CancellationToken cancellationToken = default)
    {
        for (var rest = buffer; rest.Length > 0; rest = rest[Math.Min(Piece, rest.Length)..])
        {
            var piece = rest[..Math.Min(Piece, rest.Length)];
            await InTimeAsync(token => inner.WriteAsync(piece, token).AsTask(), cancellationToken);
        }
    }

    /// <inheritdoc/>
    public override Task WriteAsync(byte[] buffer, int offset, int count, CancellationToken cancellationToken) => WriteAsync(buffer.AsMemory(offset, count), cancellationToken).AsTask();

    /// <inheritdoc/>
    public override void Write(byte[] buffer, int offset, int count) => throw new NotSupportedException("An answer is written without waiting for its reader.");

    /// <inheritdoc/>
    public override Task FlushAsync(CancellationToken cancellationToken) => InTimeAsync(inner.FlushAsync, cancellationToken);

    /// <inheritdoc/>
    public override void Flush()
    {
        // Nothing is kept here, and what the server keeps goes out by itself.
    }

    /// <inheritdoc/>
    public override int Read(byte[] buffer, int offset, int count) => throw new NotSupportedException();

    /// <inheritdoc/>
    public override long Seek(long offset, SeekOrigin origin) => throw new NotSupportedException();

    /// <inheritdoc/>
    public override void SetLength(long value) => throw new NotSupportedException();

    private async Task InTimeAsync(Func<CancellationToken, Task> send, CancellationToken cancellation)
    {
        using var limit = new CancellationTokenSource(patience, time);
        using var either = CancellationTokenSource.CreateLinkedTokenSource(limit.Token, cancellation);
        try
        {
            await send(either.Token);
        }
        catch (OperationCanceledException) when (limit.IsCancellationRequested)
        {
            HasEnded = true;
            throw;
        }
    }
}
