using Microsoft.Data.Sqlite;
using SawEdge.TestPlant;

namespace SawEdge.Page.Tests;

/// <summary>The tests of the page are worth what their history is worth: it must hold what they say it holds.</summary>
public sealed class PlantHistoryTests
{
    private static readonly PlantSettings Short = new() { Days = 0, Interval = TimeSpan.FromSeconds(2) };

    [Fact]
    public async Task MakeAsync_TheUsual_HoldsAllThatAPageShows()
    {
        using var history = await PlantHistory.MakeAsync();

        Assert.Equal(["aborted", "completed", "partial", "trim"], Column(history, "SELECT DISTINCT outcome FROM cycles ORDER BY 1"));
        Assert.Equal(["saw-1", "saw-2", "saw-3"], Column(history, "SELECT saw FROM cycles GROUP BY saw HAVING count(*) > 500 AND count(DISTINCT blade) > 1 ORDER BY 1"));
        Assert.Equal(["executing", "not_executing", "out_of_service", "unknown"], Column(history, "SELECT DISTINCT state FROM states ORDER BY 1"));
        Assert.Equal(["acknowledged", "normal", "returned_unacknowledged", "unacknowledged"], Column(history, "SELECT DISTINCT state FROM alarms ORDER BY 1"));
        Assert.NotEmpty(Column(history, "SELECT cycle_id FROM cycles WHERE load_score > 5 LIMIT 1"));
        Assert.Empty(PlantHistory.HostileJobs.Except(Column(history, "SELECT DISTINCT job FROM cycles")));
        Assert.Equal(["delay", "down", "setup"], Column(history, "SELECT DISTINCT class FROM stop_reasons ORDER BY 1"));
        Assert.Equal(["not square", "too short"], Column(history, "SELECT DISTINCT reason FROM scrap ORDER BY 1"));
        Assert.Empty(Column(history, "SELECT cycle_id FROM cycles WHERE outcome = 'completed' AND standard_cut_time_s IS NULL"));
    }

    [Fact]
    public async Task MakeAsync_Twice_IsTheSame()
    {
        const string All = "SELECT saw || started_at || outcome || job || ifnull(cut_time_s, '') || ifnull(load_score, '') FROM cycles ORDER BY saw, started_at";
        const string Alarms = "SELECT alarm || kind || at FROM alarm_events ORDER BY id";
        using var one = await PlantHistory.MakeAsync(Short);
        using var other = await PlantHistory.MakeAsync(Short);

        Assert.NotEmpty(Column(one, All));
        Assert.Equal(Column(one, All), Column(other, All));
        Assert.Equal(Column(one, Alarms), Column(other, Alarms));
    }

    private static List<string> Column(PlantHistory history, string sql)
    {
        using var connection = new SqliteConnection($"Data Source={Path.Combine(history.Folder, "history.db")};Pooling=False");
        connection.Open();
        using var command = connection.CreateCommand();
        command.CommandText = sql;
        using var reader = command.ExecuteReader();
        var values = new List<string>();
        while (reader.Read())
            values.Add(reader.GetValue(0).ToString()!);
        return values;
    }
}
