using SawEdge.Core.Cutting;
using SawEdge.Core.Materials;

namespace SawEdge.Core.Tests.Cutting;

public class JobBookTests
{
    [Fact]
    public void Parse_reads_every_column()
    {
        const string Text = """
            job,material,section,part_length,pieces,blade,standard,hardness,coolant
            # a remark
            A-1,C45,round 4 in,250 mm,40,bimetal 3/4 tpi,11 in2/min,210 HB,dry
            A-2,1.4301,"tube 4 in, 0.25 in wall",10 in,,,1.5 min,,
            """;
        var (book, errors) = JobBook.Parse(Text, MaterialCatalogue.BuiltIn);
        Assert.Empty(errors);
        var first = book.Find("A-1")!;
        Assert.Equal("1045", first.Material.Name);
        Assert.Equal(250, first.PartLengthMm);
        Assert.Equal(40, first.Pieces);
        Assert.Equal(25.4 / 3.5, first.Blade!.PitchMm, 9);
        Assert.Equal(11 * 6.4516, first.Standard!.RateCm2Min!.Value, 9);
        Assert.Equal(210, first.HardnessHb);
        Assert.Equal(Coolant.Dry, first.Coolant);
        var second = book.Find("A-2")!;
        Assert.Equal(254, second.PartLengthMm!.Value, 9);
        Assert.Equal(90, second.Standard!.CutTimeS);
        Assert.Null(book.Find("A-3"));
    }

    [Fact]
    public void A_broken_row_is_refused_with_its_line_and_the_rest_serves()
    {
        const string Text = "job;material;section;pieces\nA;1045;round 100 mm;5\nB;1046;round 100;x\nA;304;round 50 mm;\nC;304;square 20 mm;\n";
        var (book, errors) = JobBook.Parse(Text, MaterialCatalogue.BuiltIn);
        Assert.Equal(2, book.Count);
        Assert.Equal([3, 4], errors.Select(e => e.Line));
        Assert.Contains("1045", errors[0].Message, StringComparison.Ordinal);
        Assert.Contains("no unit", errors[0].Message, StringComparison.Ordinal);
        Assert.Contains("whole number", errors[0].Message, StringComparison.Ordinal);
        Assert.Contains("line 2", errors[1].Message, StringComparison.Ordinal);
    }

    [Fact]
    public void A_heading_without_its_columns_is_refused()
    {
        var (book, errors) = JobBook.Parse("id,stuff\n1,2\n", MaterialCatalogue.BuiltIn);
        Assert.Equal(0, book.Count);
        Assert.Contains("job, material, section", Assert.Single(errors).Message, StringComparison.Ordinal);
    }

    [Fact]
    public void An_empty_text_is_an_error_not_an_empty_book_in_silence() =>
        Assert.NotEmpty(JobBook.Parse("", MaterialCatalogue.BuiltIn).Errors);

    [Fact]
    public void Parse_reads_json_too_and_tells_the_line_of_a_broken_job()
    {
        const string Text = """
            [
              { "job": "A", "material": "1045", "section": "IPE 200, web flat", "pieces": 5, "part_length": "250 mm" }, // first
              { "job": "B", "material": "1045",
                "section": "round 100 mm", "pieces": -5 },
              { "job": "C", "material": "304", "section": "square 2 in", "colour": "red" },
              7,
            ]
            """;
        var (book, errors) = JobBook.Parse(Text, MaterialCatalogue.BuiltIn);
        Assert.Equal(["A", "C"], book.Jobs.Select(j => j.JobId).Order());
        Assert.Equal(5, book.Find("A")!.Pieces);
        Assert.Equal([3, 5, 6], errors.Select(e => e.Line).Order());
        Assert.Contains("colour", errors.Single(e => e.Line == 5).Message, StringComparison.Ordinal);
    }

    [Fact]
    public void Json_that_breaks_off_serves_what_came_before()
    {
        var (book, errors) = JobBook.Parse("[ { \"job\": \"A\", \"material\": \"1045\", \"section\": \"round 1 in\" },\n { \"job\": ", MaterialCatalogue.BuiltIn);
        Assert.Equal(1, book.Count);
        Assert.Equal(2, Assert.Single(errors).Line);
        Assert.Contains("list of objects", Assert.Single(JobBook.Parse("{}", MaterialCatalogue.BuiltIn).Errors).Message, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("bimetal 3/4 tpi", 3, 4, 1.6, null)]
    [InlineData("4/3", 3, 4, 1.6, null)]
    [InlineData("10 tpi", 10, 10, 1.6, null)]
    [InlineData("10tpi kerf 0.9mm", 10, 10, 0.9, null)]
    [InlineData("carbide 1.4/2 tpi, kerf 2.4 mm, length 5800 mm", 1.4, 2, 2.4, 5800.0)]
    [InlineData("carbon steel 6 tpi, length 100 in", 6, 6, 1.6, 2540.0)]
    public void Blades_are_read_as_the_trade_writes_them(string text, double coarse, double fine, double kerf, double? length)
    {
        var blade = Blade.Parse(text, out var problem)!;
        Assert.True(blade is not null, problem);
        Assert.Equal((coarse, fine, kerf, length), (blade.CoarseTpi, blade.FineTpi, blade.KerfMm, blade.LengthMm));
        Assert.Equal(blade, Blade.Parse(blade.Notation, out _));
    }

    [Theory]
    [InlineData("bimetal", "no pitch")]
    [InlineData("bimetal 0 tpi", "no meaning")]
    [InlineData("bimetal 3/4/5 tpi", "no meaning")]
    [InlineData("bimetal 3 tpi kerf -1 mm", "kerf")]
    [InlineData("bimetal 3 tpi kerf", "kerf")]
    [InlineData("golden 3 tpi", "golden")]
    [InlineData("3 tpi, kerf 1.6 furlong", "furlong")]
    public void Blades_that_make_no_sense_say_what_would(string text, string message)
    {
        Assert.Null(Blade.Parse(text, out var problem));
        Assert.Contains(message, problem, StringComparison.Ordinal);
    }
}
