using Microsoft.Data.Sqlite;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Tests.History;

/// <summary>Damage as a disk does it: pages that hold something else than was written.</summary>
internal static class Damage
{
    private const int PageBytes = 4096;

    /// <summary>Writes random bytes over the first page of a table or an index.</summary>
    public static void Page(string path, string table)
    {
        long page;
        using (var connection = new SqliteConnection($"Data Source={path};Pooling=False"))
        {
            connection.Open();
            page = HistorySchema.Number(connection, $"SELECT rootpage FROM sqlite_schema WHERE name = '{table}'");
        }

        Write(path, (page - 1) * PageBytes, 1);
    }

    /// <summary>Writes random bytes over pages in the middle.</summary>
    public static void Middle(string path, int pages) => Write(path, new FileInfo(path).Length / 2 / PageBytes * PageBytes, pages);

    /// <summary>Writes random bytes over the header.</summary>
    public static void Header(string path) => Write(path, 0, 1);

    private static void Write(string path, long at, int pages)
    {
        var bytes = new byte[pages * PageBytes];
        new Random(7).NextBytes(bytes);
        using var file = new FileStream(path, FileMode.Open, FileAccess.Write);
        file.Position = at;
        file.Write(bytes);
    }
}
