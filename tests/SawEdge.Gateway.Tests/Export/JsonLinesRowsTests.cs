using System.Text.Json;
using CsCheck;
using SawEdge.Core;
using SawEdge.Gateway.Formats.Tables;

namespace SawEdge.Gateway.Tests.Export;

/// <summary>Tables as JSON lines.</summary>
public sealed class JsonLinesRowsTests
{
    private static readonly TableHead Head = new("t", "A row.", [.. Enum.GetValues<ColumnType>().Select(type => new TableColumn($"{type}".ToLowerInvariant(), type, "", "x", "never"))]);

    [Fact]
    public async Task Write_EachType_IsThisText() =>
        Assert.Equal(
            """
            {"text":"=a\n\"ä锯","time":"2026-03-02T06:00:00.250Z","number":0.30000000000000004,"integer":-9223372036854775808,"flag":true}
            {"text":null,"time":null,"number":null,"integer":null,"flag":null}

            """.ReplaceLineEndings("\n"),
            await CsvRowsTests.TextAsync(
                Head,
                [
                    [Cell.Of("=a\n\"ä锯"), Cell.OfMilliseconds(1_772_431_200_250), Cell.Of(0.1 + 0.2), Cell.Of(long.MinValue), Cell.Of(true)],
                    [default, default, Cell.Of(double.NaN), default, default],
                ],
                TableFormat.JsonLines));

    [Fact]
    public void Write_AnyCells_AreReadBack() =>
        CsvRowsTests.GenRows.Sample(
            rows =>
            {
                var lines = CsvRowsTests.TextAsync(Head, rows, TableFormat.JsonLines).GetAwaiter().GetResult().Split('\n');
                Assert.Equal("", lines[^1]);
                Assert.Equal(rows.Length, lines.Length - 1);
                foreach (var (row, line) in rows.Zip(lines))
                {
                    using var json = JsonDocument.Parse(line);
                    Assert.Equal(Head.Columns.Select(column => column.Name), json.RootElement.EnumerateObject().Select(member => member.Name));
                    var values = json.RootElement.EnumerateObject().Select(member => member.Value).ToList();
                    foreach (var (cell, value) in row.Zip(values))
                        Assert.Equal(cell.IsKnown, value.ValueKind != JsonValueKind.Null);
                    if (row[0].IsKnown)
                        Assert.Equal(row[0].Text, values[0].GetString());
                    if (row[1].IsKnown)
                        Assert.Equal(row[1].Milliseconds, values[1].GetDateTimeOffset().ToUnixTimeMilliseconds());
                    if (row[2].IsKnown)
                        Assert.Equal(BitConverter.DoubleToInt64Bits(row[2].Number), BitConverter.DoubleToInt64Bits(values[2].GetDouble()));
                    if (row[3].IsKnown)
                        Assert.Equal(row[3].Integer, values[3].GetInt64());
                    if (row[4].IsKnown)
                        Assert.Equal(row[4].Flag, values[4].GetBoolean());
                }
            },
            iter: 500);
}
