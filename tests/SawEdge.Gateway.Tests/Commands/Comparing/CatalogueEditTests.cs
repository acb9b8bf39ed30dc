using SawEdge.Core.Materials;
using SawEdge.Gateway.Commands;
using SawEdge.Gateway.Commands.Comparing;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Commands.Comparing;

public sealed class CatalogueEditTests
{
    private static readonly ProposedRate[] Rates = [new("1045", 61.5, "412 cuts"), new("304", 20.25, "80 cuts \"of May\"")];

    public static TheoryData<string> Files =>
    [
        "{}",
        "{ }\n",
        "{ \"factors\": { \"coolant_dry\": 0.6 } }",
        "{\n  \"materials\": []\n}\n",
        "{\n\t\"materials\": [\n\t\t{ \"name\": \"6061\", \"rate\": \"300 cm2/min\" }, // aluminium\n\t],\n}\n",
        "{ \"materials\": [ { \"name\": \"C45\", \"rate\": \"70 cm2/min\" }, { \"name\": \"Ätzend 7\", \"like\": \"304\", \"hardness\": \"200 HB\" } ] }",
        "{\n  /* ours */\n  \"materials\": [\n    {\n      \"name\": \"1045\",\n      \"hardness\": \"210 HB\",\n      \"source\": \"lab; rate: 12 cuts\"\n    },\n    { \"source\": \"\", \"rate\": \"12 cm2/min\", \"name\": \"304\", }\n  ],\n  \"factors\": {}\n}",
        "{\r\n  \"materials\": [\r\n    { \"name\": \"304\" }\r\n  ]\r\n}\r\n",
    ];

    /// <summary>The catalogue's own reader finds the rates; patch (Debian) makes the new file out of the old and the difference.</summary>
    [PeerTheory("/usr/bin/patch")]
    [MemberData(nameof(Files))]
    public async Task Apply_OnAnyFile_SetsTheRates_AndTheDifferencePatchesTheFile(string text)
    {
        var edited = CatalogueEdit.Apply(text, Rates);

        var (before, after) = (MaterialCatalogue.BuiltIn.Overlay(text), MaterialCatalogue.BuiltIn.Overlay(edited));
        Assert.Empty(before.Errors);
        Assert.Empty(after.Errors);
        foreach (var material in after.Catalogue.All)
        {
            var old = before.Catalogue.Find(material.Name)!;
            var expected = Rates.FirstOrDefault(rate => rate.Material == material.Name)?.RateCm2Min ?? old.RateCm2Min.Value;
            Assert.Equal(expected, material.RateCm2Min.Value);
            Assert.Equal(old.HardnessHb.Value, material.HardnessHb.Value);
        }

        // Once more changes nothing.
        Assert.Equal(edited, CatalogueEdit.Apply(edited, Rates));

        using var folder = new TempFolder();
        await File.WriteAllTextAsync(folder.File("catalogue.json"), text);
        await File.WriteAllTextAsync(folder.File("diff"), UnifiedDiff.Of(text, edited, "a/catalogue.json", "b/catalogue.json"));
        var (exit, output) = await Peer.RunAsync("/usr/bin/patch", ["--binary", "-p1", "-d", folder.Path, "-i", folder.File("diff")]);
        Assert.True(exit == 0, output);
        Assert.Equal(edited, await File.ReadAllTextAsync(folder.File("catalogue.json")));
    }

    [PeerFact("/usr/bin/patch")]
    public async Task Diff_OfManyPlaces_IsInPiecesThatPatchTakes()
    {
        var old = Enumerable.Range(0, 60).Select(i => $"line {i}").ToList();
        var @new = old.ToList();
        @new[2] = "other";
        @new.RemoveRange(20, 3);
        @new.Insert(24, "more");
        @new.Add("last");
        var (before, after) = (string.Join('\n', old) + "\n", string.Join('\n', @new));

        using var folder = new TempFolder();
        await File.WriteAllTextAsync(folder.File("catalogue.json"), before);
        await File.WriteAllTextAsync(folder.File("diff"), UnifiedDiff.Of(before, after, "a/catalogue.json", "b/catalogue.json"));
        var (exit, output) = await Peer.RunAsync("/usr/bin/patch", ["-p1", "-d", folder.Path, "-i", folder.File("diff")]);

        Assert.True(exit == 0, output);
        Assert.Equal(after, await File.ReadAllTextAsync(folder.File("catalogue.json")));
        Assert.Equal(3, UnifiedDiff.Of(before, after, "a", "b").Split("\n@@").Length - 1);
        Assert.Equal("", UnifiedDiff.Of(before, before, "a", "b"));
    }

    [Fact]
    public void Apply_WithoutAFile_MakesOne()
    {
        var made = CatalogueEdit.Apply(null, Rates);

        Assert.Equal(61.5, MaterialCatalogue.BuiltIn.Overlay(made).Catalogue.Find("C45")!.RateCm2Min.Value);
        Assert.Contains("    { \"name\": \"1045\", \"rate\": \"61.5 cm2/min\", \"source\": \"rate: 412 cuts\" },\n", made, StringComparison.Ordinal);
    }

    [Fact]
    public void Apply_OnAFileThatIsNone_SaysSo() =>
        Assert.StartsWith("Rates cannot be set in the catalogue file: ", Assert.Throws<CommandException>(() => CatalogueEdit.Apply("{ \"materials\": [", Rates)).Message, StringComparison.Ordinal);
}
