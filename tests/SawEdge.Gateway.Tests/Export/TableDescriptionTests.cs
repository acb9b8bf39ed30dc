using System.Text.Json;
using SawEdge.Gateway.Export;
using SawEdge.Gateway.Tests.Commands.Export;
using SawEdge.Gateway.Tests.Configuration;

namespace SawEdge.Gateway.Tests.Export;

public sealed class TableDescriptionTests
{
    [Fact]
    public void CommittedDictionary_IsTheGeneratedOne()
    {
        // To renew it: dotnet run --project src/SawEdge.Gateway -- export --describe --format markdown --out deploy/data-dictionary.md
        Assert.Equal(TableDescriptions.Markdown(ExportTables.All), File.ReadAllText(Path.Combine(SchemaTests.Root, "deploy", "data-dictionary.md")));
    }

    [Fact]
    public async Task Describe_EachForm_NamesEveryColumn()
    {
        await using var exporting = new Exporting();
        var text = string.Join('\n', (await exporting.RunRawAsync("--describe")).Output);
        Assert.All(text.Split('\n'), line => Assert.True(line.Length <= 96, line));
        var json = JsonDocument.Parse(string.Join('\n', (await exporting.RunRawAsync("--describe", "--format", "json")).Output)).RootElement.GetProperty("tables");
        Assert.Equal(ExportTables.All.Select(table => table.Name), json.EnumerateArray().Select(table => table.GetProperty("name").GetString()));
        foreach (var (table, told) in ExportTables.All.Zip(json.EnumerateArray()))
        {
            foreach (var (column, each) in table.Columns.Zip(told.GetProperty("columns").EnumerateArray()))
            {
                Assert.Equal((column.Name, column.TypeWord, column.Meaning, column.EmptyWhen), (each.GetProperty("name").GetString(), each.GetProperty("type").GetString(), each.GetProperty("meaning").GetString(), each.GetProperty("empty").GetString()));
                Assert.Equal(column.Unit.Length > 0 ? column.Unit : null, each.GetProperty("unit").GetString());
                Assert.Contains($"\n  {column.Name} (", text, StringComparison.Ordinal);
            }

            Assert.Equal(table.Columns.Count, told.GetProperty("columns").GetArrayLength());
        }

        var one = await exporting.RunRawAsync("states", "--describe");
        Assert.Equal("states", one.Output[0]);
        Assert.DoesNotContain("  load_score (number)", one.Output);
        await exporting.RunRawAsync("--describe", "--format", "markdown", "--out", exporting.File("d.md"));
        Assert.Equal(TableDescriptions.Markdown(ExportTables.All), await File.ReadAllTextAsync(exporting.File("d.md")));
    }

    [Theory]
    [InlineData(null, null, "cycles.csv")]
    [InlineData("2026-03-01T23:00Z", "2026-03-08T23:00Z", "cycles-20260302-20260308.csv")]
    [InlineData("2026-03-01T23:00Z", "2026-03-02T23:00Z", "cycles-20260302.csv")]
    [InlineData("2026-03-01T23:00Z", null, "cycles-from-20260302.csv")]
    [InlineData(null, "2026-03-08T23:00Z", "cycles-to-20260308.csv")]
    [InlineData("2026-03-02T05:00Z", "2026-03-02T13:30Z", "cycles-20260302T0600-20260302T1430.csv")]
    public void Name_OfAPeriod_SaysItsDays(string? from, string? to, string expected)
    {
        var zone = TimeZoneInfo.CreateCustomTimeZone("here", TimeSpan.FromHours(1), "here", "here");
        DateTimeOffset? Moment(string? text) => text is null ? null : DateTimeOffset.Parse(text, System.Globalization.CultureInfo.InvariantCulture);
        Assert.Equal(expected, ExportFiles.Name("cycles", Moment(from), Moment(to), zone, new() { Format = Gateway.Formats.Tables.TableFormat.Csv }));
    }
}
