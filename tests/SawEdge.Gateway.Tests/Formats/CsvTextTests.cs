using System.Buffers;
using System.Text;
using SawEdge.Gateway.Formats;

namespace SawEdge.Gateway.Tests.Formats;

public sealed class CsvTextTests
{
    // The first two: the examples of OWASP, CSV Injection (owasp.org, www-community/attacks/CSV_Injection); the beginnings are its list.
    [Theory]
    [InlineData("=1+2\";=1+2", "\"'=1+2\"\";=1+2\"")]
    [InlineData("=1+2'\" ;,=1+2", "\"'=1+2'\"\" ;,=1+2\"")]
    [InlineData("+1", "\"'+1\"")]
    [InlineData("-1", "\"'-1\"")]
    [InlineData("@SUM(A1)", "\"'@SUM(A1)\"")]
    [InlineData("\tx", "\"'\tx\"")]
    [InlineData("\rx", "\"'\rx\"")]
    [InlineData("\nx", "\"'\nx\"")]
    [InlineData("a;=1+2", "\"a;=1+2\"")]
    [InlineData("a,b", "\"a,b\"")]
    [InlineData("a\"b", "\"a\"\"b\"")]
    [InlineData("J-1 = 5", "J-1 = 5")]
    [InlineData("", "")]
    public void WriteForSpreadsheet_MakesFormulasHarmless_AndLeavesTheRestAlone(string text, string expected)
    {
        var buffer = new ArrayBufferWriter<byte>();
        CsvText.WriteForSpreadsheet(buffer, text);
        Assert.Equal(expected, Encoding.UTF8.GetString(buffer.WrittenSpan));
    }
}
