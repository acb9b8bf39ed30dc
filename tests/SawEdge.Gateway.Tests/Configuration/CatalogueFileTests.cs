using SawEdge.Gateway.Commands;
using SawEdge.Gateway.Configuration;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Configuration;

public sealed class CatalogueFileTests : IDisposable
{
    private readonly TempFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Fact]
    public void The_file_lies_over_the_programs_own_catalogue()
    {
        Write("{ \"materials\": [ { \"name\": \"1045\", \"rate\": \"62 cm2/min\" } ], \"factors\": { \"coolant_dry\": 0.65 } }");
        var options = Load().Options();
        Assert.Equal(62, options.Catalogue.Find("C45")!.RateCm2Min.Value);
        Assert.Equal(0.65, options.Catalogue.Factors["coolant_dry"].Value);
        Assert.NotNull(options.Catalogue.Find("304"));
    }

    [Fact]
    public void Without_a_file_the_programs_own_catalogue_serves() =>
        Assert.Same(Core.Materials.MaterialCatalogue.BuiltIn, Sample.Load(Sample.With("", null)).Options().Catalogue);

    [Theory]
    [InlineData("{ \"materials\": [ { \"name\": \"1045\", \"rate\": \"fast\" } ] }", ", materials[0].rate: ")]
    [InlineData("{ \"materials\": [ { \"name\": \"1046\" } ] }", ", materials[0]: '1046' is not in the catalogue")]
    [InlineData("{ \"factors\": { \"coolant_try\": 1 } }", ", factors.coolant_try: is no factor")]
    [InlineData("{\n\"materials\": [", ", line 2: this is no JSON")]
    [InlineData("", ", line 1: this is no JSON")]
    public void A_mistake_in_it_is_an_error_of_the_configuration_with_its_place(string text, string message)
    {
        Write(text);
        var loaded = Load();
        Assert.Null(loaded.Options);
        var error = Assert.Single(loaded.Errors);
        Assert.Equal("catalogueFile", error.Path);
        Assert.StartsWith(_folder.File("own.json") + message, error.Message, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("\"nowhere.json\"", "there is no file ")]
    [InlineData("\".\"", "is a folder")]
    public void A_file_that_is_not_there_is_an_error(string setting, string message) =>
        Assert.Contains(message, Assert.Single(Sample.Load(_folder, Sample.With("catalogueFile", setting)).Errors).Message, StringComparison.Ordinal);

    [Fact]
    public void Check_names_the_place_in_both_files()
    {
        Write("{ \"materials\": [ { \"name\": \"1045\", \"rate\": \"fast\" } ] }");
        Load();
        using var output = new StringWriter();
        Assert.Equal(1, CheckCommand.Run(_folder.File("sawedge.json"), Sample.NoEnvironment, false, output));
        Assert.Matches($@"sawedge\.json:1:\d+: error: catalogueFile: .*own\.json, materials\[0\]\.rate: ", output.ToString());
    }

    private void Write(string text) => File.WriteAllText(_folder.File("own.json"), text);

    private LoadedConfiguration Load() => Sample.Load(_folder, Sample.With("catalogueFile", "\"own.json\""));
}
