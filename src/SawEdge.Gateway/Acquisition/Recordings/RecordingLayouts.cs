using SawEdge.Core.Signals;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Acquisition.Recordings;

/// <summary>How the signals of one saw stand in recordings of another logger.</summary>
/// <param name="Saw">Name of the saw.</param>
/// <param name="Source">Columns, format of the time, separator.</param>
/// <param name="Zone">Zone of times that name none.</param>
internal sealed record RecordingLayout(string Saw, RecordingSourceOptions Source, TimeZoneInfo Zone);

/// <summary>The saws of a configuration whose signals stand in recordings of other loggers.</summary>
public sealed class RecordingLayouts
{
    /// <summary>Takes them from a configuration.</summary>
    /// <param name="options">The configuration, or null: none.</param>
    public RecordingLayouts(GatewayOptions? options) => All =
    [
        .. (options?.Saws ?? []).Where(saw => saw.Source is RecordingSourceOptions).Select(saw =>
        {
            var source = (RecordingSourceOptions)saw.Source;
            return new RecordingLayout(saw.Name, source, source.TimeZone ?? options!.TimeZone);
        }),
    ];

    /// <summary>None: recordings of the gateway's own form alone are read.</summary>
    public static RecordingLayouts None { get; } = new(null);

    internal IReadOnlyList<RecordingLayout> All { get; }

    /// <summary>The saw that a file is about which does not say so itself: the one that was asked for, or the one after which it is named.</summary>
    internal static RecordingLayout? Meant(IReadOnlyList<RecordingLayout> layouts, string file, string? defaultSaw)
    {
        var name = Path.GetFileName(file);
        var dot = name.IndexOf('.', StringComparison.Ordinal);
        var stem = ControllerText.Clean(dot > 0 ? name[..dot] : name);
        return layouts.FirstOrDefault(layout => layout.Saw == (string.IsNullOrEmpty(defaultSaw) ? stem : defaultSaw)) ?? (string.IsNullOrEmpty(defaultSaw) && layouts.Count == 1 ? layouts[0] : null);
    }
}
