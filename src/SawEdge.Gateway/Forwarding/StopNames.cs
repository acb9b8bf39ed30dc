using System.Globalization;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Forwarding;

/// <summary>
/// Which reasons of stops have a tag value of their own. InfluxQL sums by tags only, and each tag value is a series that a server keeps for ever, so
/// there must be an end to them: a controller that sends any number as a fault code, or a program that enters reasons, comes to the end of its share and
/// is one value from then on. What has a value keeps it: the history remembers it, before a point with it leaves. For several threads.
/// </summary>
public sealed class StopNames
{
    /// <summary>Faults that no rule of the plant gives a name.</summary>
    public const int MostFaults = 50;

    /// <summary>All other reasons.</summary>
    public const int MostReasons = 200;

    /// <summary>What stands for faults beyond these.</summary>
    public const string OtherFault = "another fault";

    /// <summary>What stands for reasons beyond these.</summary>
    public const string OtherReason = "another reason";

    private readonly HistoryReader _reader;
    private readonly HistoryWriter? _writer;
    private readonly Lock _gate = new();
    private readonly HashSet<string> _known = new(StringComparer.Ordinal);
    private readonly HashSet<string> _unsaved = new(StringComparer.Ordinal);
    private int _faults;

    /// <summary>Prepares it; one for all destinations of a gateway.</summary>
    /// <param name="reader">Reads what is remembered.</param>
    /// <param name="writer">Remembers; null where nothing is to be written, as beside a running gateway.</param>
    public StopNames(HistoryReader reader, HistoryWriter? writer)
    {
        _reader = reader;
        _writer = writer;
    }

    /// <summary>Reads what is remembered.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public async Task ReadAsync(CancellationToken cancellation)
    {
        var remembered = await _reader.StopNamesAsync(cancellation);
        lock (_gate)
        {
            foreach (var name in remembered)
                Add(name);
        }
    }

    /// <summary>The tag value of a reason, for good.</summary>
    public string TagOf(string reason)
    {
        var name = LineText.Tag(reason);
        lock (_gate)
        {
            if (_known.Contains(name))
                return name;
            var isFault = IsFault(name);
            if (isFault ? _faults >= MostFaults : _known.Count - _faults >= MostReasons)
                return isFault ? OtherFault : OtherReason;
            Add(name);
            _unsaved.Add(name);
            return name;
        }
    }

    /// <summary>Remembers what was given a value since; to be waited for before a point with it leaves.</summary>
    /// <exception cref="HistoryException">It cannot be stored.</exception>
    /// <exception cref="OperationCanceledException">Cancelled.</exception>
    public async Task KeepAsync(CancellationToken cancellation)
    {
        string[] names;
        lock (_gate)
            names = [.. _unsaved];
        if (names.Length == 0 || _writer is null)
            return;
        await _writer.SaveStopNamesAsync(names, cancellation);
        lock (_gate)
            _unsaved.ExceptWith(names);
    }

    private void Add(string name)
    {
        if (_known.Add(name) && IsFault(name))
            _faults++;
    }

    // As the timeline names a fault of which only the code is known.
    private static bool IsFault(string name) => name.StartsWith("fault ", StringComparison.Ordinal) && long.TryParse(name.AsSpan(6), NumberStyles.AllowLeadingSign, CultureInfo.InvariantCulture, out _);
}
