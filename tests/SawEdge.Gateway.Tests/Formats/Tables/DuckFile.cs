using DuckDB.NET.Data;

namespace SawEdge.Gateway.Tests.Formats.Tables;

/// <summary>Asks DuckDB about a file.</summary>
internal static class DuckFile
{
    /// <summary>The rows of a question, each value as DuckDB gives it.</summary>
    /// <param name="sql">The question; <c>FILE</c> stands for the file.</param>
    /// <param name="path">The file.</param>
    public static List<object?[]> Ask(string sql, string path)
    {
        using var connection = new DuckDBConnection("DataSource=:memory:");
        connection.Open();
        using var command = connection.CreateCommand();
        command.CommandText = "SET TimeZone = 'UTC'; " + sql.Replace("FILE", $"'{path}'", StringComparison.Ordinal);
        using var reader = command.ExecuteReader();
        while (reader.FieldCount == 0 || (reader.FieldCount == 1 && reader.GetName(0) == "Success"))
            Assert.True(reader.NextResult());
        var rows = new List<object?[]>();
        while (reader.Read())
        {
            var row = new object?[reader.FieldCount];
            for (var i = 0; i < row.Length; i++)
                row[i] = reader.IsDBNull(i) ? null : Kept(reader.GetValue(i));
            rows.Add(row);
        }

        return rows;

        // A blob is a stream into memory that the next row takes away.
        static object Kept(object value)
        {
            if (value is not Stream blob)
                return value;
            using var copy = new MemoryStream();
            blob.CopyTo(copy);
            return copy.ToArray();
        }
    }
}
