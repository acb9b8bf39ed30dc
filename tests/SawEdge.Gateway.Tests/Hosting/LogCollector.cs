using Microsoft.Extensions.Logging;
using SawEdge.Gateway.Tests.History;

namespace SawEdge.Gateway.Tests.Hosting;

/// <summary>Gives everybody a logger of one collected log.</summary>
internal sealed class LogCollector : ILoggerFactory
{
    private readonly CollectedLog _log = new();

    /// <summary>What was logged, in order.</summary>
    public IReadOnlyList<(int Id, LogLevel Level, string Text)> Entries => _log.Entries;

    /// <summary>Told the number of each entry, on the thread that logs it; or null.</summary>
    public Action<int>? OnEntry { set => _log.OnEntry = value; }

    public ILogger CreateLogger(string categoryName) => _log.For<LogCollector>();

    public void AddProvider(ILoggerProvider provider) => throw new NotSupportedException();

    public void Dispose()
    {
    }
}
