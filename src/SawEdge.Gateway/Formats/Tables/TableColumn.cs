using SawEdge.Core;

namespace SawEdge.Gateway.Formats.Tables;

/// <summary>One column of a table: the single place that names it, types it, and says what it means and when it is empty.</summary>
/// <param name="Name">Name outside the process, snake case, its unit at its end.</param>
/// <param name="Type">Type of its values.</param>
/// <param name="Unit">Unit; empty where there is none.</param>
/// <param name="Meaning">What it is.</param>
/// <param name="EmptyWhen">When it is empty, as the end of a sentence: <c>never</c>, or <c>where ...</c>.</param>
public sealed record TableColumn(string Name, ColumnType Type, string Unit, string Meaning, string EmptyWhen)
{
    /// <summary>The word of its type, as descriptions of tables use it.</summary>
    public string TypeWord => Type switch
    {
        ColumnType.Text => "text",
        ColumnType.Time => "time",
        ColumnType.Number => "number",
        ColumnType.Integer => "integer",
        _ => "flag",
    };
}
