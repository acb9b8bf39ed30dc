using SawEdge.Core.Oee;
using SawEdge.Gateway.Formats.Tables;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Export;

/// <summary>What saws did, out of the history; stops parted where what people entered about them changes.</summary>
/// <param name="reader">The history.</param>
/// <param name="head">The table in the columns that were asked for.</param>
/// <param name="question">Which.</param>
internal sealed class StateSource(HistoryReader reader, TableHead head, ExportQuestion question) : IRowSource
{
    private readonly Func<Piece, Cell>[] _columns = [.. head.Columns.Select(column => Getter(column.Name))];
    private readonly Queue<Piece> _read = new();
    private StatePlace? _place;
    private bool _ended;

    /// <inheritdoc/>
    public TableHead Head => head;

    /// <inheritdoc/>
    public async Task<long?> CountAsync(CancellationToken cancellation) => question.Jobs is not null ? null : await reader.CountStatesAsync(question.Saws, question.From, question.To, cancellation);

    /// <inheritdoc/>
    public async Task FillAsync(RowBatch batch, CancellationToken cancellation)
    {
        while (!batch.IsFull)
        {
            if (_read.TryDequeue(out var piece))
            {
                var row = batch.Add();
                for (var i = 0; i < row.Length; i++)
                    row[i] = _columns[i](piece);
                continue;
            }

            if (_ended)
                return;
            var page = await reader.StatePageAsync(question.Saws, question.Jobs, question.From, question.To, _place, batch.Capacity - batch.Count, cancellation);
            _place = page.Next;
            _ended = _place is null;
            foreach (var segment in page.Segments)
                Part(page.Saw, segment, page.Reasons);
        }
    }

    // Of entries for the same time the one that was entered last holds; they explain stops alone.
    private void Part(string saw, StateSegment segment, IReadOnlyList<StopReason> reasons)
    {
        var touching = segment.State is TimelineState.Executing or TimelineState.Unknown
            ? []
            : reasons.Where(reason => reason.Time.From < segment.To && reason.Time.To > segment.From).ToList();
        var bounds = touching.SelectMany(reason => (DateTimeOffset[])[reason.Time.From, reason.Time.To]).Where(at => at > segment.From && at < segment.To).Append(segment.To).Distinct().Order();
        var from = segment.From;
        Piece? open = null;
        foreach (var to in bounds)
        {
            // MaxBy gives the first of the greatest: of those entered in the same millisecond, the later number holds.
            var holds = touching.AsEnumerable().Reverse().Where(reason => reason.Time.From <= from && reason.Time.To > from).MaxBy(reason => reason.EnteredAt);
            if (open is not null && ReferenceEquals(open.Entry, holds))
            {
                open = open with { To = to };
            }
            else
            {
                if (open is not null)
                    _read.Enqueue(open);
                open = new Piece(saw, segment, from, to, holds);
            }

            from = to;
        }

        _read.Enqueue(open!);
    }

    private static Func<Piece, Cell> Getter(string column) => column switch
    {
        "saw" => piece => Cell.Of(piece.Saw),
        "started_at" => piece => Cell.Of(piece.From),
        "ended_at" => piece => Cell.Of(piece.To),
        "duration_s" => piece => Cell.Of((piece.To - piece.From).TotalSeconds),
        "state" => piece => Cell.Of(piece.Segment.State.ToName()),
        "reason" => piece => Cell.Of(piece.Segment.Reason),
        "job" => piece => Cell.Of(piece.Segment.Job),
        "entered_reason" => piece => Cell.Of(piece.Entry?.Reason ?? ""),
        "entered_class" => piece => Cell.Of(piece.Entry?.Class.ToName() ?? ""),
        "entered_by" => piece => Cell.Of(piece.Entry?.Who ?? ""),
        "entered_at" => piece => piece.Entry is { } entry ? Cell.Of(entry.EnteredAt) : default,
        _ => throw new InvalidOperationException($"The table states has a column '{column}' that nobody fills."),
    };

    private sealed record Piece(string Saw, StateSegment Segment, DateTimeOffset From, DateTimeOffset To, StopReason? Entry);
}
