using System.Diagnostics;
using Microsoft.Data.Sqlite;
using SawEdge.TestPlant;

namespace SawEdge.Page.Tests;

public sealed class PlantHistoryTests
{
    [Fact]
    public async Task MakeAsync_TheUsual_HoldsAllThatAPageShows()
    {
        var watch = Stopwatch.StartNew();
        using var history = await PlantHistory.MakeAsync();
        var took = watch.Elapsed;
        var said = string.Join('\n', "SELECT saw,outcome,count(*) FROM cycles GROUP BY 1,2;SELECT rule,state,count(*) FROM alarms GROUP BY 1,2;SELECT saw,state,count(*),sum(ended_at-started_at)/3600000.0 FROM states GROUP BY 1,2;SELECT saw,blade,count(*) FROM cycles GROUP BY 1,2;SELECT job,count(*) FROM cycles GROUP BY 1".Split(';').Select(sql => Rows(history, sql)));
        Assert.Fail($"{took} cpu {Process.GetCurrentProcess().TotalProcessorTime}\n{said}");
    }

    private static string Rows(PlantHistory history, string sql)
    {
        using var connection = new SqliteConnection($"Data Source={Path.Combine(history.Folder, "history.db")};Pooling=False");
        connection.Open();
        using var command = connection.CreateCommand();
        command.CommandText = sql;
        using var reader = command.ExecuteReader();
        var text = new System.Text.StringBuilder();
        while (reader.Read())
        {
            for (var i = 0; i < reader.FieldCount; i++)
                text.Append(reader.GetValue(i)).Append(' ');
            text.Append('\n');
        }

        return text.ToString();
    }
}
