using Microsoft.Extensions.Hosting;

namespace SawEdge.Gateway.Tests.Hosting;

/// <summary>A process that a gateway in a test runs in: tells whether it was asked to stop.</summary>
internal sealed class TestLifetime : IHostApplicationLifetime, IDisposable
{
    private readonly CancellationTokenSource _stopping = new();

    public CancellationToken ApplicationStarted => CancellationToken.None;

    public CancellationToken ApplicationStopping => _stopping.Token;

    public CancellationToken ApplicationStopped => CancellationToken.None;

    public void StopApplication() => _stopping.Cancel();

    public void Dispose() => _stopping.Dispose();
}
