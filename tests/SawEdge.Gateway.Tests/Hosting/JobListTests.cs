using Microsoft.Extensions.Logging;
using SawEdge.Core.Cutting;
using SawEdge.Core.Materials;
using SawEdge.Gateway.Hosting;
using SawEdge.Gateway.Tests.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Hosting;

public sealed class JobListTests : IDisposable
{
    private const int Loaded = 3504;
    private const int RowRefused = 3505;
    private const int Kept = 3506;

    private const string TwoJobs = "job,material,section\nA,1045,round 60 mm\nB,304,square 2 in\n";

    private readonly TempFolder _folder = new();
    private readonly CollectedLog _log = new();

    public void Dispose() => _folder.Dispose();

    [Theory]
    [InlineData("jobs.csv", TwoJobs)]
    [InlineData("jobs.txt", TwoJobs)]
    [InlineData("jobs.json", "[ { \"job\": \"A\", \"material\": \"1045\", \"section\": \"round 60 mm\" }, { \"job\": \"B\", \"material\": \"304\", \"section\": \"square 2 in\" } ]")]
    [InlineData("JOBS.JSON", "\uFEFF[ { \"job\": \"A\", \"material\": \"1045\", \"section\": \"round 60 mm\" }, { \"job\": \"B\", \"material\": \"304\", \"section\": \"square 2 in\" } ]")]
    [InlineData("jobs", "[ { \"job\": \"A\", \"material\": \"1045\", \"section\": \"round 60 mm\" }, { \"job\": \"B\", \"material\": \"304\", \"section\": \"square 2 in\" } ]")]
    public void Csv_and_json_are_read(string name, string text)
    {
        var list = List(name, text);
        Assert.True(list.Load());
        Assert.Equal(["A", "B"], list.Book.Jobs.Select(job => job.JobId).Order());
        Assert.Equal([Loaded], _log.Entries.Select(e => e.Id));
        Assert.False(list.Load());
    }

    [Fact]
    public void A_json_file_that_is_none_is_told_as_such()
    {
        var list = List("jobs.json", TwoJobs);
        list.Load();
        Assert.Contains("no JSON", _log.Entries.First(e => e.Id == RowRefused).Text, StringComparison.Ordinal);
    }

    [Fact]
    public void A_broken_row_is_refused_with_its_line_and_the_rest_serves()
    {
        var list = List("jobs.csv", TwoJobs + "C,1O45,round 60 mm\nD,1045,round 5 furlong\n");
        Assert.True(list.Load());
        Assert.Equal(2, list.Book.Count);
        var refused = _log.Entries.Where(e => e.Id == RowRefused).ToList();
        Assert.All(refused, e => Assert.Equal(LogLevel.Warning, e.Level));
        Assert.Contains("line 4: material '1O45' is not in the catalogue; the nearest names are 1045", refused[0].Text, StringComparison.Ordinal);
        Assert.Contains("line 5: section 'round 5 furlong'", refused[1].Text, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("")]
    [InlineData("job,material,section\n")]
    [InlineData("job,material,section\nA,1046,round 60 mm\n")]
    public void A_list_that_holds_no_job_any_more_leaves_the_last_good_one_with_a_warning(string text)
    {
        var list = List("jobs.csv", TwoJobs);
        list.Load();
        File.WriteAllText(_folder.File("jobs.csv"), text);
        Assert.False(list.Load());
        Assert.Equal(2, list.Book.Count);
        var kept = Assert.Single(_log.Entries, e => e.Id == Kept);
        Assert.Equal(LogLevel.Warning, kept.Level);
        Assert.Contains("the last good one stays with 2 jobs", kept.Text, StringComparison.Ordinal);
        Assert.False(list.Load());
        Assert.Equal(1, _log.Count(Kept));

        File.WriteAllText(_folder.File("jobs.csv"), TwoJobs + "C,1045,round 70 mm\n");
        Assert.True(list.Load());
        Assert.Equal(3, list.Book.Count);
    }

    [Fact]
    public void A_list_that_is_not_there_is_told_once_and_read_when_it_comes()
    {
        var list = new JobList(_folder.File("jobs.csv"), TimeProvider.System, _log.For<JobList>());
        Assert.False(list.Load());
        Assert.False(list.Load());
        Assert.Equal(1, _log.Count(Kept));
        File.WriteAllText(_folder.File("jobs.csv"), TwoJobs);
        Assert.True(list.Load());
        File.Delete(_folder.File("jobs.csv"));
        Assert.False(list.Load());
        Assert.False(list.Load());
        Assert.Equal(2, list.Book.Count);
        Assert.Equal(2, _log.Count(Kept));
    }

    [Fact]
    public void The_plants_own_catalogue_serves_the_list()
    {
        var own = MaterialCatalogue.BuiltIn.Overlay("{ \"materials\": [ { \"name\": \"Spring 7\", \"like\": \"5160\", \"rate\": \"33 cm2/min\" } ] }").Catalogue;
        File.WriteAllText(_folder.File("jobs.csv"), "job,material,section\nA,spring 7,round 60 mm\n");
        var list = new JobList(_folder.File("jobs.csv"), TimeProvider.System, _log.For<JobList>(), own);
        list.Load();
        Assert.Equal(33, list.Book.Find("A")!.Material.RateCm2Min.Value);
    }

    private JobList List(string name, string text)
    {
        File.WriteAllText(_folder.File(name), text);
        return new JobList(_folder.File(name), TimeProvider.System, _log.For<JobList>());
    }
}
