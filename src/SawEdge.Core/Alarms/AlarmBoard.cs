using System.Diagnostics.CodeAnalysis;

namespace SawEdge.Core.Alarms;

/// <summary>What the board must know besides the rules.</summary>
public sealed record AlarmBoardSettings
{
    /// <summary>The source of each saw, by the saw's name: an alarm of a source silences its saws.</summary>
    public IReadOnlyDictionary<string, string> SourceOfSaw { get; init; } = new Dictionary<string, string>();

    /// <summary>Writes numbers with their units as the plant reads them.</summary>
    public required QuantityText Quantity { get; init; }

    /// <summary>Activations within <see cref="ChatterWithin"/> from which on an alarm chatters (ANSI/ISA-18.2: three or more in a minute; from memory).</summary>
    public int ChatterFrom { get; init; } = 3;

    /// <summary>See <see cref="ChatterFrom"/>.</summary>
    public TimeSpan ChatterWithin { get; init; } = TimeSpan.FromMinutes(1);

    /// <summary>How long the condition of a chattering alarm must be gone before it is cleared. Common practice, no source.</summary>
    public TimeSpan Settle { get; init; } = TimeSpan.FromMinutes(10);

    /// <summary>The longest time on the shelf. Common practice, no source.</summary>
    public TimeSpan LongestShelf { get; init; } = TimeSpan.FromDays(7);
}

/// <summary>
/// The life of all alarms: takes what came and went and what people said, and tells each transition. Pure: time comes in; not thread safe.
/// </summary>
public sealed class AlarmBoard
{
    /// <summary>Prepares a board without any alarm.</summary>
    /// <param name="rules">The rules; names are unique.</param>
    /// <param name="settings">What else it must know.</param>
    public AlarmBoard(IReadOnlyList<AlarmRule> rules, AlarmBoardSettings settings) => throw new NotImplementedException();

    /// <summary>The occurrences that are not closed, oldest first.</summary>
    public IReadOnlyList<Alarm> Open => throw new NotImplementedException();

    /// <summary>Takes what came or went. What the board knows already changes nothing.</summary>
    public void Take(ConditionChange change) => throw new NotImplementedException();

    /// <summary>Takes what a person said.</summary>
    /// <param name="answer">What was said.</param>
    /// <param name="at">When.</param>
    /// <returns>Null where it was done; otherwise why not and what would be right, a sentence.</returns>
    public string? Take(AlarmAnswer answer, DateTimeOffset at) => throw new NotImplementedException();

    /// <summary>Lets time pass: shelves end, hours begin and end, chattering settles.</summary>
    public void Advance(DateTimeOffset now) => throw new NotImplementedException();

    /// <summary>Takes the next event, oldest first.</summary>
    public bool TryTake([NotNullWhen(true)] out AlarmEvent? happened) => throw new NotImplementedException();

    /// <summary>All that must survive a restart, as JSON.</summary>
    public string Save() => throw new NotImplementedException();

    /// <summary>Continues from what <see cref="Save"/> gave. Alarms of rules that are gone are closed, and said so, by the next <see cref="Advance"/>.</summary>
    /// <exception cref="FormatException">It is nothing that this version saved.</exception>
    public void Restore(string saved) => throw new NotImplementedException();
}
