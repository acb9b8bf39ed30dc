using Microsoft.Extensions.Time.Testing;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Forwarding;
using SawEdge.Gateway.Hosting;
using SawEdge.Gateway.Tests.Configuration;
using SawEdge.Gateway.Tests.Forwarding;
using SawEdge.Gateway.Tests.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Hosting;

/// <summary>A destination with a wrong token, mended in its file while the gateway's loops run.</summary>
public sealed class DestinationsAgainTests
{
    private const int NeedsMending = 5003;
    private const int Recovered = 5004;
    private const int NotTaken = 3516;
    private const int GoodAgain = 3517;
    private const int Taken = 3518;
    private const int Gone = 3519;
    private const int New = 3520;

    [Fact]
    public async Task WrongToken_IsSaid_AndMendedInTheFile_WithoutARestart_MistakesOnTheWayChangeNothing()
    {
        await using var server = new StrictServer();
        using var folder = new TempFolder();
        await using var history = new RunningHistory();
        for (var i = 0; i < 5; i++)
            await history.AppendAsync(Cycles.Make("saw0", i));
        var file = folder.File("sawedge.json");
        File.WriteAllText(folder.File("token"), "wrong");
        void Write(string name, string more = "") => File.WriteAllText(file, Sample.With(("influx", $$"""[ { "name": "{{name}}", "url": "{{server.Url}}", "org": "plant", "bucket": "cuts", "tokenFile": "token", "maximumWait": "10 ms" {{more}} } ]""")));
        Write("main");
        var loaded = ConfigurationFile.Load(file, Sample.NoEnvironment);
        var (time, log) = (new FakeTimeProvider(DateTimeOffset.UtcNow), new CollectedLog());
        using var destination = new Destination(loaded.Options!.Influx[0], time, log.For<Destination>());
        var lane = new JournalLane(destination, "North plant", "gateway1", history.Reader, history.Writer);
        var again = new DestinationsAgain(file, [destination], log.For<DestinationsAgain>());
        using var stop = new CancellationTokenSource();
        Task[] runs =
        [
            lane.RunAsync(stop.Token),
            new ConfigurationAgain(new WatchedConfiguration(file, Sample.NoEnvironment, loaded), (change, cancellation) => again.TakeOverAsync(change.Options, cancellation), time, log.For<ConfigurationAgain>()).RunAsync(stop.Token),
        ];
        Task SaysAsync(int id, int count = 1) => Until.TrueAsync(
            () =>
            {
                time.Advance(TimeSpan.FromMilliseconds(500));
                return log.Count(id) >= count;
            },
            () => $"{id} is said; said was {string.Join('\n', log.Entries)}");

        await SaysAsync(NeedsMending);
        Assert.True(destination.InTrouble);
        Assert.Equal("it does not know this gateway; check the token, or user and password. The server said: unauthorized access (status 401).", destination.ToMend);

        Write("main", ", \"batch\": 7");
        await SaysAsync(NotTaken);
        Assert.Contains("influx[0].batch", log.Entries.Single(entry => entry.Id == NotTaken).Text, StringComparison.Ordinal);
        Write("main", ", \"batchSize\": 7");
        await SaysAsync(GoodAgain);
        await SaysAsync(Taken);
        Assert.Equal(7, destination.Options.BatchSize);
        Assert.Equal(0, lane.Cursor);

        File.WriteAllText(folder.File("token"), server.Token);
        await SaysAsync(Recovered);
        await Until.TrueAsync(() => lane.Cursor == 5, "everything is taken");
        Assert.Equal(5, server.Points.Count);
        Assert.False(destination.InTrouble);
        Assert.Null(destination.ToMend);

        Write("other");
        await SaysAsync(New);
        Write("another", ", \"batchSize\": 8");
        await SaysAsync(New, 2);
        Assert.Equal((1, 1, 1, 1, 2), (log.Count(NeedsMending), log.Count(NotTaken), log.Count(GoodAgain), log.Count(Gone), log.Count(Taken)));
        Assert.DoesNotContain(log.Entries, entry => entry.Text.Contains(server.Token, StringComparison.Ordinal));
        await stop.CancelAsync();
        foreach (var run in runs)
            await Assert.ThrowsAnyAsync<OperationCanceledException>(() => run);
    }
}
