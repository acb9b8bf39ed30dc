using SawEdge.Core.Cutting;
using SawEdge.Core.Materials;
using SawEdge.Core.Sections;

namespace SawEdge.Core.Tests.Materials;

public class PlantCatalogueTests
{
    [Fact]
    public void Overlay_changes_what_is_given_and_adds_what_is_new()
    {
        var (catalogue, errors) = MaterialCatalogue.BuiltIn.Overlay("""
            {
              // our own bars
              "materials": [
                { "name": "1045", "rate": "10 in2/min", "source": "trial of May" },
                { "name": "Spring 7", "like": "5160", "hardness": "380 HB", "band_speed": "150 ft/min", "kc11": 1900, "aliases": ["SP7"], },
              ],
              "factors": { "coolant_dry": 0.7, "rate_by_length": [["10 mm", 0.5], ["4 in", 1]] },
            }
            """);
        Assert.Empty(errors);
        var steel = catalogue.Find("C45")!;
        Assert.Equal(64.516, steel.RateCm2Min.Value, 9);
        Assert.Equal(Provenance.Plant, steel.RateCm2Min.Provenance);
        Assert.Contains("trial of May", steel.RateCm2Min.Source, StringComparison.Ordinal);
        Assert.Equal(Provenance.Published, steel.BandSpeedMMin.Provenance);
        var spring = catalogue.Find("sp7")!;
        Assert.Equal(45.72, spring.BandSpeedMMin.Value, 9);
        Assert.Equal(380, spring.HardnessHb.Value);
        Assert.Equal("5160", catalogue.Find("G51600")!.Name);

        var job = new CutJob { JobId = "1", Material = steel, Section = SectionFactory.Round(100), Factors = catalogue.Factors, Coolant = Coolant.Dry };
        var factors = CuttingModel.Standard(job, new SawMachine { Name = "saw" }).Factors;
        Assert.Equal(0.7, factors.Single(f => f.Name == "coolant").Value);
        Assert.Equal(Provenance.Plant, factors.Single(f => f.Name == "length").Provenance);
        Assert.Equal(0.6, CuttingFactors.Default["coolant_dry"].Value);
    }

    [Theory]
    [InlineData("{ \"materials\": [ { \"name\": \"1046\", \"rate\": \"10 in2/min\" } ] }", "materials[0]", "1045")]
    [InlineData("{ \"materials\": [ { \"name\": \"1045\", \"rate\": \"10 furlongs\" } ] }", "materials[0].rate", "cm2/min")]
    [InlineData("{ \"materials\": [ { \"name\": \"1045\", \"rate\": 10 } ] }", "materials[0].rate", "cm2/min")]
    [InlineData("{ \"materials\": [ { \"name\": \"1045\", \"hardnes\": \"200 HB\" } ] }", "materials[0].hardnes", "hardness")]
    [InlineData("{ \"materials\": [ { \"name\": \"1045\", \"mc\": -1 } ] }", "materials[0].mc", "0.25")]
    [InlineData("{ \"materials\": [ { \"name\": \"1045\", \"group\": \"7\" } ] }", "materials[0].group", "AlloySteel")]
    [InlineData("{ \"materials\": [ { \"name\": \"1045\", \"aliases\": \"a\" } ] }", "materials[0].aliases", "list")]
    [InlineData("{ \"materials\": [ 7 ] }", "materials[0]", "name")]
    [InlineData("{ \"factors\": { \"coolant_try\": 1 } }", "factors.coolant_try", "coolant_dry")]
    [InlineData("{ \"factors\": { \"coolant_dry\": 0 } }", "factors.coolant_dry", "above zero")]
    [InlineData("{ \"factors\": { \"rate_by_length\": [[\"4 in\", 1], [\"1 in\", 2]] } }", "factors.rate_by_length", "rising")]
    [InlineData("{ \"stuff\": 1 }", "stuff", "materials")]
    [InlineData("[]", "$", "object")]
    [InlineData("{\n \"materials\": [ { ", "line 2", "JSON")]
    public void Overlay_says_where_it_is_wrong_and_the_rest_serves(string json, string path, string message)
    {
        var (catalogue, errors) = MaterialCatalogue.BuiltIn.Overlay(json);
        var error = Assert.Single(errors);
        Assert.Equal(path, error.Path);
        Assert.Contains(message, error.Message, StringComparison.Ordinal);
        Assert.Equal(55, catalogue.Find("1045")!.RateCm2Min.Value);
    }
}
