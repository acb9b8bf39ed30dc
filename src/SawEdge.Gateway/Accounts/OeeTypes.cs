using SawEdge.Core.Oee;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Accounts;

/// <summary>Whose figures are wanted.</summary>
public enum OeeBy : byte
{
    /// <summary>Of each saw.</summary>
    Saw,

    /// <summary>Of each group of saws; a saw without one is a group of its own.</summary>
    Group,

    /// <summary>Of all saws together.</summary>
    Site,
}

/// <summary>For which spans figures are wanted.</summary>
public enum OeeEach : byte
{
    /// <summary>Each hour by the plant's clock.</summary>
    Hour,

    /// <summary>Each shift.</summary>
    Shift,

    /// <summary>The shifts that begin on one date.</summary>
    Day,

    /// <summary>The days of an ISO 8601 week.</summary>
    Week,

    /// <summary>The whole period.</summary>
    Whole,
}

/// <summary>What figures are wanted.</summary>
/// <param name="Period">The period; what of it lies in the future is left out.</param>
/// <param name="Each">For which spans of it.</param>
/// <param name="By">Whose.</param>
/// <param name="Saws">Of which saws; null: of all.</param>
public sealed record OeeQuestion(Period Period, OeeEach Each, OeeBy By = OeeBy.Saw, IReadOnlyCollection<string>? Saws = null);

/// <summary>The figures of one saw, group or the site in one span.</summary>
/// <param name="Subject">Name of the saw, the group or the site.</param>
/// <param name="Time">The span, as far as it lies in the period and in the past.</param>
/// <param name="Label">Its name: the hour, the shift, the date, the week; of the whole period empty.</param>
/// <param name="Date">The date on which it begins, by the plant's clock.</param>
/// <param name="Buckets">Where the time went.</param>
/// <param name="Counter">The parts against the controller's counter; null: of more than one saw, or there is no counter.</param>
public sealed record OeeItem(string Subject, Period Time, string Label, DateOnly Date, OeeBuckets Buckets, CounterSum? Counter);

/// <summary>A stretch of a saw's time with what is known of it.</summary>
/// <param name="Time">The stretch.</param>
/// <param name="Part">What is known.</param>
internal readonly record struct AccountPiece(Period Time, AccountPart Part);
