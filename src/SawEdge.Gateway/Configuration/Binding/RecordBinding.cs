using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Configuration.Binding;

/// <summary>Declares the recording of every frame.</summary>
internal static class RecordBinding
{
    private const double Megabyte = 1_000_000;

    /// <summary>All of it.</summary>
    public static ObjectType<RecordOptions> Type { get; } = new("record", "Every frame as it comes, in files that replay can read.", o =>
    {
        var folder = o.Required("folder", ValueTypes.Path("/var/lib/sawedge/recordings"), "Folder for the files; for one gateway alone.");
        var size = o.Default("rollSize", Space("0.01 MB", "1 TB", ("10 MB", "10 GB")), "256 MB", "Size at which a file is ended and the next one begun.");
        var after = o.Default("rollAfter", ValueTypes.Time("1 min", "31 d"), "1 d", "Time after which a file is ended and the next one begun, at its multiples in UTC: with 1 d at midnight UTC, with 1 h on the hour.");
        var keep = o.Default("keep", Space("0.02 MB", "1000 TB"), "10 GB", "Most that all recordings in the folder may take; the oldest are removed to keep to it.");
        var compress = o.Default("compress", ValueTypes.Flag, "true", "Whether a file that is ended is compressed (.csv.gz).");
        if (keep.IsGood && size.IsGood && keep.Value < 2 * size.Value)
            o.Error(keep, "is less than two files of rollSize, so that hardly anything would be kept; make it at least twice rollSize, or rollSize smaller");
        return new RecordOptions
        {
            Folder = folder.Value is { } path ? Path.GetFullPath(path, o.Folder) : "",
            RollBytes = (long)(size.Value * Megabyte),
            RollAfter = after,
            KeepBytes = (long)(keep.Value * Megabyte),
            Compresses = compress,
        };
    });

    private static QuantityType<double> Space(string from, string to, (string, string)? usual = null) => new(QuantityKind.DiskSpace, from, to, megabytes => megabytes) { Usual = usual };
}
