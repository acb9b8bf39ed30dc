namespace SawEdge.Gateway.Configuration;

/// <summary>One area of the log whose level can be set by itself.</summary>
/// <param name="Name">Its name in the configuration.</param>
/// <param name="Doc">What is said in it.</param>
/// <param name="Categories">What the names of the loggers in it begin with, below <c>SawEdge.Gateway.</c>; the longest that fits decides.</param>
public sealed record LogArea(string Name, string Doc, params IReadOnlyList<string> Categories)
{
    /// <summary>The area of whatever belongs to no other: the gateway as a whole.</summary>
    public static LogArea Gateway { get; } = new("gateway", "the gateway as a whole: start and end, clock, configuration, job list", "Hosting", "Configuration", "Commands", "Formats", "Telemetry");

    /// <summary>All areas, in the order of the documentation.</summary>
    public static IReadOnlyList<LogArea> All { get; } =
    [
        Gateway,
        new("acquisition", "what comes from the saws: polls, brokers, messages, recordings", "Acquisition", "Brokers"),
        new("processing", "cycles, blades, jobs, load scores", "Processing"),
        new("alarms", "what happens to alarms", "Processing.Alarms"),
        new("history", "the history on the disk, its size and its clearing", "History", "Hosting.HistoryKeeping", "Hosting.HealthWatch"),
        new("delivery", "InfluxDB and daily files", "Forwarding", "Export", "Hosting.DestinationsAgain", "Hosting.DeliveryStandings", "Hosting.RefusalCounts"),
        new("messages", "messages to people: webhook, e-mail, MQTT", "Notification"),
        new("oee", "OEE and reports", "Accounts", "Hosting.OeeWatch"),
        new("api", "the page and the API", "Api"),
    ];

    /// <summary>The area of a logger.</summary>
    /// <param name="category">The logger's name.</param>
    public static LogArea Of(string category)
    {
        const string Root = "SawEdge.Gateway.";
        if (!category.StartsWith(Root, StringComparison.Ordinal))
            return Gateway;
        var name = category[Root.Length..];
        return All
            .SelectMany(area => area.Categories.Select(prefix => (Area: area, Prefix: prefix)))
            .Where(one => name.StartsWith(one.Prefix, StringComparison.Ordinal) && (name.Length == one.Prefix.Length || name[one.Prefix.Length] == '.'))
            .OrderByDescending(one => one.Prefix.Length)
            .Select(one => one.Area)
            .FirstOrDefault() ?? Gateway;
    }
}
