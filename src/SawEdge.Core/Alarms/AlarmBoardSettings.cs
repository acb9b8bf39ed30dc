namespace SawEdge.Core.Alarms;

/// <summary>What the board must know besides the rules.</summary>
public sealed record AlarmBoardSettings
{
    /// <summary>The source of each saw, by the saw's name: an alarm of a source silences its saws.</summary>
    public IReadOnlyDictionary<string, string> SourceOfSaw { get; init; } = new Dictionary<string, string>();

    /// <summary>What there is to have alarms about; alarms about anything else are closed as those of rules that are gone. Null: whatever comes.</summary>
    public IReadOnlySet<AlarmSubject>? Subjects { get; init; }

    /// <summary>Whether people are at work, by the plant's calendar: rules with <see cref="AlarmRule.InShifts"/> hold only then. Null: there is no calendar.</summary>
    public Func<DateTimeOffset, bool>? IsAtWork { get; init; }

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
