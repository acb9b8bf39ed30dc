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
}
