using System.Globalization;
using Microsoft.Extensions.Logging;
using SawEdge.Core.Signals;

namespace SawEdge.Gateway.Commands.Commissioning;

/// <summary>A trouble that was said.</summary>
/// <param name="At">When.</param>
/// <param name="Text">The sentences.</param>
/// <param name="IsOver">Whether these sentences say that a trouble is over.</param>
/// <param name="EventId">Number of the event.</param>
internal sealed record SaidTrouble(DateTimeOffset At, string Text, bool IsOver, int EventId);

/// <summary>
/// Takes what the sources say, which is each trouble once when it begins (a warning) and once when it ends (the event with the next
/// number, about the same thing), and keeps what holds now, and for a while what is over.
/// </summary>
internal sealed class Troubles(TimeProvider time) : ILoggerProvider
{
    /// <summary>How long the end of a trouble is shown.</summary>
    public static readonly TimeSpan ShownAfterTheEnd = TimeSpan.FromSeconds(20);

    private const int Most = 16;
    private const int LongestText = 600;

    // What a trouble is about, by the names in the messages: the end of a trouble has the same ones.
    private static readonly string[] About = ["Device", "Saw", "Broker", "Topic", "Signal", "Signals", "Node", "Metric"];

    private readonly Lock _gate = new();
    private readonly List<(SaidTrouble Said, string About)> _open = [];
    private readonly List<SaidTrouble> _ended = [];

    /// <summary>What is wrong now, oldest first, and what ended a short while ago.</summary>
    public IReadOnlyList<SaidTrouble> Now
    {
        get
        {
            lock (_gate)
            {
                _ended.RemoveAll(said => time.GetUtcNow() - said.At > ShownAfterTheEnd);
                return [.. _open.Select(entry => entry.Said), .. _ended];
            }
        }
    }

    /// <summary>How many troubles were said since the start.</summary>
    public long Said { get; private set; }

    /// <inheritdoc/>
    public ILogger CreateLogger(string categoryName) => new Listener(this);

    /// <inheritdoc/>
    public void Dispose()
    {
        // Nothing to let go of.
    }

    private void Take(LogLevel level, int id, string about, string text)
    {
        var said = new SaidTrouble(time.GetUtcNow(), ControllerText.CleanUpTo(text, LongestText), level < LogLevel.Warning, id);
        lock (_gate)
        {
            if (level < LogLevel.Warning)
            {
                if (_open.RemoveAll(entry => entry.Said.EventId == id - 1 && entry.About == about) > 0)
                    Keep(_ended, said);
                return;
            }

            Said++;
            _open.RemoveAll(entry => entry.Said.EventId == id && entry.About == about);
            Keep(_open, (said, about));
        }
    }

    private static void Keep<T>(List<T> list, T item)
    {
        if (list.Count == Most)
            list.RemoveAt(0);
        list.Add(item);
    }

    private sealed class Listener(Troubles troubles) : ILogger
    {
        public IDisposable? BeginScope<TState>(TState state)
            where TState : notnull => null;

        public bool IsEnabled(LogLevel logLevel) => logLevel >= LogLevel.Information;

        public void Log<TState>(LogLevel logLevel, EventId eventId, TState state, Exception? exception, Func<TState, Exception?, string> formatter)
        {
            var about = state is IReadOnlyList<KeyValuePair<string, object?>> values
                ? string.Join('\n', values.Where(pair => About.Contains(pair.Key)).Select(pair => Convert.ToString(pair.Value, CultureInfo.InvariantCulture)))
                : "";
            troubles.Take(logLevel, eventId.Id, about, formatter(state, exception));
        }
    }
}
