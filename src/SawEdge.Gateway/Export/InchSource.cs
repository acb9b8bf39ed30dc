using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Formats.Tables;

namespace SawEdge.Gateway.Export;

/// <summary>A table in the units of people who read inches: values are changed in place, and columns named by their new units. What has no such unit stays metric.</summary>
internal sealed class InchSource : IRowSource
{
    private readonly IRowSource _metric;
    private readonly (int Column, InchUnit Unit)[] _changes;

    /// <summary>A metric table brought to inches.</summary>
    public InchSource(IRowSource metric)
    {
        _metric = metric;
        _changes = [.. metric.Head.Columns.Index().Select(column => (column.Index, Unit: InchUnit.Of(column.Item.Unit))).Where(column => column.Unit is not null).Select(column => (column.Index, column.Unit!))];
        Head = metric.Head with { Columns = [.. metric.Head.Columns.Select(Column)] };
    }

    /// <inheritdoc/>
    public TableHead Head { get; }

    /// <summary>A column in inches: <c>cut_area_cm2</c> becomes <c>cut_area_in2</c>. One that stays metric is given back as it is.</summary>
    public static TableColumn Column(TableColumn metric)
    {
        if (InchUnit.Of(metric.Unit) is not { } unit)
            return metric;
        var suffix = Suffix(unit.Metric);
        if (!metric.Name.EndsWith(suffix, StringComparison.Ordinal))
            throw new InvalidOperationException($"The column {metric.Name} is in {metric.Unit}, and its name does not end with {suffix}.");
        return metric with { Name = metric.Name[..^suffix.Length] + Suffix(unit.Inch), Unit = unit.Inch };
    }

    /// <inheritdoc/>
    public Task<long?> CountAsync(CancellationToken cancellation) => _metric.CountAsync(cancellation);

    /// <inheritdoc/>
    public async Task FillAsync(RowBatch batch, CancellationToken cancellation)
    {
        await _metric.FillAsync(batch, cancellation);
        for (var i = 0; i < batch.Count; i++)
        {
            var row = batch.Change(i);
            foreach (var (column, unit) in _changes)
            {
                if (row[column].IsKnown)
                    row[column] = Cell.Of(unit.Convert(row[column].Number));
            }
        }
    }

    private static string Suffix(string unit) => "_" + unit.Replace('/', '_').ToLowerInvariant();
}
