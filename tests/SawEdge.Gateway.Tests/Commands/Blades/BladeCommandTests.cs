using SawEdge.Core.Blades;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Tests.History;

namespace SawEdge.Gateway.Tests.Commands.Blades;

public sealed class BladeCommandTests
{
    private static readonly BladeAccount First = new()
    {
        Blade = "B-1",
        Origin = BladeOrigin.AtStart,
        FirstCutAt = Cycles.Start,
        LastCutAt = Cycles.Start.AddDays(2),
        Cuts = 900,
    };

    private static readonly BladeAccount Proposed = new()
    {
        Blade = "north-2",
        Origin = BladeOrigin.Proposed,
        FirstCutAt = Cycles.Start.AddDays(2).AddMinutes(30).AddSeconds(41).AddTicks(7),
        LastCutAt = Cycles.Start.AddDays(7),
        Cuts = 312,
        AreaCm2 = 18_400,
        SeenNew = true,
        Reference = 0.05,
        Wear = [new WearPoint(0.2, 0.05, 40), new WearPoint(1, 0.1, 100), new WearPoint(1.8, 0.17, 100)],
        Forecast = new WearForecast { Rise = 0.124, DullRise = 0.25, AreaM2 = 1.84, SlopePerM2 = 0.07, AreaLeftM2 = 2.1, LowM2 = 1.6, HighM2 = 3.2, CutsLeft = 351.4 },
    };

    [Fact]
    public async Task List_ShowsEachBladeOfEachSaw_WhatIsProposedAndWhatIsOnTwo()
    {
        using var asked = new Asked();
        await using (var history = asked.Open())
        {
            await history.AppendAsync(Cycles.Make("north", 1));
            await Asked.RememberAsync(history, "north", 0, First, Proposed);
            await Asked.RememberAsync(history, "quay", 0, First with { Origin = BladeOrigin.Controller, FirstCutAt = Cycles.Start.AddDays(1), SeenNew = true, AreaCm2 = 5000 });
        }

        Assert.Equal(
            """
            north
              north-2            on the saw since 2026-03-04 07:30, proposed
                312 cuts, 1.84 m2
                specific energy 12 % above its beginning (dull at 25 %); 2.1 m2 left (1.6 m2 to 3.2 m2),
                about 351 cuts like the last one
                PROPOSED: specific energy fell after a stop, as it does with a new blade; nobody entered
                one.
                to confirm:  sawedge blade correct north --at "2026-03-04 07:30" --blade NAME
                it was then: sawedge blade correct north --at "2026-03-04 07:30" --to TIME
                to deny:     sawedge blade correct north --at "2026-03-04 07:30" --none
              B-1                2026-03-02 07:00 to 2026-03-04 07:00, was on the saw when watching began
                900 cuts, area not known, cuts of unknown section were among them while it was watched; it
                was not new then
                ALSO ON quay at the same time: a blade is on one saw at a time, so one of the two is named
                wrong; correct it.
            """,
            string.Join('\n', asked.Done("blade", "list", "--saw", "north")));
        var all = asked.Done("blade", "list", "--units", "inch");
        Assert.Contains("quay", all);
        Assert.Contains("    312 cuts, 19.81 ft2", all);
    }

    [Fact]
    public async Task Change_WhileAGatewayRuns_IsEnteredAndLeftToIt()
    {
        using var asked = new Asked();
        await using var history = asked.Open();
        await history.AppendAsync(Cycles.Make("north", 1));

        Assert.Equal(
            ["north: blade B-8 from 2026-03-09 12:40 on. The gateway that runs there takes it over within", "seconds and computes the records anew."],
            asked.Done("blade", "change", "north", "--blade", "B-8", "--at", "20 min ago", "--note", "two teeth gone"));

        var entry = Assert.Single((await history.Reader.BladeEntriesAsync("north")).Book.Entries);
        Assert.Equal(new BladeEntry(1, "north", Asked.Now.AddMinutes(-20), BladeEntryKind.Change, "B-8", "two teeth gone"), entry);
        Assert.Contains("  entered: 2026-03-09 12:40 changed to B-8 (two teeth gone)", asked.Done("blade", "list", "--saw", "north"));
        Assert.Contains("There are entries that are not taken over yet", string.Join(' ', asked.Done("blade", "list", "--saw", "north")), StringComparison.Ordinal);
    }

    [Fact]
    public async Task Change_WhereNoGatewayRuns_ComputesTheRecordsAnewAndSaysHowMany()
    {
        using var asked = new Asked();
        await using (var history = asked.Open())
        {
            for (var i = 0; i < 3; i++)
            {
                var record = Cycles.Make("north", i);
                var row = Evidences.Row(record with { CycleId = $"north-{record.StartedAt.UtcDateTime:yyyyMMdd'T'HHmmssfff'Z'}" }, i);
                await history.Writer.AppendAsync(row with { Evidence = row.Evidence! with { Cut = row.Evidence.Cut with { StartedAt = record.StartedAt } } }, CancellationToken.None);
            }

            await Asked.RememberAsync(history, "north", 0, First);
            await history.Writer.SaveOpenFramesAsync("north", 3, new byte[] { 1 }, CancellationToken.None);
        }

        // These records are no results of their evidence, so that all are found to differ.
        var said = asked.Done("blade", "change", "north");

        Assert.Equal("north: blade north-20260309-1300 from 2026-03-09 13:00 on. 3 records changed, 3 looked through.", Assert.Single(said));
        await using var after = asked.Open();
        Assert.Equal(3, await after.Reader.CountAsync(CycleFilter.All));
        var saved = await after.Reader.LoadSawAsync("north");
        Assert.Equal(1, Gateway.Processing.MemoryCodec.Decode(saved.State!.Value).Entries);
        Assert.Single(saved.OpenFrames);
    }

    [Fact]
    public async Task Change_OnAFolderAlone_IsEntered_AndSaysWhatIsStillToBeDone()
    {
        using var asked = new Asked();
        await using (var history = asked.Open())
            await history.AppendAsync(Cycles.Make("north", 1));

        var (code, output, _) = asked.RunRaw("blade", "change", "north", "--blade", "B-8", "--data", asked.Data);

        Assert.Equal(0, code);
        Assert.Contains("at its next start", string.Join(' ', output), StringComparison.Ordinal);
        await using var after = asked.Open();
        Assert.Single((await after.Reader.BladeEntriesAsync("north")).Book.Entries);
    }

    [Fact]
    public async Task Correct_EachWay_WithdrawsTheEntryAndAddsWhatIsRight()
    {
        using var asked = new Asked();
        await using var history = asked.Open();
        await history.AppendAsync(Cycles.Make("north", 1));
        asked.Done("blade", "change", "north", "--blade", "B-8", "--at", "2026-03-05 10:00:20", "--note", "n");

        asked.Done("blade", "correct", "north", "--at", "2026-03-05 10:00", "--blade", "B-9");
        Assert.Equal(("B-9", "n", new DateTimeOffset(2026, 3, 5, 9, 0, 20, TimeSpan.Zero)), await OnlyAsync(history));
        asked.Done("blade", "correct", "north", "--at", "2026-03-05 10:00", "--to", "2026-03-06 11:00");
        Assert.Equal(("B-9", "n", new DateTimeOffset(2026, 3, 6, 10, 0, 0, TimeSpan.Zero)), await OnlyAsync(history));
        Assert.Contains("no blade was changed around 2026-03-06 11:00", asked.Done("blade", "correct", "north", "--at", "2026-03-06 11:00", "--none")[0], StringComparison.Ordinal);
        Assert.Equal(("", "", new DateTimeOffset(2026, 3, 6, 10, 0, 0, TimeSpan.Zero)), await OnlyAsync(history));
        Assert.Contains("the entry is withdrawn", asked.Done("blade", "correct", "north", "--at", "2026-03-06 11:00", "--remove")[0], StringComparison.Ordinal);
        Assert.Empty((await history.Reader.BladeEntriesAsync("north")).Book.Entries);
        Assert.Equal(8L, history.Ask("SELECT count(*) FROM blade_entries"));
    }

    [Theory]
    [InlineData("--blade", "B-9", BladeEntryKind.Change, "B-9")]
    [InlineData("--none", null, BladeEntryKind.NoChange, "")]
    public async Task Correct_AProposal_IsConfirmedOrDeniedAtTheCutThatShowedIt(string option, string? value, BladeEntryKind kind, string blade)
    {
        using var asked = new Asked();
        await using var history = asked.Open();
        await Asked.RememberAsync(history, "north", 0, First, Proposed);

        asked.Done([.. (string[])["blade", "correct", "north", "--at", "2026-03-04 07:30", option], .. value is null ? Array.Empty<string>() : [value]]);

        var entry = Assert.Single((await history.Reader.BladeEntriesAsync("north")).Book.Entries);
        Assert.Equal((kind, blade), (entry.Kind, entry.Blade));
        Assert.Equal(DateTimeOffset.FromUnixTimeMilliseconds(Proposed.FirstCutAt.ToUnixTimeMilliseconds()), entry.At);
        Assert.True(entry.At <= Proposed.FirstCutAt);
    }

    [Fact]
    public async Task Retire_AKnownBlade_IsEnteredOnce()
    {
        using var asked = new Asked();
        await using var history = asked.Open();
        await Asked.RememberAsync(history, "north", 0, First, Proposed);

        Assert.Contains("north: blade B-1 is retired from 2026-03-09 13:00 on.", asked.Done("blade", "retire", "north", "B-1")[0], StringComparison.Ordinal);
        Assert.StartsWith("Blade B-1 is retired already", asked.Refused("blade", "retire", "north", "B-1"), StringComparison.Ordinal);
        Assert.StartsWith("Blade B-1 is retired already", asked.Refused("blade", "change", "north", "--blade", "B-1"), StringComparison.Ordinal);
        Assert.Contains(asked.Done("blade", "list"), line => line.StartsWith("  B-1 ", StringComparison.Ordinal) && line.Contains("began", StringComparison.Ordinal));
    }

    [Fact]
    public async Task Forecast_DrawsTheWearAndSaysWhatIsLeft()
    {
        using var asked = new Asked();
        await using var history = asked.Open();
        await Asked.RememberAsync(history, "north", 0, First, Proposed);

        var said = asked.Done("blade", "forecast", "north", "--ascii");

        Assert.Equal("north: blade north-2, proposed, first cut 2026-03-04 07:30, 312 cuts", said[0]);
        Assert.Equal(3, said.Count(line => line.Length > 9 && line[9] == '|' && line.Contains('o', StringComparison.Ordinal)));
        Assert.Contains("After 1.84 m2 its specific energy is 12 % above its own beginning; it counts as dull at 25 %.", string.Join(' ', said), StringComparison.Ordinal);
        Assert.All(string.Concat(said), c => Assert.InRange(c, ' ', '~'));
        Assert.Contains("Nothing can be said of its wear yet", string.Join(' ', asked.Done("blade", "forecast", "north", "--blade", "B-1")), StringComparison.Ordinal);
        Assert.StartsWith("north has no blade 'B-2'; did you mean 'B-1'?", asked.Refused("blade", "forecast", "north", "--blade", "B-2"), StringComparison.Ordinal);
        Assert.StartsWith("No blade of quay is known yet", asked.Refused("blade", "forecast", "quay"), StringComparison.Ordinal);
    }

    public static TheoryData<string[], string> Wrong => new()
    {
        { ["blade", "list", "--saw", "nort"], "There is no saw 'nort'; did you mean 'north'?" },
        { ["blade", "change", "nort"], "There is no saw 'nort'; did you mean 'north'?" },
        { ["blade", "change", "north", "--at", "noon"], "--at 'noon' is no time; write for example \"2026-03-02 14:30\" (local), 2026-03-02T13:30:00Z, \"20 min ago\" or \"yesterday\"." },
        { ["blade", "change", "north", "--at", "2026-03-09 14:00"], "--at '2026-03-09 14:00' has not come yet; enter a blade when it is on the saw." },
        { ["blade", "change", "north", "--blade", " "], "--blade is empty; write the blade's name, or leave the option out to have one made." },
        { ["blade", "change", "north", "--at", "2026-03-05 09:00"], "There is an entry of 2026-03-05 09:00 for north already; change it with 'sawedge blade correct north --at \"2026-03-05 09:00\" ...'." },
        { ["blade", "correct", "north", "--at", "2026-03-05 09:00"], "Nothing is corrected: write --to TIME and/or --blade NAME, or --remove, or --none." },
        { ["blade", "correct", "north", "--at", "2026-03-05 09:00", "--remove", "--none"], "These exclude each other: write --to TIME and/or --blade NAME, or --remove, or --none." },
        { ["blade", "correct", "north", "--at", "2026-03-05 09:05", "--none"], "There is no entry and no proposal of 2026-03-05 09:05 for north; 'sawedge blade list --saw north' shows them." },
        { ["blade", "correct", "north", "--at", "2026-03-04 07:30", "--remove"], "The change of 2026-03-04 07:30 was proposed, nobody entered it; write --none where no blade was changed." },
        { ["blade", "retire", "north", "B-11"], "north has no blade 'B-11'; did you mean 'B-1'?" },
        { ["blade", "retire", "quay", "B-1"], "quay has no blade 'B-1'; none with a name was on it yet." },
    };

    [Theory]
    [MemberData(nameof(Wrong))]
    public async Task WrongInput_IsOneLineThatSaysWhatWouldBeRight_AndNothingIsEntered(string[] arguments, string expected)
    {
        using var asked = new Asked();
        await using var history = asked.Open();
        await Asked.RememberAsync(history, "north", 0, First, Proposed);
        BladeEntryRows.Write(history.Folder, [], [new BladeEntry(0, "north", new DateTimeOffset(2026, 3, 5, 8, 0, 0, TimeSpan.Zero), BladeEntryKind.Change, "B-3")], Asked.Now);

        Assert.Equal(expected, asked.Refused(arguments));
        Assert.Equal(1, await history.Reader.LastBladeEntryAsync());
    }

    [Fact]
    public void NoHistory_NoConfiguration_AreOneLineEach()
    {
        using var asked = new Asked();
        Assert.Contains("There is no history in", asked.Refused("blade", "list"), StringComparison.Ordinal);
        var (code, _, error) = asked.RunRaw("blade", "list", "--config", asked.ConfigFile + ".not");
        Assert.Equal(1, code);
        Assert.Contains("there is no file", Assert.Single(error), StringComparison.Ordinal);
    }

    private static async Task<(string Blade, string Note, DateTimeOffset At)> OnlyAsync(RunningHistory history)
    {
        var entry = Assert.Single((await history.Reader.BladeEntriesAsync("north")).Book.Entries);
        return (entry.Blade, entry.Note, entry.At);
    }
}
