using System.Text;
using CsCheck;
using SawEdge.Gateway.Configuration;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Configuration;

public class SyntaxTests
{
    [Theory]
    [InlineData("", 1, 1, "the file is empty; write at least { \"site\": ..., \"gateway\": ..., \"dataFolder\": ..., \"saws\": [ ... ] }")]
    [InlineData("{\n  \"site\": \"a\"\n  \"gateway\": \"b\"\n}", 3, 3, "did not expect a double quote here; is a comma or a colon missing before it?")]
    [InlineData("{\n  \"site\" \"a\"\n}", 2, 10, "did not expect a double quote here; is a comma or a colon missing before it?")]
    [InlineData("{\n  'site': 1\n}", 2, 3, "texts and names stand in double quotes, not in single quotes")]
    [InlineData("{\n  site: 1\n}", 2, 3, "this is no JSON; texts and names stand in double quotes, only numbers, true, false and null do not")]
    [InlineData("{\n  \"saws\": [\n    1\n  }\n}", 4, 3, "did not expect } here; look for a missing value, a wrong bracket or a wrong separator just before it")]
    [InlineData("{\n  \"site\": \"a\nb\"\n}", 2, 13, "a text must end on the line on which it begins; is its closing double quote missing?")]
    [InlineData("{\n  \"dataFolder\": \"C:\\data\"\n}", 2, 21, "a backslash in a text is written twice, for example \"C:\\\\data\"")]
    [InlineData("{\n  \"site\": \"a\",\n", 3, 1, "the file ends too early; a closing }, ] or double quote is missing")]
    [InlineData("{ \"a\": 012 }", 1, 9, "this is no number that JSON knows; write for example 12.5 or -3, and anything else in double quotes")]
    [InlineData("{ \"\u00e9\u00e9\u00e9\u00e9\": tru }", 1, 14, "this is no JSON; texts and names stand in double quotes, only numbers, true, false and null do not")]
    [InlineData("{ } }", 1, 5, "did not expect } here; look for a missing value, a wrong bracket or a wrong separator just before it")]
    public void Load_NoJson_SaysWhereAndWhy(string text, int line, int column, string message)
    {
        var loaded = Sample.Load(text);

        Assert.False(loaded.IsReadable);
        var finding = Assert.Single(loaded.Findings);
        Assert.Equal(message, finding.Message);
        Assert.Equal((line, column), (finding.Line, finding.Column));
    }

    [Fact]
    public void Load_AnUnquotedSecret_IsNotQuotedInTheFinding()
    {
        var loaded = Sample.Load("{ \"influx\": [ { \"token\": tR3vLq9secret } ] }");
        Assert.DoesNotContain("R3vLq9", string.Concat(loaded.Findings), StringComparison.Ordinal);
    }

    [Fact]
    public void Load_CommentsAndTrailingCommas_AreAllowed()
    {
        var text = Sample.With("", null);
        Sample.Load("// first line\n/* and\nmore */" + text[..^1] + ",}").Options();
    }

    [Fact]
    public void Load_AByteOrderMark_IsLookedPast()
    {
        using var folder = new TempFolder();
        File.WriteAllText(folder.File("c.json"), Sample.With("", null), new UTF8Encoding(encoderShouldEmitUTF8Identifier: true));
        ConfigurationFile.Load(folder.File("c.json"), Sample.NoEnvironment).Options();
    }

    [Fact]
    public void Load_Utf16_IsToldToSaveAsUtf8()
    {
        using var folder = new TempFolder();
        File.WriteAllText(folder.File("c.json"), Sample.With("", null), Encoding.Unicode);
        var finding = Assert.Single(ConfigurationFile.Load(folder.File("c.json"), Sample.NoEnvironment).Findings);
        Assert.Equal("the file is saved as UTF-16; save it as UTF-8", finding.Message);
    }

    [Fact]
    public void Load_BytesThatAreNoUtf8_AreReportedWithTheirLine()
    {
        using var folder = new TempFolder();
        File.WriteAllBytes(folder.File("c.json"), [.. "{\n \"site\": \""u8, 0xFC, .. "\" }"u8]);
        var finding = Assert.Single(ConfigurationFile.Load(folder.File("c.json"), Sample.NoEnvironment).Findings);
        Assert.Equal("the text holds bytes that are no UTF-8; save the file as UTF-8", finding.Message);
        Assert.Equal(2, finding.Line);
    }

    [Fact]
    public void Load_AMemberStatedTwice_NamesBothLines()
    {
        var loaded = Sample.Load("{\n  \"site\": \"a\",\n  \"gateway\": \"g\",\n  \"site\": \"b\"\n}");
        var finding = loaded.Findings.Single(finding => finding.Path == "site");
        Assert.Equal("is stated twice; it is there already in line 2", finding.Message);
        Assert.Equal(4, finding.Line);
    }

    [Fact]
    public void Load_ASignalMappedTwice_IsAnError()
    {
        var text = Sample.With("", null).Replace("\"motor_load\":{\"address\"", "\"head_position\":{\"address\":\"holding 300\",\"type\":\"uint16\"},\"motor_load\":{\"address\"", StringComparison.Ordinal);
        Assert.Equal(["error saws[0].signals.head_position: is stated twice; it is there already in line 1"], Sample.Load(text).Lines());
    }

    [Fact]
    public void Load_ThousandBrackets_IsRefusedInPlainWords()
    {
        var finding = Assert.Single(Sample.Load("{ \"saws\": " + new string('[', 1000)).Findings);
        Assert.Equal("objects and lists are nested too deep", finding.Message);
    }

    [Fact]
    public void Load_NoFile_SaysWhichPath()
    {
        using var folder = new TempFolder();
        var path = folder.File("nowhere.json");
        var loaded = ConfigurationFile.Load(path, Sample.NoEnvironment);
        Assert.False(loaded.IsReadable);
        Assert.Equal([$"error : there is no file {path}; name the configuration file"], loaded.Lines());
        Assert.Equal([$"error : {folder.Path} is a folder; name the configuration file in it"], ConfigurationFile.Load(folder.Path, Sample.NoEnvironment).Lines());
    }

    /// <summary>/proc/self/mem is a file that nobody can read from its beginning, the administrator included.</summary>
    [PeerFact("/proc/self/mem")]
    public void Load_AFileThatCannotBeRead_SaysSo()
    {
        var loaded = ConfigurationFile.Load("/proc/self/mem", Sample.NoEnvironment);
        Assert.False(loaded.IsReadable);
        Assert.StartsWith("/proc/self/mem cannot be read: ", Assert.Single(loaded.Findings).Message, StringComparison.Ordinal);
    }

    [Fact]
    public void Load_AListAtTheTop_AsksForAnObject()
    {
        Assert.Equal(["error : is a list; write an object: { ... }"], Sample.Load("[]").Lines());
    }

    [Fact]
    public void Load_AnyBytes_NeverThrows()
    {
        using var folder = new TempFolder();
        var path = folder.File("c.json");
        Check.Sample(
            Gen.Byte.Array[0, 60],
            bytes =>
            {
                File.WriteAllBytes(path, bytes);
                return ConfigurationFile.Load(path, Sample.NoEnvironment) is { Options: null, Findings.Count: > 0 };
            },
            iter: 500,
            threads: 1);
    }

    [Fact]
    public void Load_TheGoodFileWithOneByteChanged_NeverThrows()
    {
        using var folder = new TempFolder();
        var path = folder.File("c.json");
        var good = Encoding.UTF8.GetBytes(Sample.With("", null));
        var gen = Gen.Select(Gen.Int[0, good.Length - 1], Gen.Byte);
        Check.Sample(
            gen,
            change =>
            {
                var bytes = (byte[])good.Clone();
                bytes[change.Item1] = change.Item2;
                File.WriteAllBytes(path, bytes);
                var loaded = ConfigurationFile.Load(path, Sample.NoEnvironment);
                return loaded.Options is null == loaded.Errors.Any();
            },
            iter: 500,
            threads: 1);
    }
}
