using System.Collections.Concurrent;
using Microsoft.Extensions.Logging;
using SawEdge.Gateway.Acquisition.Modbus;

namespace SawEdge.Gateway.Tests.Acquisition.Modbus;

/// <summary>Keeps what was logged.</summary>
internal sealed class MessageLog : ILogger<ModbusDevicePoller>
{
    private readonly ConcurrentQueue<(int Id, string Message)> _messages = new();

    /// <summary>Every message so far.</summary>
    public IReadOnlyList<(int Id, string Message)> Messages => [.. _messages];

    /// <summary>Messages of one event.</summary>
    public IReadOnlyList<string> Of(int id) => [.. _messages.Where(message => message.Id == id).Select(message => message.Message)];

    public IDisposable? BeginScope<TState>(TState state)
        where TState : notnull => null;

    public bool IsEnabled(LogLevel logLevel) => logLevel >= LogLevel.Information;

    public void Log<TState>(LogLevel logLevel, EventId eventId, TState state, Exception? exception, Func<TState, Exception?, string> formatter) =>
        _messages.Enqueue((eventId.Id, formatter(state, exception)));
}
