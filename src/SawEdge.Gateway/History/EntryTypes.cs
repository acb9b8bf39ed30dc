using SawEdge.Core.Oee;

namespace SawEdge.Gateway.History;

/// <summary>A change that a person made, for the audit trail.</summary>
/// <param name="Who">Who made it: the name of a token, or of a user of the machine.</param>
/// <param name="Origin">From where: an address, or <see cref="Command"/>.</param>
/// <param name="Action">What was done, as <c>stop.reason</c>.</param>
/// <param name="Subject">What it was done to, as the name of a saw or the number of an alarm.</param>
/// <param name="Detail">The rest, JSON; empty: nothing more.</param>
public sealed record AuditEntry(string Who, string Origin, string Action, string Subject, string Detail = "")
{
    /// <summary>The origin of what was done on the command line.</summary>
    public const string Command = "command line";
}

/// <summary>An entry of the audit trail as it is stored.</summary>
/// <param name="Id">Its number; rises.</param>
/// <param name="At">When.</param>
/// <param name="Entry">What.</param>
public sealed record StoredAudit(long Id, DateTimeOffset At, AuditEntry Entry);

/// <summary>What a person said about a stop, as it is stored.</summary>
/// <param name="Id">Its number; rises.</param>
/// <param name="Saw">The saw.</param>
/// <param name="Entry">What was said.</param>
public sealed record StoredStopReason(long Id, string Saw, StopReason Entry);

/// <summary>Parts that are not good, as they are stored.</summary>
/// <param name="Id">Number of the entry; rises.</param>
/// <param name="Saw">The saw.</param>
/// <param name="Entry">The entry.</param>
/// <param name="EnteredAt">When it was entered.</param>
public sealed record StoredScrap(long Id, string Saw, ScrapEntry Entry, DateTimeOffset EnteredAt);

/// <summary>Who may use the API. The token itself is nowhere.</summary>
/// <param name="Id">Its number.</param>
/// <param name="Name">Its name; unique among those that hold.</param>
/// <param name="Role">What it allows, a word.</param>
/// <param name="MadeAt">When it was made.</param>
/// <param name="ExpiresAt">From when on it does not hold any more; null: never.</param>
/// <param name="RevokedAt">When it was revoked; null: it was not.</param>
public sealed record StoredToken(long Id, string Name, string Role, DateTimeOffset MadeAt, DateTimeOffset? ExpiresAt, DateTimeOffset? RevokedAt);
