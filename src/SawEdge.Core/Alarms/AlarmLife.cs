namespace SawEdge.Core.Alarms;

/// <summary>What moves an alarm from state to state.</summary>
public enum AlarmInput : byte
{
    /// <summary>The condition came.</summary>
    Come,

    /// <summary>The condition went.</summary>
    Go,

    /// <summary>A person acknowledges.</summary>
    Acknowledge,

    /// <summary>A person resets.</summary>
    Reset,

    /// <summary>A person shelves, or shelves until another moment.</summary>
    Shelve,

    /// <summary>The time on the shelf ends, or a person ends it.</summary>
    Unshelve,

    /// <summary>A person takes it out of service.</summary>
    TakeOutOfService,

    /// <summary>A person puts it back into service.</summary>
    ReturnToService,

    /// <summary>Something suppresses it by design from now on, while it is on the shelf.</summary>
    Suppress,

    /// <summary>Nothing suppresses it by design any more.</summary>
    Unsuppress,
}

/// <summary>What an input did.</summary>
/// <param name="Next">The life afterwards; as before where nothing happened.</param>
/// <param name="Kind">What happened; null: nothing.</param>
/// <param name="Refusal">Why a person's input is refused and what would be right: what follows the name of the alarm in a sentence; null where it is not.</param>
public readonly record struct AlarmStep(AlarmLife Next, AlarmEventKind? Kind, string? Refusal);

/// <summary>
/// Where one alarm, a rule about a subject, stands: the state machine of ANSI/ISA-18.2 (from memory) with the independent conditions of
/// OPC 10000-9 underneath. A value: <see cref="Step"/> gives the next one.
/// </summary>
/// <remarks>
/// An occurrence lives from its raising until nothing is left to be done about it. Suppression by design is about occurrences that
/// begin under it, and about those that are on the shelf or come back into service: what is announced is not taken from people's eyes.
/// While something is out of service, what would suppress it is of no interest. An occurrence that a person puts aside, or that was
/// never announced, ends with its condition, latched or not. What is latched and waits cannot be put aside: that would undo the latch.
/// </remarks>
public readonly record struct AlarmLife
{
    /// <summary>Whether there is an occurrence that is not closed.</summary>
    public bool Exists { get; init; }

    /// <summary>Whether its condition holds.</summary>
    public bool Active { get; init; }

    /// <summary>Whether a person took note of it.</summary>
    public bool Acknowledged { get; init; }

    /// <summary>Whether its condition is gone and it waits for a reset.</summary>
    public bool Latched { get; init; }

    /// <summary>Whether a person shelved it. May hold without an occurrence.</summary>
    public bool Shelved { get; init; }

    /// <summary>Whether it is suppressed by design.</summary>
    public bool Suppressed { get; init; }

    /// <summary>Whether a person took it out of service. May hold without an occurrence.</summary>
    public bool OutOfService { get; init; }

    /// <summary>The state: of those that hold, the last in the alphabet.</summary>
    public AlarmState State =>
        OutOfService ? AlarmState.OutOfService
        : Suppressed ? AlarmState.SuppressedByDesign
        : Shelved ? AlarmState.Shelved
        : !Exists ? AlarmState.Normal
        : Active ? Acknowledged ? AlarmState.Acknowledged : AlarmState.Unacknowledged
        : Latched ? Acknowledged ? AlarmState.LatchedAcknowledged : AlarmState.LatchedUnacknowledged
        : AlarmState.ReturnedUnacknowledged;

    /// <summary>Whether it is kept from people's eyes: G, H or I.</summary>
    public bool IsHidden => Shelved || Suppressed || OutOfService;

    // What a person put aside stays aside for the next occurrence.
    private AlarmLife Closed => new() { Shelved = Shelved, OutOfService = OutOfService };

    /// <summary>Takes an input.</summary>
    /// <param name="input">The input.</param>
    /// <param name="latch">Whether the rule latches.</param>
    /// <param name="suppress">Whether an occurrence that begins now, or comes from the shelf or back into service, is suppressed by design.</param>
    public AlarmStep Step(AlarmInput input, bool latch = false, bool suppress = false) => input switch
    {
        AlarmInput.Come when Active => Nothing,
        AlarmInput.Come when Exists => Done(this with { Active = true, Acknowledged = false, Latched = false }, AlarmEventKind.Raised),
        AlarmInput.Come => Done(this with { Exists = true, Active = true, Suppressed = suppress && !OutOfService }, AlarmEventKind.Raised),

        AlarmInput.Go when !Active => Nothing,
        AlarmInput.Go when IsHidden || (Acknowledged && !latch) => Done(Closed, AlarmEventKind.Cleared),
        AlarmInput.Go => Done(this with { Active = false, Latched = latch }, AlarmEventKind.Cleared),

        AlarmInput.Acknowledge when !Exists => Refused("is not open: there is nothing to acknowledge"),
        AlarmInput.Acknowledge when Acknowledged => Refused(Latched ? "is acknowledged already: reset it" : "is acknowledged already"),
        AlarmInput.Acknowledge => Done(Active || Latched ? this with { Acknowledged = true } : Closed, AlarmEventKind.Acknowledged),

        AlarmInput.Reset when !Exists => Refused("is not open: there is nothing to reset"),
        AlarmInput.Reset when Active => Refused("cannot be reset while its condition holds: put that right first"),
        AlarmInput.Reset when !Latched => Refused("is not latched: acknowledge it"),
        AlarmInput.Reset when !Acknowledged => Refused("is not acknowledged: acknowledge it first, then reset it"),
        AlarmInput.Reset => Done(Closed, AlarmEventKind.Reset),

        AlarmInput.Shelve when OutOfService => Refused("is out of service: put it back into service before you shelve it"),
        AlarmInput.Shelve when Latched => Refused("is latched and its condition is gone: acknowledge and reset it before you shelve it"),
        AlarmInput.Shelve => Done(Aside(this with { Shelved = true }), AlarmEventKind.Shelved),

        AlarmInput.Unshelve when !Shelved => Refused("is not on the shelf"),
        AlarmInput.Unshelve => Done(this with { Shelved = false, Suppressed = suppress && Active && !OutOfService }, AlarmEventKind.Unshelved),

        AlarmInput.TakeOutOfService when OutOfService => Refused("is out of service already"),
        AlarmInput.TakeOutOfService when Latched => Refused("is latched and its condition is gone: acknowledge and reset it before you take it out of service"),
        AlarmInput.TakeOutOfService => Done(Aside(this with { OutOfService = true, Suppressed = false }), AlarmEventKind.TakenOutOfService),

        AlarmInput.ReturnToService when !OutOfService => Refused("is in service already"),
        AlarmInput.ReturnToService => Done(this with { OutOfService = false, Suppressed = suppress && Active }, AlarmEventKind.ReturnedToService),

        AlarmInput.Suppress when Exists && Shelved && !Suppressed && !OutOfService => Done(this with { Suppressed = true }, AlarmEventKind.Suppressed),
        AlarmInput.Unsuppress when Suppressed => Done(this with { Suppressed = false }, AlarmEventKind.Unsuppressed),
        _ => Nothing,
    };

    private static AlarmStep Done(AlarmLife next, AlarmEventKind kind) => new(next, kind, null);

    // An occurrence whose condition is gone is over once a person has put it aside.
    private static AlarmLife Aside(AlarmLife life) => life.Active ? life : life.Closed;

    private AlarmStep Nothing => new(this, null, null);

    private AlarmStep Refused(string why) => new(this, null, why);
}
