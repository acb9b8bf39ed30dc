using System.Globalization;
using System.Runtime.InteropServices;
using SawEdge.Core.Cycles;
using SawEdge.Gateway.Acquisition.Recordings;
using SawEdge.Gateway.Export;

namespace SawEdge.Gateway.Commands;

/// <summary>Counts what a replay read and found, and says it in plain lines.</summary>
internal sealed class ReplaySummary
{
    private readonly Dictionary<string, long> _framesOfSaw = new(StringComparer.Ordinal);
    private readonly SortedDictionary<CutOutcome, long> _cycles = [];
    private readonly SortedDictionary<string, long> _alarms = new(StringComparer.Ordinal);
    private DateTimeOffset _first = DateTimeOffset.MaxValue;
    private DateTimeOffset _last = DateTimeOffset.MinValue;

    /// <summary>Frames given so far.</summary>
    public long Frames { get; private set; }

    public void Count(ref RecordedFrame row)
    {
        Frames++;
        CollectionsMarshal.GetValueRefOrAddDefault(_framesOfSaw, row.Saw, out _)++;
        var time = row.Frame.Time;
        if (time < _first)
            _first = time;
        if (time > _last)
            _last = time;
    }

    /// <summary>Passes cycles on and counts them.</summary>
    public IRowSource Count(IRowSource cycles) => new CountedColumn(cycles, "outcome", outcome => Count(_cycles, CutOutcomes.Parse(outcome)));

    /// <summary>Passes alarms on and counts them.</summary>
    public IRowSource CountAlarms(IRowSource alarms) => new CountedColumn(alarms, "rule", rule => Count(_alarms, rule));

    public void Write(TextWriter output, int files, TimeSpan took, string cyclesFile, string alarmsFile)
    {
        var rate = took > TimeSpan.Zero ? Text($" ({Frames / took.TotalSeconds:N0} a second)") : "";
        output.WriteLine(Text($"{Number(files, "file")}, {Number(Frames, "frame")} of {Number(_framesOfSaw.Count, "saw")} in {took.TotalSeconds:0.0} s{rate}"));
        if (Frames > 0)
            output.WriteLine(Text($"{_first:yyyy-MM-dd'T'HH:mm:ss'Z'} to {_last:yyyy-MM-dd'T'HH:mm:ss'Z'}"));
        foreach (var (saw, frames) in _framesOfSaw.OrderBy(pair => pair.Key, StringComparer.Ordinal))
            output.WriteLine(Text($"  {saw}: {Number(frames, "frame")}"));

        var outcomes = string.Join(", ", _cycles.Select(pair => Text($"{pair.Value:N0} {pair.Key.ToName()}")));
        output.WriteLine(Text($"{Number(_cycles.Values.Sum(), "cycle")}{(outcomes.Length > 0 ? ": " : "")}{outcomes}"));
        var rules = string.Join(", ", _alarms.Select(pair => Text($"{pair.Value:N0} {pair.Key}")));
        output.WriteLine(Text($"{Number(_alarms.Values.Sum(), "alarm")}{(rules.Length > 0 ? ": " : "")}{rules}; those about silence, the disk, destinations and OEE have no part in a replay"));
        output.WriteLine($"written to {cyclesFile} and {alarmsFile}");
    }

    /// <summary>What was wrong in the recordings: the first of each kind, and how many there were.</summary>
    public static void WriteProblems(TextWriter error, RecordingProblems problems)
    {
        if (problems.All.Count == 0)
            return;
        error.WriteLine(Text($"{Number(problems.Count, "problem")} in the recordings:"));
        foreach (var problem in problems.All)
            error.WriteLine(Text($"  {problem}{(problem.Count > 1 ? Text($" ({problem.Count:N0} times)") : "")}"));
    }

    private static void Count<T>(SortedDictionary<T, long> counts, T what)
        where T : notnull
    {
        counts.TryGetValue(what, out var count);
        counts[what] = count + 1;
    }

    private static string Number(long count, string what) => Text($"{count:N0} {what}{(count == 1 ? "" : "s")}");

    private static string Text(FormattableString text) => FormattableString.Invariant(text);
}
