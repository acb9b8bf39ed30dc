using Microsoft.Extensions.Time.Testing;
using SawEdge.Core.Cutting;
using SawEdge.Gateway.Hosting;
using SawEdge.Gateway.Tests.Configuration;
using SawEdge.Gateway.Tests.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Hosting;

/// <summary>A job list that changes while the gateway runs.</summary>
public sealed class JobListFollowTests : IDisposable
{
    private const int Kept = 3506;
    private const int Changed = 3523;
    private const int Stays = 3524;
    private const string Heading = "job,material,section\n";

    private readonly TempFolder _folder = new();
    private readonly CollectedLog _log = new();
    private readonly FakeTimeProvider _time = new();

    private string FileName => _folder.File("jobs.csv");

    public void Dispose() => _folder.Dispose();

    [Fact]
    public void Load_FileTakenAway_KeepsTheLastGoodListAndSaysSoOnce()
    {
        var jobs = With(Heading + "A-1,1045,round 80 mm\n");
        jobs.Load();
        File.Delete(FileName);
        Assert.False(jobs.Load());
        Assert.False(jobs.Load());
        Assert.Equal(1, jobs.Book.Count);
        Assert.Equal(1, _log.Count(Kept));

        File.WriteAllText(FileName, Heading + "A-1,1045,round 80 mm\nA-2,1045,round 90 mm\n");
        Assert.True(jobs.Load());
        Assert.Equal(2, jobs.Book.Count);
    }

    [Fact]
    public async Task Follow_ChangedFile_HandsTheNewListOutWithinTwoSeconds_AndEndsWhenTold()
    {
        var jobs = With(Heading + "A-1,1045,round 80 mm\n");
        jobs.Load();
        using var stop = new CancellationTokenSource();
        var books = new List<JobBook>();
        var following = jobs.FollowAsync(books.Add, stop.Token);
        _time.Advance(TimeSpan.FromSeconds(2));
        Assert.Empty(books);

        await File.WriteAllTextAsync(FileName, Heading + "A-1,1045,round 80 mm\nA-2,1045,round 90 mm\n");
        await Until.TrueAsync(
            () =>
            {
                _time.Advance(TimeSpan.FromSeconds(2));
                return books.Count > 0;
            },
            "the new list is handed out");
        Assert.NotNull(Assert.Single(books).Find("A-2"));
        await stop.CancelAsync();
        await following;
    }

    [Fact]
    public void Load_ARowWithAMistake_LeavesItsJobAsItWas_AndTheRestIsToldColumnByColumn()
    {
        var jobs = With(Heading + "A-1,1045,round 80 mm\nA-2,1045,round 90 mm\nA-3,1045,round 90 mm\n");
        jobs.Load();
        Assert.Equal(0, _log.Count(Changed));
        File.WriteAllText(FileName, Heading + "A-1,1045,round 8O mm\nA-2,304,round 90 mm\nA-4,1045,round 100 mm\n");
        Assert.True(jobs.Load());
        Assert.Equal("round 80 mm", jobs.Book.Find("A-1")!.Written!["section"]);
        Assert.Equal(["A-1", "A-2", "A-4"], jobs.Book.Jobs.Select(job => job.JobId).Order(StringComparer.Ordinal));
        Assert.Equal(1, _log.Count(Stays));
        Assert.EndsWith("jobs.csv: added A-4; changed A-2 (material: 1045 -> 304); removed A-3", _log.Entries.Single(entry => entry.Id == Changed).Text, StringComparison.Ordinal);
    }

    [Fact]
    public async Task TakeOver_AFileThatIsNotThere_LeavesTheJobs_AndOneThatIsTakesTheirPlace()
    {
        var options = Sample.Load(Sample.With()).Options! with { JobsFile = FileName };
        await File.WriteAllTextAsync(FileName, Heading + "A-1,1045,round 80 mm\n");
        var followed = new FollowedJobs(options, _time, _log.For<JobList>());
        using var stop = new CancellationTokenSource();
        var run = followed.RunAsync(stop.Token);
        followed.TakeOver(options with { JobsFile = _folder.File("missing.csv") });
        Assert.NotNull(followed.Book.Find("A-1"));
        Assert.Equal(1, _log.Count(Kept));

        await File.WriteAllTextAsync(_folder.File("missing.csv"), Heading + "A-2,1045,round 80 mm\n");
        await Until.TrueAsync(
            () =>
            {
                _time.Advance(TimeSpan.FromSeconds(2));
                return followed.Book.Find("A-2") is not null;
            },
            "the other file is followed");
        Assert.Null(followed.Book.Find("A-1"));
        followed.TakeOver(options with { JobsFile = null });
        Assert.Equal(0, followed.Book.Count);
        await stop.CancelAsync();
        await Assert.ThrowsAnyAsync<OperationCanceledException>(() => run);
    }

    private JobList With(string text)
    {
        File.WriteAllText(FileName, text);
        return new JobList(FileName, _time, _log.For<JobList>());
    }
}
