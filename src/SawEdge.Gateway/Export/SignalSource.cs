using SawEdge.Core.Signals;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Formats.Tables;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Export;

/// <summary>Downsampled signals out of the history, a row a signal.</summary>
/// <param name="reader">The history.</param>
/// <param name="head">The table in the columns that were asked for.</param>
/// <param name="question">Which, and in which units.</param>
internal sealed class SignalSource(HistoryReader reader, TableHead head, ExportQuestion question) : IRowSource
{
    private readonly SampleFilter _filter = new() { Saws = question.Saws, From = question.From, To = question.To };
    private readonly Column[] _columns = [.. head.Columns.Select(column => Getter(column.Name))];
    private readonly InchUnit?[] _inches = [.. SignalSample.Signals.Select(info => question.Units == DisplayUnits.Inch ? InchUnit.Of(info.Unit) : null)];
    private readonly Queue<SawSample> _read = new();
    private SawSample? _last;
    private bool _ended;
    private int _signal;

    private delegate Cell Column(in SawSample sample, SignalInfo info, in SignalFigures figures, InchUnit? inch);

    /// <inheritdoc/>
    public TableHead Head => head;

    /// <inheritdoc/>
    /// <remarks>How many signals a sample has, only a look into each tells.</remarks>
    public Task<long?> CountAsync(CancellationToken cancellation) => Task.FromResult<long?>(null);

    /// <inheritdoc/>
    public async Task FillAsync(RowBatch batch, CancellationToken cancellation)
    {
        while (!batch.IsFull)
        {
            if (_read.TryPeek(out var sample))
            {
                Add(batch, sample);
                continue;
            }

            if (_ended)
                return;
            var most = Math.Max(1, (batch.Capacity - batch.Count) / SignalSample.Signals.Count);
            foreach (var read in await reader.SamplePageAsync(_filter, _last, most, cancellation))
            {
                _read.Enqueue(read);
                _last = read;
            }

            _ended = _read.Count < most;
        }
    }

    private void Add(RowBatch batch, in SawSample sample)
    {
        for (; _signal < SignalSample.Signals.Count; _signal++)
        {
            ref readonly var figures = ref sample.Sample.Figures[_signal];
            if (figures.Count == 0)
                continue;
            if (batch.IsFull)
                return;
            var row = batch.Add();
            for (var i = 0; i < row.Length; i++)
                row[i] = _columns[i](sample, SignalSample.Signals[_signal], figures, _inches[_signal]);
        }

        _signal = 0;
        _read.Dequeue();
    }

    private static Column Getter(string column) => column switch
    {
        "time" => (in SawSample sample, SignalInfo _, in SignalFigures _, InchUnit? _) => Cell.Of(sample.Sample.From),
        "saw" => (in SawSample sample, SignalInfo _, in SignalFigures _, InchUnit? _) => Cell.Of(sample.Saw),
        "signal" => (in SawSample _, SignalInfo info, in SignalFigures _, InchUnit? _) => Cell.Of(info.Name),
        "unit" => (in SawSample _, SignalInfo info, in SignalFigures _, InchUnit? inch) => Cell.Of(inch?.Inch ?? info.Unit),
        "interval_s" => (in SawSample sample, SignalInfo _, in SignalFigures _, InchUnit? _) => Cell.Of(sample.Sample.Every.TotalSeconds),
        "frames" => (in SawSample _, SignalInfo _, in SignalFigures figures, InchUnit? _) => Cell.Of((long)figures.Count),
        "mean" => (in SawSample _, SignalInfo _, in SignalFigures figures, InchUnit? inch) => Value(figures.Mean, inch),
        "min" => (in SawSample _, SignalInfo _, in SignalFigures figures, InchUnit? inch) => Value(figures.Least, inch),
        "max" => (in SawSample _, SignalInfo _, in SignalFigures figures, InchUnit? inch) => Value(figures.Greatest, inch),
        "last" => (in SawSample _, SignalInfo _, in SignalFigures figures, InchUnit? inch) => Value(figures.Last, inch),
        _ => throw new InvalidOperationException($"The table signals has a column '{column}' that nobody fills."),
    };

    private static Cell Value(float value, InchUnit? inch) => Cell.Of(inch is null ? ShortFloat.ToDouble(value) : inch.Convert(ShortFloat.ToDouble(value)));
}
