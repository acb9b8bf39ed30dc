using Microsoft.Extensions.Time.Testing;
using SawEdge.Core.Cutting;
using SawEdge.Gateway.Hosting;
using SawEdge.Gateway.Tests.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Hosting;

/// <summary>A job list that changes while the gateway runs.</summary>
public sealed class JobListFollowTests : IDisposable
{
    private const int Kept = 3506;
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

    private JobList With(string text)
    {
        File.WriteAllText(FileName, text);
        return new JobList(FileName, _time, _log.For<JobList>());
    }
}
