using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Configuration.Binding;

/// <summary>Declares reports that are written by themselves.</summary>
internal static class ReportBinding
{
    /// <summary>One of them.</summary>
    public static ObjectType<ReportOptions> Type { get; } = new("report", "Reports that are written to a folder, as a page to print and as a table.", o =>
    {
        var folder = o.Required("folder", ValueTypes.Path("/var/lib/sawedge/reports"), "Folder for the files.");
        var each = o.Required(
            "each",
            new ChoiceType<ReportEach>(
                ("shift", ReportEach.Shift, "One after each shift."),
                ("day", ReportEach.Day, "One for the shifts that begin on a date."),
                ("week", ReportEach.Week, "One for the shifts that begin in a week, Monday to Sunday.")),
            "After what one is written.");
        return new ReportOptions(folder.Value is { } path ? Path.GetFullPath(path, o.Folder) : "", each);
    });
}
