using SawEdge.Core.Cutting;
using SawEdge.Core.Materials;
using SawEdge.Core.Notation;
using SawEdge.Core.Tests.Sections;

namespace SawEdge.Core.Tests.Materials;

public class MaterialCatalogueTests
{
    private static MaterialCatalogue Catalogue => MaterialCatalogue.BuiltIn;

    [Fact]
    public void There_are_at_least_45_materials_in_every_group()
    {
        Assert.True(Catalogue.All.Count >= 45);
        Assert.Equal(Enum.GetValues<MaterialGroup>(), Catalogue.All.Select(m => m.Group).Distinct().Order());
        Assert.All(Catalogue.All, m => Assert.True(m.EnName.Length > 0 || m.Aisi.Length > 0 || m.Uns.Length > 0, m.Name));
    }

    [Fact]
    public void Every_number_says_where_it_comes_from() => Assert.All(
        Catalogue.All.SelectMany(m => new[] { m.BandSpeedMMin, m.RateCm2Min, m.HardnessHb, m.Kc11NMm2, m.Mc, m.MaximumFeedMm, m.DensityGCm3 }),
        number =>
        {
            Assert.True(number.Value > 0);
            Assert.NotEmpty(number.Source);
        });

    [Fact]
    public void No_two_materials_share_a_name()
    {
        foreach (var name in Catalogue.All.SelectMany(m => m.AllNames.Distinct(StringComparer.OrdinalIgnoreCase).Select(n => (n, m))).GroupBy(p => p.n, StringComparer.OrdinalIgnoreCase))
            Assert.True(name.Count() == 1, $"{name.Key}: {string.Join(", ", name.Select(p => p.m.Name))}");
    }

    [Theory]
    [InlineData("1045", "1045")]
    [InlineData("c45", "1045")]
    [InlineData("1.1191", "1045")]
    [InlineData("G10450", "1045")]
    [InlineData("42 CrMo 4", "4140")]
    [InlineData("S355", "S355J2")]
    [InlineData("d-2", "D2")]
    [InlineData("1.4301", "304")]
    [InlineData("TiAl6V4", "Ti-6Al-4V")]
    public void Find_knows_every_name(string written, string name) => Assert.Equal(name, Catalogue.Find(written)!.Name);

    [Fact]
    public void Nearest_offers_what_was_meant()
    {
        Assert.Null(Catalogue.Find("1046"));
        Assert.Contains("1045", Catalogue.Nearest("1046"));
        Assert.Equal("42CrMo4", Catalogue.Nearest("42CrMo5")[0]);
        Assert.Null(Catalogue.Find(""));
    }

    [Fact]
    public void Band_speeds_are_those_of_the_handbook_and_its_uncertain_rows_are_marked()
    {
        var compared = 0;
        foreach (var row in PublishedTable.Rows("band_speeds.csv"))
        {
            foreach (var label in row["materials"].Split(',').Select(l => l.Trim()))
            {
                var material = Catalogue.All.FirstOrDefault(m => m.Aisi.Replace("-", "", StringComparison.Ordinal) == label.Replace("-", "", StringComparison.Ordinal) || m.Name == label || m.Aliases.Contains(label));
                if (material is null || !material.BandSpeedMMin.Source.StartsWith("Machinery", StringComparison.Ordinal))
                    continue;
                compared++;
                Assert.True(Math.Abs(material.BandSpeedMMin.Value - (row.N("fpm") * 0.3048)) < 0.06, $"{label}: {material.BandSpeedMMin.Value}");
                if (row["m_min_printed"].Length > 0)
                    Assert.True(Math.Abs(material.BandSpeedMMin.Value - row.N("m_min_printed")) <= 0.56, label);
                Assert.Equal(row["alignment"] == "uncertain" ? Provenance.PublishedUncertain : Provenance.Published, material.BandSpeedMMin.Provenance);
            }
        }

        Assert.True(compared >= 35, $"{compared} compared");
        Assert.Equal(36.6, Catalogue.Find("304")!.BandSpeedMMin.Value, 0.05);
    }

    [Theory]
    [InlineData("1018", "distributor", "1015-1018", "3 to 6 in")]
    [InlineData("1045", "guide", "1030-1055, A36", "")]
    [InlineData("1095", "guide", "1060-1095", "")]
    [InlineData("1215", "guide", "1211-1215", "")]
    [InlineData("1137", "guide", "1137-1151", "")]
    [InlineData("4140", "guide", "4130-4140", "")]
    [InlineData("4340", "guide", "4340", "")]
    [InlineData("52100", "guide", "50100,51100,52100", "")]
    [InlineData("D2", "guide", "D2-D7, A7", "")]
    [InlineData("A2", "guide", "A2-A6, A8-A10", "")]
    [InlineData("O1", "manual", "O-1,O-2", "6 in round")]
    [InlineData("M2", "manual", "M-2,M-3", "6 in round")]
    [InlineData("304", "manual", "302,304", "6 in round")]
    [InlineData("316", "manual", "316,420", "6 in round")]
    [InlineData("416", "manual", "416,430F", "6 in round")]
    [InlineData("440C", "manual", "440A,B,C", "6 in round")]
    public void Cutting_rates_are_the_middle_of_the_published_range(string name, string source, string materials, string size)
    {
        var row = PublishedTable.Rows("cutting_rates.csv").Single(r => r["source"] == source && r["materials"] == materials && r["size"] == size);
        var printed = row["cm2_min"].Length > 0 ? row["cm2_min"] : row["in2_min"];
        var ends = printed.Split('-').Select(e => double.Parse(e, System.Globalization.CultureInfo.InvariantCulture) * (row["cm2_min"].Length > 0 ? 1 : 6.4516)).ToArray();
        var rate = Catalogue.Find(name)!.RateCm2Min;
        Assert.Equal((ends[0] + ends[1]) / 2, rate.Value, 0.06);
        Assert.Equal(Provenance.Published, rate.Provenance);
    }

    [Fact]
    public void Power_constants_agree_between_their_units()
    {
        // 1 hp per in3/min = 745.699872 W / (16387.064 mm3 / 60 s) = 2.730324 kW per cm3/s.
        const double Ratio = 745.699872 / (16387.064 / 60);
        Assert.Equal(2.730324, Ratio, 6);
        foreach (var row in PublishedTable.Rows("power_constants.csv"))
            Assert.Equal(row.N("kp_inch") * Ratio, row.N("kp_si"), 0.005 + (0.005 * Ratio));
    }

    [Theory]
    [InlineData("1018", "All plain carbon steels", "140-160")]
    [InlineData("1045", "All plain carbon steels", "160-180")]
    [InlineData("1060", "All plain carbon steels", "180-200")]
    [InlineData("1117", "Free machining AISI 1108", "140-160")]
    [InlineData("1144", "Free machining AISI 1137", "180-200")]
    [InlineData("4140", "Alloy AISI 4023", "180-200")]
    [InlineData("8620", "Alloy AISI 4130", "180-200")]
    [InlineData("52100", "Alloy AISI 1330", "200-220")]
    public void Specific_force_at_the_handbooks_feed_is_its_power_constant(string name, string group, string brinell)
    {
        // Kp in kW per cm3/s is the specific force in kN/mm2; the table refers to a feed of 0.3 mm with sharp tools.
        var row = PublishedTable.Rows("power_constants.csv").Single(r => r["material"].StartsWith(group, StringComparison.Ordinal) && r["brinell"] == brinell);
        // kc11 is entered to 5 N/mm2.
        Assert.Equal(row.N("kp_si") * 1000, Catalogue.Find(name)!.SpecificForceNMm2(0.3), 2.5 * Math.Pow(0.3, -0.2));
    }

    [Fact]
    public void Specific_force_rises_toward_small_feeds_as_the_handbooks_feed_factors_do()
    {
        // Feed factors of power, from memory of the same handbook: 1.70 at 0.02 mm, 1.40 at 0.05, 1.25 at 0.10, 1.00 at 0.30.
        var steel = Catalogue.Find("1045")!;
        foreach (var (feed, factor) in new[] { (0.02, 1.70), (0.05, 1.40), (0.10, 1.25), (0.30, 1.00) })
            Assert.Equal(factor, steel.SpecificForceNMm2(feed) / steel.SpecificForceNMm2(0.3), 0.04);
        Assert.True(double.IsFinite(steel.SpecificForceNMm2(0)));
    }

    [Fact]
    public void No_embedded_table_is_missing_a_source()
    {
        var tables = typeof(Material).Assembly.GetManifestResourceNames().Where(n => n.EndsWith(".csv", StringComparison.Ordinal)).ToList();
        Assert.True(tables.Count >= 9);
        foreach (var table in tables)
        {
            using var reader = new StreamReader(typeof(Material).Assembly.GetManifestResourceStream(table)!);
            var text = reader.ReadToEnd();
            Assert.True(text.StartsWith('#') && (text.Contains("ource", StringComparison.Ordinal) || text.Contains("from", StringComparison.Ordinal)), table);
            Assert.NotEmpty(CsvTable.Read(text).Rows);
        }
    }
}
