using System.Text.Json;

namespace SawEdge.Gateway.Tests.Commands.Comparing;

public sealed class CompareCommandTests
{
    [Fact]
    public async Task Compare_TwoTypesOfBlade_SaysItInOneSentence()
    {
        using var asked = new Asked();
        // Six blades of each type; the catalogue has a factor for the type, and the second does 7 % better than that.
        await new MadeCuts()
            .Add("north", "A", 1, runs: 24, blade: run => $"B-{run / 4}")
            .Add("north", "A-carbide", 1 / 1.07, runs: 24, blade: run => $"C-{run / 4}", hour: 4)
            .Add("quay", "A", 1.2, runs: 4, hour: 2)
            // What belongs to neither side is not spoken of.
            .Add("north", "B", 1, runs: 1, hour: 6, change: (_, cut, record) => (cut with { HoldSeconds = 3 }, record))
            .StoreAsync(asked);

        Assert.Equal(
            [
                "Blade type carbide 3/4 tpi cut 8 % faster than blade type bimetal 3/4 tpi, 95 % interval 6 to 10",
                "%, 192 against 192 cuts.",
                "It stands on 6 against 6 blades, and holds for others of the two types as far as these are like",
                "them.",
                "",
                "By kind of cut (carbide 3/4 tpi against bimetal 3/4 tpi)",
                "  north, 1045, round: 8 % faster (6 to 10 %), 192 against 192 cuts",
                "",
                "How to read it",
                "  Faster: more area in the same time, each cut held against its own standard, so that size and",
                "  section do not matter. Like is compared with like only: kinds of cut that both sides made. Odd",
                "  cuts count little; the interval takes cuts of a blade as alike.",
                "  The cuts were made 2026-03-02 07:00 to 2026-03-25 11:28.",
                "  Without a counterpart and left out: 0 against 32 cuts of kinds that only one side made.",
            ],
            asked.Done("compare", "blades", "bimetal 3/4 tpi", "carbide 3/4 tpi"));

        var json = JsonDocument.Parse(string.Join('\n', asked.Done("compare", "blades", "bimetal 3/4", "carbide 3/4", "--json"))).RootElement;
        Assert.Equal("Blade type carbide 3/4 tpi cut 8 % faster than blade type bimetal 3/4 tpi, 95 % interval 6 to 10 %, 192 against 192 cuts.", json.GetProperty("sentence").GetString());
        Assert.InRange(json.GetProperty("rate_ratio").GetDouble(), 1.06, 1.10);
        Assert.Equal(192, json.GetProperty("kinds")[0].GetProperty("second_cuts").GetInt32());
        Assert.Equal(JsonValueKind.Null, json.GetProperty("kinds")[0].GetProperty("blade_type").ValueKind);

        // Two blades by their names, and types of which too few blades were seen.
        Assert.Equal("Blade C-1 cut 6 % faster than blade B-1, 95 % interval 2 to 11 %, 32 against 32 cuts.", asked.Done("compare", "blades", "B-1", "C-1")[0]);
        var few = asked.Done("compare", "blades", "bimetal 3/4 tpi", "carbide 3/4 tpi", "--saw", "north", "--to", "2026-03-09");
        Assert.Equal("That is for these very blades, 2 against 2: they are too few to tell what other blades of the", few[2]);
    }

    [Fact]
    public async Task Compare_Periods_SaysWhatChanged_OrThatNothingDid()
    {
        using var asked = new Asked();
        await new MadeCuts()
            .Add("north", "A", 1, runs: 7, day: -7)
            .Add("north", "A", 1.1, runs: 7)
            .Add("quay", "B", 1, runs: 14, day: -7)
            .Add("quay", "A-carbide", 1, runs: 2, day: -7)
            .StoreAsync(asked);

        Assert.Equal(
            [
                "In 'last week' the saws cut 5 % slower than in 'before 2026-03-02', 95 % interval 2 to 8 %, 112",
                "against 112 cuts.",
                "",
                "By kind of cut (last week against before 2026-03-02)",
                "  north, 1045, round, bimetal 3/4 tpi: 11 % slower (8 to 13 %), 56 against 56 cuts",
                "  quay, 304, round, bimetal 4/6 tpi: no difference beyond chance (2 % slower to 4 % faster), 56",
                "  against 56 cuts",
            ],
            asked.Done("compare", "periods", "before 2026-03-02", "last week")[..7]);
        Assert.Equal(
            ["No difference beyond chance between 'last week' and 'before 2026-03-02' (1 % faster, 95 %", "interval 2 % slower to 4 % faster, 56 against 56 cuts)."],
            asked.Done("compare", "periods", "before 2026-03-02", "last week", "--saw", "quay")[..2]);
        Assert.Equal(
            ["Too few cuts to say: 'last week' against 'before 2026-03-02', 112 against 112 cuts of kinds that", "both made, in 14 against 14 runs; needed are 200 cuts on each side, from several runs."],
            asked.Done("compare", "periods", "before 2026-03-02", "last week", "--least", "200")[..2]);
        Assert.Equal("Nothing in common: saw quay and saw north have no kind of cut that both made (128 cuts against", asked.Done("compare", "saws", "north", "quay")[0]);
        Assert.StartsWith("  No configuration was read: cuts are held against the standards of their day.", asked.RunRaw("compare", "periods", "before 2026-03-02", "last week", "--data", asked.Data).Output[^2], StringComparison.Ordinal);
    }

    public static TheoryData<string[], string> Wrong => new()
    {
        { ["saws", "north", "quai"], "There is no saw 'quai'; did you mean 'quay'?" },
        { ["saws", "north", "North"], "'north' cannot be compared with itself; name two different saws." },
        { ["blades", "3/4 tpi", "bimetal 3-4 tpi"], "'3/4 tpi' and 'bimetal 3-4 tpi' are the same type of blade, bimetal 3/4 tpi; name two different ones." },
        { ["blades", "bimetal 3/4 tpi", "carbide 4/6 tpi"], "No cut here was made with blade or blade type 'carbide 4/6 tpi'; did you mean 'carbide 3/4 tpi'?" },
        { ["blades", "B-1", "X"], "No cut here was made with blade or blade type 'X'; known here: B-1, bimetal 3/4 tpi, carbide 3/4 tpi." },
        { ["periods", "last week", "soon"], "the second period 'soon' is no period; write for example \"last week\", \"last 30 days\", 2026-03-02, \"2026-03-02 to 2026-03-08\", \"since 2026-03-02 14:30\" or \"before yesterday\"." },
        { ["periods", "last week", "2026-03-05 to 2026-03-04"], "the second period '2026-03-05' to '2026-03-04' ends before it begins: 2026-03-05 00:00 to 2026-03-05 00:00." },
        { ["periods", "last week", "since 2026-03-07"], "The two periods overlap: 2026-03-02 00:00 to 2026-03-09 00:00 and 2026-03-07 00:00 to 2026-03-09 13:00; a cut can belong to one only." },
        { ["periods", "last month", "last week"], "'last month' has no cut that can be compared." },
        { ["saws", "north", "quay", "--material", "C46"], "No cut here is of 'C46'; known here: 1045." },
        { ["saws", "north", "quay", "--blade", "B-2"], "No cut here was made with blade or blade type 'B-2'; did you mean 'B-1'?" },
        { ["saws", "north", "quay", "--least", "1"], "--least 1 is no number of cuts to go by; write 2 to 1000000." },
        { ["saws", "north", "quay", "--from", "2026-03-05", "--to", "2026-03-04"], "--from, --to: '2026-03-05' to '2026-03-04' ends before it begins: 2026-03-05 00:00 to 2026-03-05 00:00." },
    };

    [Theory]
    [MemberData(nameof(Wrong))]
    public async Task Compare_WhatCannotBeCompared_IsRefusedWithWhatWouldBeRight(string[] arguments, string expected)
    {
        using var asked = new Asked();
        await new MadeCuts().Add("north", "A", 1, runs: 2, blade: _ => "B-1").Add("quay", "A-carbide", 1, runs: 2).StoreAsync(asked);

        Assert.Equal(expected, asked.Refused(["compare", .. arguments]));
    }

    [Fact]
    public void Compare_WithoutAHistory_SaysWhereNoneIs()
    {
        using var asked = new Asked();

        Assert.StartsWith("There is no history in", asked.Refused("compare", "saws", "north", "quay"), StringComparison.Ordinal);
    }
}
