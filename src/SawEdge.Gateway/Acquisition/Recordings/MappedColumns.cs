using SawEdge.Core.Notation;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Formats;

namespace SawEdge.Gateway.Acquisition.Recordings;

/// <summary>The columns of a file of another logger, for one saw: where its time and its signals stand.</summary>
internal sealed class MappedColumns
{
    private readonly string[] _names;

    private MappedColumns(RecordingLayout layout, string[] names)
    {
        _names = names;
        Layout = layout;
        Times = new WrittenTime(layout.Zone, layout.Source.TimeFormat);
        Signals = [];
    }

    /// <summary>What was asked for.</summary>
    public RecordingLayout Layout { get; }

    /// <summary>Column of the time.</summary>
    public int Time { get; private set; }

    /// <summary>Column of the date, or -1.</summary>
    public int Date { get; private set; } = -1;

    /// <summary>Column that names the saw, or -1.</summary>
    public int Saw { get; private set; } = -1;

    /// <summary>The signals and their columns.</summary>
    public (MappedSignal Signal, string Name, int Column)[] Signals { get; private set; }

    /// <summary>Reads times.</summary>
    public WrittenTime Times { get; }

    /// <summary>Time of the last row, UTC ticks.</summary>
    public long LastTicks { get; set; }

    /// <summary>Which columns are looked at.</summary>
    public IEnumerable<int> Used => Signals.Select(signal => signal.Column).Append(Time).Append(Date).Append(Saw).Where(column => column >= 0);

    /// <summary>Whether a header can be that of a layout: it holds the column of its time.</summary>
    public static bool Fits(RecordingLayout layout, IEnumerable<string> names) => names.Contains(layout.Source.TimeColumn, StringComparer.Ordinal);

    /// <summary>Finds the columns.</summary>
    /// <exception cref="RecordingException">One is not there, or there twice.</exception>
    public static MappedColumns Find(string file, RecordingLayout layout, string[] names, long lastTicks = 0)
    {
        var source = layout.Source;
        var columns = new MappedColumns(layout, names) { LastTicks = lastTicks };
        columns.Time = columns.Find(file, source.TimeColumn, "timeColumn");
        if (source.DateColumn is { } date)
            columns.Date = columns.Find(file, date, "dateColumn");
        if (source.SawColumn is { } saw)
            columns.Saw = columns.Find(file, saw, "sawColumn");
        columns.Signals = [.. source.Signals.Select(mapping => (new MappedSignal(mapping), mapping.Column, columns.Find(file, mapping.Column, $"signals.{SignalInfo.Of(mapping.Signal).Name}")))];
        return columns;
    }

    /// <summary>Why a header is not that of a layout.</summary>
    public static string Misfit(string file, RecordingLayout layout, string[] names) => Missing(file, layout, layout.Source.TimeColumn, "timeColumn", names);

    private int Find(string file, string name, string setting)
    {
        var at = Array.IndexOf(_names, name);
        if (at < 0)
            throw new RecordingException(Missing(file, Layout, name, setting, _names));
        if (Array.LastIndexOf(_names, name) != at)
            throw new RecordingException($"{file}: the column '{name}' is there {_names.Count(other => other == name)} times; which one is meant for {setting} of saw '{Layout.Saw}'? Leave it once.");
        return at;
    }

    private static string Missing(string file, RecordingLayout layout, string name, string setting, string[] names)
    {
        var separator = layout.Source.Separator;
        if (names.Length == 1 && Array.Find([';', '\t', ',', '|'], other => other != separator && names[0].Contains(other, StringComparison.Ordinal)) is var found and not '\0')
            return $"{file}: the header is one column with {Shown(separator)} as the separator, and it holds {Shown(found)}: write \"separator\": \"{(found == '\t' ? "tab" : found)}\" for saw '{layout.Saw}'.";
        var nearest = names.Where(other => other.Length > 0).Select(other => (Name: other, Distance: EditDistance.Between(Plain(name), Plain(other)))).OrderBy(other => other.Distance).FirstOrDefault();
        var hint = nearest.Name is not null && nearest.Distance <= Math.Max(1, name.Length / 3) ? $" Is '{nearest.Name}' meant?" : "";
        return $"{file}: there is no column '{name}' ({setting} of saw '{layout.Saw}').{hint} The columns are: {ControllerText.CleanUpTo(string.Join(", ", names), 400)}.";
    }

    private static string Shown(char separator) => separator == '\t' ? "a tab" : $"'{separator}'";

    // "Head Position", "head_position" and "HeadPosition" are one name, and so are "Höhe" and "Hoehe".
    private static string Plain(string name) => string.Concat(name.Where(char.IsLetterOrDigit).Select(char.ToLowerInvariant).Select(c => c switch
    {
        'ä' => "ae",
        'ö' => "oe",
        'ü' => "ue",
        'ß' => "ss",
        _ => c.ToString(),
    }));
}
