using SawEdge.Core.Blades;
using SawEdge.Core.Cycles;

namespace SawEdge.Core.Tests.Load;

/// <summary>A restart at any cut leaves no trace in what comes after.</summary>
public sealed class CutRecorderRestartTests
{
    private const int HeldAgainst = 4;

    [Fact]
    public void Restore_AtEveryCut_GoesOnAsIfNothingHadBeen()
    {
        var (evidence, book) = Life();
        var whole = MadeCuts.Recorder();
        whole.Entries = book;
        var (told, memories) = (new List<string>(), new List<RecorderMemory>());
        foreach (var cut in evidence)
        {
            memories.Add(whole.Save());
            told.Add(Told.Of(whole.Take(cut)));
        }

        // The life has proposals, entries and records that came again.
        Assert.Contains(whole.Blades, blade => blade.Origin == BladeOrigin.Proposed);
        Assert.Contains(memories, memory => memory.TakeAgainFrom is not null);
        for (var i = 0; i < evidence.Count; i++)
        {
            var again = MadeCuts.Recorder();
            again.Entries = book;
            again.Restore(memories[i]);
            var from = memories[i].TakeAgainFrom is { } moment ? evidence.FindIndex(cut => cut.Cut.StartedAt == moment) : i;
            Assert.InRange(from, 0, i);
            for (var j = from; j < Math.Min(evidence.Count, i + HeldAgainst); j++)
                Assert.Equal(told[j], Told.Of(again.Take(evidence[j])));
            if (i + HeldAgainst <= evidence.Count - 1)
                Assert.Equal(memories[i + HeldAgainst].Load, again.Save().Load);
        }
    }

    [Fact]
    public void Restore_OtherVersion_IsRefused()
    {
        var memory = MadeCuts.Recorder().Save() with { Algorithm = 0 };
        Assert.Contains("version 0", Assert.Throws<FormatException>(() => MadeCuts.Recorder().Restore(memory)).Message, StringComparison.Ordinal);
    }

    [Fact]
    public void Restore_AnyDamage_IsRefusedOrReadButNeverThrowsAnythingElse()
    {
        var recorder = MadeCuts.Recorder();
        foreach (var cut in new MadeCuts().Several(30))
            recorder.Take(MadeCuts.Evidence(cut));
        var memory = recorder.Save();
        for (var length = 1; length < memory.Load.Length; length += 37)
        {
            var cutOff = memory with { Load = memory.Load[..length] };
            Assert.Throws<FormatException>(() => MadeCuts.Recorder().Restore(cutOff));
        }
    }

    // Normal cuts, a stop with a changed blade, an entered blade, stops without a change, jobs that change, and cuts of every bad kind.
    private static (List<CutEvidence> Evidence, BladeBook Book) Life()
    {
        var cuts = new MadeCuts { Level = 0.4 };
        List<Cut> life = [.. cuts.Several(90)];
        cuts.Pause(10).Level = 0;
        life.AddRange(cuts.Several(12));
        cuts.Job = "J-3";
        life.AddRange(cuts.Several(6));
        life.Add(cuts.Next(extra: 0.8));
        life.Add(cuts.Next(pattern: bin => bin is > 20 and < 25 ? 0.5 : 0));
        life.Add(cuts.Next() with { Job = "nobody's" });
        life.Add(cuts.Next() with { Job = "", BarId = "" });
        life.Add(cuts.Next() with { Outcome = CutOutcome.Aborted, CutEndedAt = null, Profile = null, Loop = null });
        life.Add(cuts.Next() with { Doubts = SignalDoubts.LoadConstant });
        life.Add(cuts.Next() with { DepthMm = 60 });
        var entered = cuts.Now.AddMinutes(5);
        cuts.Pause(10);
        cuts.Job = "J-1";
        life.AddRange(cuts.Several(5));
        cuts.Pause(600);
        life.AddRange(cuts.Several(9));
        cuts.BladeId = "K-9";
        life.AddRange(cuts.Several(5));
        return ([.. life.Select(cut => MadeCuts.Evidence(cut))], new BladeBook([new BladeEntry(1, "Saw 1", entered, BladeEntryKind.Change, "by hand")]));
    }
}
