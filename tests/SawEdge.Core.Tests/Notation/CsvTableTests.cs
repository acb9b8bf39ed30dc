using CsCheck;
using SawEdge.Core.Cutting;
using SawEdge.Core.Materials;
using SawEdge.Core.Notation;

namespace SawEdge.Core.Tests.Notation;

public class CsvTableTests
{
    [Fact]
    public void Quotes_line_ends_and_remarks_are_read_as_rfc_4180_has_them()
    {
        var table = CsvTable.Read("\uFEFFa,b\r\n# remark\r\n\"x,\"\"1\"\"\",\"two\r\nlines\"\r\n\r\n last , 4\n");
        Assert.Equal(["a", "b"], table.Columns);
        Assert.Equal(2, table.Rows.Count);
        Assert.Equal("x,\"1\"", table.Rows[0]["A"]);
        Assert.Equal("two\r\nlines", table.Rows[0]["b"]);
        Assert.Equal("last", table.Rows[1]["a"]);
        Assert.Equal([3, 6], table.Rows.Select(r => r.Line));
        Assert.Equal("", table.Rows[1]["c"]);
    }

    [Theory]
    [InlineData("a;b\n1;2\n")]
    [InlineData("a\tb\n1\t2\n")]
    [InlineData("a,b\n1,2")]
    public void The_heading_tells_the_separator(string text) => Assert.Equal("2", CsvTable.Read(text).Rows[0]["b"]);

    [Fact]
    public void What_is_written_in_quotes_is_read_back() =>
        Gen.String[Gen.Char["ab,;\"\n #"], 0, 12].Array[2].Array[1, 6].Sample(rows =>
        {
            var text = "one,two,three\n" + string.Concat(rows.Select(r => $"k,{string.Join(',', r.Select(c => $"\"{c.Replace("\"", "\"\"", StringComparison.Ordinal)}\""))}\n"));
            var table = CsvTable.Read(text);
            return table.Rows.Count == rows.Length && table.Rows.Zip(rows).All(p => p.First["two"] == p.Second[0].Trim() && p.First["three"] == p.Second[1].Trim());
        });

    [Fact]
    public void Hostile_job_lists_end_in_errors_never_in_an_exception() =>
        Gen.String[Gen.Char["job,material;section\n\"1045round mm[]{}:\u0000x"], 0, 80].Sample(text =>
        {
            JobBook.Parse(text, MaterialCatalogue.BuiltIn);
            JobBook.Parse("job,material,section,standard,blade,hardness\n" + text, MaterialCatalogue.BuiltIn);
            JobBook.Parse("[" + text, MaterialCatalogue.BuiltIn);
            MaterialCatalogue.BuiltIn.Overlay("{ \"materials\": [" + text);
        });

    [Theory]
    [InlineData("250 mm", 250, "mm")]
    [InlineData("1-1/4 in", 1.25, "in")]
    [InlineData("4\"", 4, "in")]
    [InlineData("11 in²/min", 11, "in2/min")]
    [InlineData("-3.5", -3.5, "")]
    [InlineData("210HB", 210, "hb")]
    public void Quantities_are_read_with_their_unit(string text, double value, string unit) => Assert.Equal(new Quantity(value, unit), Quantity.Parse(text));

    [Theory]
    [InlineData("")]
    [InlineData("mm 250")]
    [InlineData("1/0 in")]
    [InlineData("x")]
    public void What_begins_with_no_number_is_no_quantity(string text) => Assert.Null(Quantity.Parse(text));

    [Fact]
    public void Units_convert_by_their_definitions()
    {
        Assert.Equal(25.4, Quantity.Parse("1 in")!.Value.LengthMm);
        Assert.Equal(304.8, Quantity.Parse("1 ft")!.Value.LengthMm!.Value, 9);
        Assert.Equal(6.4516, Quantity.Parse("1 in2/min")!.Value.RateCm2Min!.Value, 9);
        Assert.Equal(0.3048, Quantity.Parse("1 ft/min")!.Value.SpeedMMin!.Value, 9);
        Assert.Equal(90, Quantity.Parse("1.5 min")!.Value.Seconds);
        Assert.Null(Quantity.Parse("1.5 min")!.Value.LengthMm);
    }
}
