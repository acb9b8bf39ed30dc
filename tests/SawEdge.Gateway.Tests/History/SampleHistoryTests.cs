using SawEdge.Core.Signals;
using SawEdge.Gateway.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.History;

public sealed class SampleHistoryTests
{
    private static readonly DateTimeOffset Begin = new(2026, 3, 2, 5, 0, 0, TimeSpan.Zero);
    private static readonly TimeSpan Ten = TimeSpan.FromSeconds(10);

    [Fact]
    public async Task Samples_OfSeveralSaws_ComeByTimeThenSawOverManyPages()
    {
        await using var history = new RunningHistory();
        var all = new List<SawSample>();
        for (var n = 0; n < 2500; n++)
            all.AddRange([At("Saw 1", n), At("Saw 2", n), At("säge \"3\"", n)]);
        await history.Writer.SaveSamplesAsync([.. all.OrderBy(sample => (sample.Sample.From.Ticks * 31) % 1009)], CancellationToken.None);

        Same(all, await ReadAsync(history, SampleFilter.All));
        Same(all.Where(sample => sample.Saw != "Saw 1"), await ReadAsync(history, new SampleFilter { Saws = ["säge \"3\"", "Saw 2", "Saw 9"] }));
        var some = new SampleFilter { Saws = ["Saw 1"], From = Begin.AddSeconds(1000), To = Begin.AddSeconds(1100) };
        Same(all.Where(sample => sample.Saw == "Saw 1").Skip(100).Take(10), await ReadAsync(history, some));
        Assert.Equal((7500, 10, 0), (await history.Reader.CountSamplesAsync(SampleFilter.All), await history.Reader.CountSamplesAsync(some), await history.Reader.CountSamplesAsync(new SampleFilter { Saws = [] })));

        // An interval belongs to the period in which it begins.
        Assert.Equal(1, await history.Reader.CountSamplesAsync(new SampleFilter { Saws = ["Saw 1"], From = Begin.AddSeconds(1000).AddTicks(1), To = Begin.AddSeconds(1010).AddTicks(1) }));
        Assert.Equal(7500, await history.Reader.CountSamplesAsync(new SampleFilter { From = DateTimeOffset.MinValue, To = DateTimeOffset.MaxValue }));
    }

    [Fact]
    public async Task Samples_WhileTheWriterGoesOn_AreReadPageByPage()
    {
        await using var history = new RunningHistory();
        await history.Writer.SaveSamplesAsync([.. Enumerable.Range(0, 4000).Select(n => At("Saw 1", n))], CancellationToken.None);
        var read = 0;
        await foreach (var sample in history.Reader.SamplesAsync(SampleFilter.All))
        {
            // What is deleted behind and added ahead of the reader does not disturb it.
            if (read++ == 1000)
            {
                await history.Writer.DeleteSamplesAsync(DateTimeOffset.MaxValue, 500, Takers.None, CancellationToken.None);
                await history.Writer.SaveSamplesAsync([.. Enumerable.Range(4000, 100).Select(n => At("Saw 1", n))], CancellationToken.None);
            }

            Assert.Equal(Begin + (Ten * (read - 1)), sample.Sample.From);
        }

        Assert.Equal(4100, read);
    }

    [Fact]
    public async Task Save_AnIntervalAgain_TakesTheOthersPlace_AndOneOfAnotherLengthStandsBesideIt()
    {
        await using var history = new RunningHistory();
        var (first, again) = (At("Saw 1", 0), At("Saw 1", 0, seed: 99));
        var minute = new SawSample("Saw 1", new SignalSample(Begin, TimeSpan.FromMinutes(1), first.Sample.Frames, first.Sample.Figures.ToArray()));
        await history.Writer.SaveSamplesAsync([first], CancellationToken.None);
        await history.Writer.SaveSamplesAsync([again, minute], CancellationToken.None);

        Same([again, minute], await ReadAsync(history, SampleFilter.All));
        Samples.Same(again.Sample, (await history.Reader.SampleAsync("Saw 1", Begin, Ten))!.Value);
        Assert.Null(await history.Reader.SampleAsync("Saw 2", Begin, Ten));
        Assert.Null(await history.Reader.SampleAsync("Saw 1", Begin + Ten, Ten));
    }

    [Fact]
    public async Task Delete_InBites_TakesTheOldestOfAllSaws()
    {
        await using var history = new RunningHistory();
        await history.Writer.SaveSamplesAsync([.. Enumerable.Range(0, 100).SelectMany(n => new[] { At("Saw 1", n), At("Saw 2", n), At("Saw 3", n) })], CancellationToken.None);

        // Those of one moment go together.
        Assert.Equal(12, await history.Writer.DeleteSamplesAsync(Begin.AddSeconds(500), 10, Takers.None, CancellationToken.None));
        Assert.Equal(Begin.AddSeconds(40), (await ReadAsync(history, SampleFilter.All))[0].Sample.From);
        Assert.Equal(138, await history.Writer.DeleteSamplesAsync(Begin.AddSeconds(500), 1000, Takers.None, CancellationToken.None));
        Assert.Equal(0, await history.Writer.DeleteSamplesAsync(Begin.AddSeconds(500), 1000, Takers.None, CancellationToken.None));
        Assert.Equal(Begin.AddSeconds(500), (await ReadAsync(history, SampleFilter.All))[0].Sample.From);
    }

    [Fact]
    public async Task Open_AHistoryWithoutSamples_GetsTheirTable()
    {
        await using var history = new RunningHistory();
        await history.AppendAsync(Cycles.Make("Saw 1", 0));
        using var folder = new TempFolder();
        history.CopyAsVersion(6, folder.Path);
        await using var next = new RunningHistory(folder.Path);

        Assert.Empty(await ReadAsync(next, SampleFilter.All));
        await next.Writer.SaveSamplesAsync([At("Saw 1", 0)], CancellationToken.None);
        Assert.Equal(1, await next.Reader.CountSamplesAsync(SampleFilter.All));
        Assert.Equal(1, await next.Reader.CountAsync(CycleFilter.All));
    }

    [Fact]
    public async Task Samples_OfANewerForm_AreSaid()
    {
        await using var history = new RunningHistory();
        await history.Writer.SaveSamplesAsync([At("Saw 1", 0)], CancellationToken.None);
        history.Ask("UPDATE signal_samples SET data = x'09'");

        var error = await Assert.ThrowsAsync<InvalidDataException>(() => ReadAsync(history, SampleFilter.All));
        Assert.Equal("A stored sample has version 9; this program knows version 1.", error.Message);
    }

    private static SawSample At(string saw, int n, int seed = 0)
    {
        var made = Samples.Made(new Random((n * 7) + saw.Length + seed), 100);
        return new SawSample(saw, new SignalSample(Begin + (Ten * n), Ten, 100, made.Figures.ToArray()));
    }

    private static async Task<List<SawSample>> ReadAsync(RunningHistory history, SampleFilter filter)
    {
        var samples = new List<SawSample>();
        await foreach (var sample in history.Reader.SamplesAsync(filter))
            samples.Add(sample);
        return samples;
    }

    private static void Same(IEnumerable<SawSample> expected, List<SawSample> actual)
    {
        var list = expected.ToList();
        Assert.Equal(list.Select(sample => (sample.Sample.From, sample.Saw)), actual.Select(sample => (sample.Sample.From, sample.Saw)));
        foreach (var (a, b) in list.Zip(actual))
            Samples.Same(a.Sample, b.Sample);
    }
}
