namespace SawEdge.Core.Oee;

/// <summary>What time without execution is booked as.</summary>
public enum StopClass : byte
{
    /// <summary>
    /// Delay (ADET): the saw could run and has a job. The two OPC documents differ here: Machine Tools C.2.3 books all time that is not
    /// executing as down, OPC 40001-1 table 68 as delay while an order is registered. This follows the second.
    /// </summary>
    Delay,

    /// <summary>Down (ADOT): a fault, switched off, or nothing to do.</summary>
    Down,

    /// <summary>Setup (AUST): a blade, a bar or a job is changed.</summary>
    Setup,
}

/// <summary>The words for classes of stops outside the process.</summary>
public static class StopClassNames
{
    private static readonly string[] Names = ["delay", "down", "setup"];

    /// <summary>The word for a class, snake case.</summary>
    public static string ToName(this StopClass stop) => Names[(int)stop];

    /// <summary>The class for a word.</summary>
    /// <exception cref="FormatException">The word is none of the classes.</exception>
    public static StopClass Parse(string name)
    {
        var index = Array.IndexOf(Names, name);
        return index >= 0 ? (StopClass)index : throw new FormatException($"'{name}' is no class of stops; expected one of {string.Join(", ", Names)}.");
    }
}

/// <summary>Why a saw stood: entered later by a person. Of entries for the same time the one that was entered last holds.</summary>
/// <param name="Time">The time that it explains; only stops in it are concerned.</param>
/// <param name="Reason">The reason.</param>
/// <param name="Class">What it is booked as.</param>
/// <param name="EnteredAt">When it was entered.</param>
/// <param name="Who">Who entered it.</param>
public sealed record StopReason(Period Time, string Reason, StopClass Class, DateTimeOffset EnteredAt, string Who);

/// <summary>What a reason that the controller tells means: a rule of the plant.</summary>
/// <param name="Reason">The reason in the plant's words.</param>
/// <param name="Class">What it is booked as.</param>
public sealed record StopMeaning(string Reason, StopClass Class);

/// <summary>Parts that are not good: entered by a person, read from a counter, or sent by message. One cut is one part.</summary>
/// <param name="At">When it was found or counted.</param>
/// <param name="CycleId">The cut; null: not told, then the last parts before <paramref name="At"/> in the same shift are meant.</param>
/// <param name="Quantity">How many where no cut is named, at least 1.</param>
/// <param name="Job">The job whose parts are meant where no cut is named; empty: any.</param>
/// <param name="Reason">Why, or empty.</param>
/// <param name="Who">Who or what told it.</param>
public sealed record ScrapEntry(DateTimeOffset At, string? CycleId, int Quantity = 1, string Job = "", string Reason = "", string Who = "");

/// <summary>A stop's share of the time: how long a saw stood for one reason.</summary>
/// <param name="Class">What it is booked as.</param>
/// <param name="Reason">The reason.</param>
/// <param name="Time">How long.</param>
public sealed record StopTime(StopClass Class, string Reason, TimeSpan Time);
