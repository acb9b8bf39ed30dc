namespace SawEdge.Core.Oee;

/// <summary>A stretch of planned busy time that was one thing.</summary>
/// <param name="Time">When.</param>
/// <param name="Bucket">Where it belongs. Of work on a cut that took longer than its standard a part of each stretch is slow: the account tells how much, the stretch does not tell where.</param>
/// <param name="CycleId">The cut that was worked on; null: none, or the open one.</param>
/// <param name="Class">Of a stop what it is booked as; null: it is none.</param>
/// <param name="Reason">Of a stop its reason.</param>
public sealed record AccountStretch(Period Time, OeeBucket Bucket, string? CycleId = null, StopClass? Class = null, string Reason = "");
