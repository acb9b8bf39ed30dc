using System.Globalization;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Formats.Tables;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Export;

/// <summary>Occurrences of alarms out of the history.</summary>
/// <param name="reader">The history.</param>
/// <param name="head">The table in the columns that were asked for.</param>
/// <param name="question">Which, and in which units.</param>
internal sealed class AlarmSource(HistoryReader reader, TableHead head, ExportQuestion question) : IRowSource
{
    private readonly (IReadOnlyCollection<string>? Saws, DateTimeOffset? From, DateTimeOffset? To) _which = (question.Saws, question.From, question.To);
    private readonly string _select = string.Join(", ", head.Columns.Select(column => Select(column.Name, question.Units)));
    private readonly CellReader _cells = new([.. head.Columns.Select(column => column.Type)]);
    private (long RaisedAt, long Number)? _place;
    private bool _ended;

    /// <inheritdoc/>
    public TableHead Head => head;

    /// <inheritdoc/>
    public async Task<long?> CountAsync(CancellationToken cancellation) => await reader.CountAlarmsAsync(_which, cancellation);

    /// <inheritdoc/>
    public async Task FillAsync(RowBatch batch, CancellationToken cancellation)
    {
        if (_ended)
            return;
        _place = await reader.FillAlarmsAsync(batch, _which, _select, _cells, _place, cancellation);
        _ended = _place is null;
    }

    private static string Select(string column, DisplayUnits units) => (column, units) switch
    {
        ("limit", _) => RowUnits.Value("a.limit_value", "a.unit", units),
        ("value", _) => RowUnits.Value("a.value", "a.unit", units),
        ("unit", _) => RowUnits.Unit("a.unit", units),
        _ => "a." + column,
    };
}

/// <summary>Values of tables in which each row states its own unit, brought to the units of a reader by SQLite.</summary>
internal static class RowUnits
{
    /// <summary>A value.</summary>
    public static string Value(string value, string unit, DisplayUnits units) => Case(value, unit, units, inch => string.Create(CultureInfo.InvariantCulture, $"{value} / {inch.Divisor}"));

    /// <summary>The unit that it then has.</summary>
    public static string Unit(string unit, DisplayUnits units) => Case(unit, unit, units, inch => $"'{inch.Inch}'");

    private static string Case(string otherwise, string unit, DisplayUnits units, Func<InchUnit, string> then) =>
        units == DisplayUnits.Metric
            ? otherwise
            : $"CASE {unit} {string.Concat(InchUnit.All.Select(inch => $"WHEN '{inch.Metric}' THEN {then(inch)} "))}ELSE {otherwise} END";
}
