using SawEdge.Core.Notation;
using SawEdge.Core.Signals;

namespace SawEdge.Gateway.Acquisition.Recordings;

/// <summary>What one column of a recording holds.</summary>
internal enum ColumnRole : byte
{
    /// <summary>Nothing that is known; passed over.</summary>
    Unknown,

    /// <summary>The time of the row.</summary>
    Time,

    /// <summary>The name of the saw.</summary>
    Saw,

    /// <summary>A signal.</summary>
    Signal,
}

/// <summary>One column of a recording.</summary>
/// <param name="Role">What it holds.</param>
/// <param name="Name">Its name in the file.</param>
/// <param name="Signal">The signal, where it holds one.</param>
/// <param name="Kind">How its values are written.</param>
internal readonly record struct RecordingColumn(ColumnRole Role, string Name, Signal Signal, SignalKind Kind);

/// <summary>The first line of a recording: <c>time,saw,</c> and signals, in any order.</summary>
internal static class RecordingHeader
{
    public const string Time = "time";

    public const string Saw = "saw";

    private static readonly IReadOnlyList<string> Known = [Time, Saw, .. SignalInfo.All.Select(info => info.Name)];

    /// <summary>Reads the header; says which columns are not known.</summary>
    /// <exception cref="RecordingException">It is no header of a recording.</exception>
    public static RecordingColumn[] Parse(string file, IReadOnlyList<string> raw, RecordingProblems problems)
    {
        var names = raw.Select(ControllerText.Clean).ToList();
        var columns = names.Select(ToColumn).ToArray();
        var known = columns.Where(column => column.Role != ColumnRole.Unknown).ToList();
        if (known.Count == 0)
            throw new RecordingException($"{file}: the first line is no header of a recording; it should be time,saw and signal names, separated by commas: {Names(Known)}.{SeparatorHint(raw)}");

        var twice = known.GroupBy(column => column.Name, StringComparer.Ordinal).FirstOrDefault(group => group.Count() > 1);
        if (twice is not null)
            throw new RecordingException($"{file}: the column '{twice.Key}' is there {twice.Count()} times; which one is meant? Leave each column once.");
        if (!known.Exists(column => column.Role == ColumnRole.Time))
            throw new RecordingException($"{file}: there is no column '{Time}'{Alternative(names, Time)}; each row needs its moment, for example 2026-03-02T06:00:00.000Z.");
        if (!known.Exists(column => column.Role == ColumnRole.Signal))
            throw new RecordingException($"{file}: no column is a signal; at least head_position or cutting, and motor_load, are needed of {Names(Known.Skip(2))}.");

        for (var i = 0; i < columns.Length; i++)
        {
            if (columns[i].Role == ColumnRole.Unknown)
                problems.Add(file, $"{i + 1}:{columns[i].Name}", "unknown column", 1, Unknown(i + 1, columns[i].Name));
        }

        return columns;
    }

    private static RecordingColumn ToColumn(string name) => name switch
    {
        Time => new(ColumnRole.Time, name, default, default),
        Saw => new(ColumnRole.Saw, name, default, default),
        _ when SignalInfo.TryFind(name, out var info) => new(ColumnRole.Signal, name, info.Signal, info.Kind),
        _ => new(ColumnRole.Unknown, name, default, default),
    };

    private static string Unknown(int number, string name)
    {
        if (name.Length == 0)
            return $"column {number} has no name; it is passed over.";
        var nearest = Nearest(name);
        return nearest is null
            ? $"the column '{name}' is no signal and is passed over; known are {Names(Known)}."
            : $"the column '{name}' is no signal and is passed over; is '{nearest}' meant?";
    }

    private static string Alternative(List<string> names, string wanted)
    {
        var near = names.FirstOrDefault(name => Nearest(name) == wanted);
        return near is null ? "" : $" ('{near}' should be '{wanted}')";
    }

    private static string SeparatorHint(IReadOnlyList<string> names)
    {
        var first = names.Count == 1 ? names[0] : "";
        return first.Contains(';', StringComparison.Ordinal) ? " The line holds ';': is that the separator? It should be ','."
            : first.Contains('\t', StringComparison.Ordinal) ? " The line holds tabs: are they the separator? It should be ','."
            : "";
    }

    private static string Names(IEnumerable<string> names) => string.Join(", ", names);

    /// <summary>The known name that a mistyped one most likely means, or null.</summary>
    internal static string? Nearest(string name)
    {
        var plain = Plain(name);
        var best = Known.Select(known => (Name: known, Distance: EditDistance.Between(plain, Plain(known)))).MinBy(candidate => candidate.Distance);
        return best.Distance <= Math.Max(1, best.Name.Length / 3) ? best.Name : null;
    }

    // "Head Position", "headPosition" and "head-position" are head_position.
    private static string Plain(string name) => string.Concat(name.Where(char.IsLetterOrDigit).Select(char.ToLowerInvariant));
}
