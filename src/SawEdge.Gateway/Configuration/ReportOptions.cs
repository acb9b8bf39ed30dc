namespace SawEdge.Gateway.Configuration;

/// <summary>What a report is about.</summary>
public enum ReportEach
{
    /// <summary>One shift.</summary>
    Shift,

    /// <summary>The shifts that begin on one date.</summary>
    Day,

    /// <summary>The shifts that begin in one week, Monday to Sunday.</summary>
    Week,
}

/// <summary>Reports that the gateway writes by itself.</summary>
/// <param name="Folder">Where, full path.</param>
/// <param name="Each">One after each of these.</param>
public sealed record ReportOptions(string Folder, ReportEach Each);
