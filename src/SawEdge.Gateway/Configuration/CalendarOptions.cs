using SawEdge.Core.Oee;

namespace SawEdge.Gateway.Configuration;

/// <summary>When the plant means to work, and how time is told apart.</summary>
/// <param name="Calendar">The shifts.</param>
/// <param name="Settings">How time is told apart.</param>
public sealed record CalendarOptions(ShiftCalendar Calendar, OeeSettings Settings);
