using System.Reflection;
using System.Text.Encodings.Web;
using System.Text.Json;
using Parquet;
using Parquet.Meta;

namespace SawEdge.Gateway.Formats.Tables;

/// <summary>
/// What stands at the end of a Parquet file: what the table and its columns are, and the bounds of each column in each row group, by which a
/// reader skips.
/// </summary>
/// <remarks>
/// <para>Keys of the file: <c>sawedge.table</c> (its name), <c>sawedge.meaning</c> (what a row is), <c>sawedge.version</c> (of the program),
/// <c>sawedge.columns</c> (a JSON array with <c>name</c>, <c>type</c>, <c>unit</c>, <c>meaning</c> and <c>empty</c> of each). Keys of
/// each column chunk of the first row group: <c>unit</c>, <c>meaning</c>, <c>empty</c>.</para>
/// <para>Parquet.Net states bounds of its own, which are wrong in two cases: 0 and 0 where no row has a value, and texts in the order of
/// UTF-16 instead of UTF-8, by which a reader would skip rows that it should find. It also leaves out the order of the columns
/// (ColumnOrder), without which a careful reader ignores the bounds of texts. It has no door to what it will write there, so
/// its fields are read by name; the package's version is pinned, and a file whose end cannot be set right is not written.</para>
/// </remarks>
internal static class ParquetFooter
{
    private static readonly JsonSerializerOptions Json = new() { Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping };

    /// <summary>Sets right what the writer will write at the end.</summary>
    /// <param name="writer">All row groups are written.</param>
    /// <param name="head">The table.</param>
    /// <param name="groups">Bounds of all columns of each row group.</param>
    public static void Complete(ParquetWriter writer, TableHead head, IReadOnlyList<ParquetBounds[]> groups)
    {
        var file = Read(writer);
        file.ColumnOrders = [.. head.Columns.Select(_ => new ColumnOrder { TYPEORDER = new TypeDefinedOrder() })];
        file.KeyValueMetadata =
        [
            Pair("sawedge.table", head.Name),
            Pair("sawedge.meaning", head.Meaning),
            Pair("sawedge.version", ProgramVersion.Text),
            Pair("sawedge.columns", Columns(head)),
        ];
        for (var group = 0; group < groups.Count; group++)
            for (var column = 0; column < head.Columns.Count; column++)
                Complete(file.RowGroups[group].Columns[column], groups[group][column], group == 0 ? head.Columns[column] : null);
    }

    private static void Complete(ColumnChunk chunk, ParquetBounds bounds, TableColumn? described)
    {
        var data = chunk.MetaData!;

        // min and max without _value are for readers from before ColumnOrder; for texts their order was never settled.
        var isOrdered = data.Type != Parquet.Meta.Type.BYTE_ARRAY;
        data.Statistics = new Statistics
        {
            NullCount = data.Statistics!.NullCount,
            MinValue = bounds.Least,
            MaxValue = bounds.Greatest,
            Min = isOrdered ? bounds.Least : null,
            Max = isOrdered ? bounds.Greatest : null,
        };
        if (described is not null)
            data.KeyValueMetadata = [Pair("unit", described.Unit), Pair("meaning", described.Meaning), Pair("empty", described.EmptyWhen)];
    }

    private static string Columns(TableHead head) => JsonSerializer.Serialize(
        head.Columns.Select(column => new { name = column.Name, type = column.TypeWord, unit = column.Unit, meaning = column.Meaning, empty = column.EmptyWhen }),
        Json);

    private static KeyValue Pair(string key, string value) => new() { Key = key, Value = value };

    private static FileMetaData Read(ParquetWriter writer) => Field<FileMetaData>(Field<object>(writer, "_footer"), "_fileMeta");

    private static T Field<T>(object of, string name) =>
        of.GetType().GetField(name, BindingFlags.Instance | BindingFlags.NonPublic)?.GetValue(of) is T value
            ? value
            : throw new InvalidOperationException($"{of.GetType()} of this version of Parquet.Net has no field {name}: {nameof(ParquetFooter)} was made for 6.1.0 and must be made anew.");
}
