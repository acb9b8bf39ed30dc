using System.Collections.Concurrent;
using Microsoft.Extensions.Logging;

namespace SawEdge.Gateway.Tests.History;

/// <summary>Keeps what is logged, for a test to look at.</summary>
internal sealed class CollectedLog
{
    private readonly ConcurrentQueue<(int Id, LogLevel Level, string Text)> _entries = new();

    public IReadOnlyList<(int Id, LogLevel Level, string Text)> Entries => [.. _entries];

    /// <summary>The least level that is kept, as where nobody asked for more.</summary>
    public LogLevel Least { get; init; } = LogLevel.Information;

    public int Count(int id) => _entries.Count(entry => entry.Id == id);

    /// <summary>Told the number of each entry, on the thread that logs it; or null.</summary>
    public Action<int>? OnEntry { get; set; }

    public ILogger<T> For<T>() => new Logger<T>(this);

    private sealed class Logger<T>(CollectedLog log) : ILogger<T>
    {
        public IDisposable? BeginScope<TState>(TState state)
            where TState : notnull => null;

        public bool IsEnabled(LogLevel logLevel) => logLevel >= log.Least;

        public void Log<TState>(LogLevel logLevel, EventId eventId, TState state, Exception? exception, Func<TState, Exception?, string> formatter)
        {
            log._entries.Enqueue((eventId.Id, logLevel, formatter(state, exception)));
            log.OnEntry?.Invoke(eventId.Id);
        }
    }
}
