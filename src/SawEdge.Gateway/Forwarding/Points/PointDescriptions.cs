using System.Text;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Forwarding.Points;

/// <summary>The table of all measurements, made from the declarations that tests hold the written lines to.</summary>
public static class PointDescriptions
{
    /// <summary>As Markdown.</summary>
    public static string Markdown(IReadOnlyList<PointTable> tables)
    {
        var text = new StringBuilder();
        text.Append("""
            # Points in InfluxDB

            Every measurement, tag and field that the gateway writes. This file is made by `sawedge outbox points`.

            Times are UTC with millisecond precision. A value that is not known is absent. Units stand at the end of names, as everywhere. The same row of the
            history is the same point however often it is sent: measurement, tags and time never change with a correction.

            A destination is sent what `"points"` in its section names; unless told,
            """);
        text.Append(' ').AppendJoin(", ", PointChoices.All.Where(known => PointChoice.Usual.HasFlag(known.Choice)).Select(known => $"`{known.Word}`")).Append(".\n\n");
        text.Append("| `\"points\"` | measurements |\n|---|---|\n");
        foreach (var (word, choice, meaning) in PointChoices.All)
            text.Append($"| `{word}` | {string.Join(", ", tables.Where(table => table.Choice == choice).Select(table => $"`{table.Name}`"))}. {meaning} |\n");
        foreach (var table in tables)
        {
            text.Append($"\n## {table.Name}\n\n{table.Meaning} Time: {table.Time}.\n\n");
            text.Append("| tag | what it is | how many values | absent |\n|---|---|---|---|\n");
            foreach (var tag in table.Tags)
                text.Append($"| `{tag.Name}` | {Cell(tag.Meaning)} | {Cell(tag.Bound)} | {Cell(tag.AbsentWhen)} |\n");
            text.Append("\n| field | type | unit | what it is | absent |\n|---|---|---|---|---|\n");
            foreach (var field in table.Fields)
                text.Append($"| `{field.Name}` | {TypeWord(field.Type)} | {Cell(field.Unit)} | {Cell(field.Meaning)} | {Cell(field.AbsentWhen)} |\n");
        }

        return text.ToString();
    }

    /// <summary>The word for a type, as the protocol's documentation uses it.</summary>
    public static string TypeWord(FieldType type) => type switch
    {
        FieldType.Float => "float",
        FieldType.Integer => "integer",
        _ => "string",
    };

    private static string Cell(string text) => text.Replace("|", "\\|", StringComparison.Ordinal);
}
