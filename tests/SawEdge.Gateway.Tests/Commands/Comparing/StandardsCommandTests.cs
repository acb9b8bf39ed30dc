using System.Text.Json;
using SawEdge.Core.Cycles;
using SawEdge.Core.Materials;

namespace SawEdge.Gateway.Tests.Commands.Comparing;

public sealed class StandardsCommandTests
{
    private const string Catalogue =
        """
        {
          // Rates of our own blades.
          "materials": [
            { "name": "C45", "rate": "55 cm2/min", "source": "trial of May" }, // to be looked at again
            { "name": "6061", "hardness": "95 HB" }
          ],
          "factors": { "coolant_dry": 0.65 }
        }

        """;

    [Fact]
    public async Task Standards_OfAHistory_SaysForEachKindHowItDid_AndProposesRates()
    {
        using var asked = new Asked();
        await Made().StoreAsync(asked);

        Assert.Equal(
            [
                "288 cuts against their standards, 2026-03-02 07:00 to 2026-03-12 07:28.",
                "",
                "north, against the catalogue",
                "  material     section  blade                cuts  runs median spread typical (95 %)",
                "  1045         round    bimetal 3/4 tpi        80    10   1.13    5 % 1.12 (1.10 to 1.13) slower",
                "  304          round    bimetal 4/6 tpi        80    10   1.00    4 % 1.00 (0.98 to 1.02)",
                "",
                "quay, against the catalogue",
                "  material     section  blade                cuts  runs median spread typical (95 %)",
                "  1045         round    bimetal 3/4 tpi        64     8   1.08    4 % 1.09 (1.06 to 1.12) slower",
                "  1045         round    carbide 3/4 tpi        16     2   1.36    2 % -                   few",
                "",
                "north, against the plant's own standards in the job list",
                "  material     section  blade                cuts  runs median spread typical (95 %)",
                "  C            round    bimetal 3/4 tpi        48     6   0.89    4 % 0.89 (0.87 to 0.91) faster",
                "",
                "Rates proposed for the catalogue",
                "  1045         49.8 cm2/min in place of 55 cm2/min (-9 %): 144 cuts in 18 runs on north, quay",
                "               took 1.10 times the standard, 95 % interval 1.09 to 1.12.",
                "",
                "How to read it",
                "  Median 1.07: half of the cuts took more than 1.07 times their standard. Spread: two of three",
                "  cuts lie that close to the median. Typical: the centre of the bulk of the cuts, in which odd",
                "  ones count little, and its 95 % interval. A run is the cuts of one job with one blade in one",
                "  go, eight hours long at most; the interval takes cuts of a run as alike.",
                "  Slower, faster: beyond chance. Of all that is called so, at most 1 in 20 is expected to be",
                "  chance all the same (false discovery rate by Benjamini and Hochberg, over 4 kinds of cut).",
                "  Few: less than 20 cuts, or too few runs to say.",
                "  10 cuts with a load score of 3 or more are among them: leaving out the odd ones would make",
                "  every standard look right.",
                "  Left out: 1 not completed (aborted, trim, partial or not seen to the end), 2 without a",
                "  standard (not in the job list), 1 with a feed hold, 1 seen with gaps, 1 with a blade that was",
                "  being broken in.",
                "  Standards of the plant's own stand in the job list, column standard; change them there.",
                "  A rate is one for all saws, so that a slow saw does not get a slow standard. Where a limit of",
                "  feed or descent governs a cut, its time follows the rate less than in proportion: look again",
                "  afterwards.",
            ],
            asked.Done("standards"));

        Assert.Contains("  1045         7.719 in2/min in place of 8.525 in2/min (-9 %): 144 cuts in 18 runs on north,", asked.Done("standards", "--units", "inch"));
    }

    [Fact]
    public async Task Standards_AsJson_HoldsAllDigits()
    {
        using var asked = new Asked();
        await Made().StoreAsync(asked);

        var json = JsonDocument.Parse(string.Join('\n', asked.Done("standards", "--json", "--material", "C45", "--blade", "bimetal 3/4 tpi", "--to", "2026-03-09"))).RootElement;

        var kind = json.GetProperty("kinds")[0];
        Assert.Equal("1045", kind.GetProperty("material").GetString());
        Assert.Equal(64, kind.GetProperty("cuts").GetInt32());
        Assert.True(kind.GetProperty("beyond_chance").GetBoolean());
        Assert.InRange(kind.GetProperty("typical_ratio_low").GetDouble(), 1.05, kind.GetProperty("typical_ratio").GetDouble());
        Assert.Equal("C", json.GetProperty("kinds")[1].GetProperty("job_with_own_standard").GetString());
        Assert.Equal(55, json.GetProperty("materials")[0].GetProperty("rate_now_cm2_min").GetDouble());
        Assert.Equal(0, json.GetProperty("left_out").GetProperty("not_completed").GetInt32());
    }

    [Fact]
    public async Task Standards_Diff_ShowsNothingButWhatAPersonHasToReview()
    {
        using var asked = new Asked();
        await Made().StoreAsync(asked);
        File.WriteAllText(asked.Beside("own.json"), Catalogue);
        var config = asked.Configure("other.json", ("catalogueFile", "\"own.json\""));

        Assert.Equal(
            [
                "--- a/own.json",
                "+++ b/own.json",
                "@@ -1,7 +1,7 @@",
                " {",
                "   // Rates of our own blades.",
                "   \"materials\": [",
                "-    { \"name\": \"C45\", \"rate\": \"55 cm2/min\", \"source\": \"trial of May\" }, // to be looked at again",
                "+    { \"name\": \"C45\", \"rate\": \"49.8 cm2/min\", \"source\": \"trial of May; rate: 144 cuts in 18 runs on north, quay, 2026-03-02 to 2026-03-12\" }, // to be looked at again",
                "     { \"name\": \"6061\", \"hardness\": \"95 HB\" }",
                "   ],",
                "   \"factors\": { \"coolant_dry\": 0.65 }",
            ],
            asked.RunRaw("standards", "--diff", "--config", config).Output);
        Assert.Equal("--- /dev/null", asked.Done("standards", "--diff")[0]);
    }

    /// <summary>Cuts are stored with the standard of their day: once the new rate is in force, it must not be proposed again.</summary>
    [Fact]
    public async Task Standards_Written_ReadsBack_AndInForceIsNotProposedAgain()
    {
        using var asked = new Asked();
        await Made().StoreAsync(asked);
        var file = asked.Beside("proposed.json");

        var (code, _, said) = asked.Run("standards", "--write", file);

        Assert.Equal(0, code);
        Assert.Equal([$"Written to {file}. To put it in force, name it in {asked.ConfigFile} as \"catalogueFile\" and start the gateway anew."], said);
        Assert.Equal(49.8, MaterialCatalogue.BuiltIn.Overlay(File.ReadAllText(file)).Catalogue.Find("1045")!.RateCm2Min.Value);
        Assert.Equal($"--write {file}: there is something of this name already; choose another.", asked.Refused("standards", "--write", file));

        var config = asked.Configure("other.json", ("catalogueFile", "\"proposed.json\""));
        var after = asked.RunRaw("standards", "--config", config).Output;
        Assert.Contains("No other rate is proposed for the catalogue: no material differs from its standard beyond chance", after);
        Assert.Contains("  160 cuts had another standard when they were made; here all are held against the catalogue and", after);
        Assert.Equal(["No other rate is proposed, so nothing was written."], asked.RunRaw("standards", "--write", asked.Beside("more.json"), "--config", config).Error);
        Assert.False(File.Exists(asked.Beside("more.json")));
        Assert.Equal([$"--write {file} is the catalogue file in force; write beside it, look at the differences, and put it in its place yourself."], asked.RunRaw("standards", "--write", file, "--config", config).Error);
    }

    public static TheoryData<string[], string> Wrong => new()
    {
        { ["--saw", "nort"], "There is no saw 'nort'; did you mean 'north'?" },
        { ["--material", "1046"], "No cut here is of '1046'; did you mean '1045'?" },
        { ["--blade", "bimetal 3/5 tpi"], "No cut here was made with blade or blade type 'bimetal 3/5 tpi'; did you mean 'bimetal 3/4 tpi'?" },
        { ["--from", "noon"], "--from 'noon' is no time; write for example \"2026-03-02 14:30\" (local), 2026-03-02T13:30:00Z, \"20 min ago\" or \"yesterday\"." },
        { ["--to", "2026-03-01"], "There is no such cut in the history." },
        { ["--least", "0"], "--least 0 is no number of cuts to go by; write 2 to 1000000." },
        { ["--diff", "--json"], "--diff and --json are two forms of output; choose one." },
        { ["--saw", "quay"], "No cut can be held against a standard: 24 without a standard (not in the job list). Standards come with the job list: name it in the configuration (jobsFile), with the jobs as the controllers report them." },
    };

    [Theory]
    [MemberData(nameof(Wrong))]
    public async Task Standards_WhatIsNotThere_IsRefusedWithWhatWouldBeRight(string[] arguments, string expected)
    {
        using var asked = new Asked();
        await new MadeCuts().Add("north", "A", 1, runs: 2).Add("quay", "unlisted", 1, runs: 3).StoreAsync(asked);

        Assert.Equal(expected, asked.Refused(["standards", .. arguments]));
    }

    [Fact]
    public async Task Standards_OfADataFolderAlone_SaysWhatThatMeans()
    {
        using var asked = new Asked();
        await Made().StoreAsync(asked);

        Assert.Contains("  No configuration was read: cuts are held against the standards of their day, whatever the", asked.RunRaw("standards", "--data", asked.Data).Output);
        Assert.Equal(["--data alone names no catalogue that an override could be laid over; name the configuration with --config as well."], asked.RunRaw("standards", "--diff", "--data", asked.Data).Error);
    }

    // 1045 is 12 % slow on one saw and 9 % on the other, 304 is as it should be; a few odd cuts, and one of each that is left out.
    private static MadeCuts Made() => new MadeCuts()
        .Add("north", "A", 1.12, change: (i, cut, record) => i == 3 ? (cut, record with { CutTimeS = record.CutTimeS * 3, LoadScore = 4.2 }) : (cut, record))
        .Add("quay", "A", 1.09, runs: 8)
        .Add("quay", "A-carbide", 1.3, runs: 2, day: 9)
        .Add("north", "B", 1, hour: 4)
        .Add("north", "C", 0.9, hour: 6, runs: 6)
        .Add("north", "unlisted", 1, runs: 1, cuts: 2, hour: 8)
        .Add("quay", "B", 1, runs: 1, cuts: 4, day: 20, change: (i, cut, record) => i switch
        {
            0 => (cut with { Outcome = CutOutcome.Aborted }, record),
            1 => (cut with { HoldSeconds = 4 }, record),
            2 => (cut, record with { Coverage = 0.5 }),
            _ => (cut, record with { Blade = "B-9", BladeAreaM2 = 0.03 }),
        });
}
