using Microsoft.Extensions.Logging;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Tests.Configuration;

public class ConfigurationLogTests
{
    [Fact]
    public void LogFindings_EachFinding_IsOneLineOfItsSeverity()
    {
        var log = new Kept();
        var text = Sample.With(("saws[0].interval", "\"5 s\""), ("devices[0].port", "0"));
        var port = text.IndexOf("\"port\":0", StringComparison.Ordinal) + "\"port\":".Length + 1;
        var interval = text.IndexOf("\"5 s\"", StringComparison.Ordinal) + 1;
        log.LogFindings("sawedge.json", Sample.Load(text).Findings);

        Assert.Equal(
            [
                (LogLevel.Error, 1001, $"sawedge.json: devices[0].port (line 1, column {port}): 0 is out of range; write 1 to 65535"),
                (LogLevel.Warning, 1002, $"sawedge.json: saws[0].interval (line 1, column {interval}): '5 s' is unusual (10 ms to 2 s is common); is the unit right?"),
            ],
            log.Lines);
    }

    private sealed class Kept : ILogger
    {
        public List<(LogLevel, int, string)> Lines { get; } = [];

        public IDisposable? BeginScope<TState>(TState state)
            where TState : notnull => null;

        public bool IsEnabled(LogLevel logLevel) => true;

        public void Log<TState>(LogLevel logLevel, EventId eventId, TState state, Exception? exception, Func<TState, Exception?, string> formatter) =>
            Lines.Add((logLevel, eventId.Id, formatter(state, exception)));
    }
}
