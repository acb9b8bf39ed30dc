using System.Globalization;

namespace SawEdge.Gateway.Acquisition.Recordings;

/// <summary>One kind of mistake in one column of one file: where it was first seen, and how often.</summary>
public sealed class RecordingProblem
{
    internal RecordingProblem(string file, string column, string kind, long line, string message)
    {
        File = file;
        Column = column;
        Kind = kind;
        Line = line;
        Message = message;
    }

    /// <summary>The file as the user named it.</summary>
    public string File { get; }

    /// <summary>Name of the column; empty where a whole row or the file is meant.</summary>
    public string Column { get; }

    /// <summary>What kind of mistake, a few words.</summary>
    public string Kind { get; }

    /// <summary>Line of the first one, from 1; 0 where the file as a whole is meant.</summary>
    public long Line { get; }

    /// <summary>The first one: what is there, and what would be right.</summary>
    public string Message { get; }

    /// <summary>How many there were.</summary>
    public long Count { get; internal set; } = 1;

    /// <summary>The first occurrence in one line: <c>file:line: message</c>.</summary>
    public override string ToString() => Line > 0 ? string.Create(CultureInfo.InvariantCulture, $"{File}:{Line}: {Message}") : $"{File}: {Message}";
}

/// <summary>
/// Collects what is wrong in recordings: each kind of mistake once for each column of a file, at its first occurrence, then
/// counted. Not for use from several threads at once.
/// </summary>
public sealed class RecordingProblems
{
    private readonly Dictionary<(string File, string Column, string Kind), RecordingProblem> _known = [];
    private readonly List<RecordingProblem> _ordered = [];
    private readonly Action<RecordingProblem>? _onFirst;

    /// <summary>Starts with none.</summary>
    /// <param name="onFirst">Told of each first occurrence, as it is met.</param>
    public RecordingProblems(Action<RecordingProblem>? onFirst = null) => _onFirst = onFirst;

    /// <summary>All kinds met, in the order of their first occurrence.</summary>
    public IReadOnlyList<RecordingProblem> All => _ordered;

    /// <summary>How many mistakes there were in all.</summary>
    public long Count => _ordered.Sum(problem => problem.Count);

    internal void Add(string file, string column, string kind, long line, string message)
    {
        var problem = new RecordingProblem(file, column, kind, line, message);
        _known[(file, column, kind)] = problem;
        _ordered.Add(problem);
        _onFirst?.Invoke(problem);
    }

    // So that a mistake in each row costs no message text for each row.
    internal bool CountAgain(string file, string column, string kind)
    {
        if (!_known.TryGetValue((file, column, kind), out var known))
            return false;
        known.Count++;
        return true;
    }
}
