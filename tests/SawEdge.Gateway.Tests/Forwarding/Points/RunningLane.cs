using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Forwarding;
using SawEdge.Gateway.Tests.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Forwarding.Points;

/// <summary>The lanes of a destination at work on a history.</summary>
internal sealed class RunningLane : IAsyncDisposable
{
    private readonly CancellationTokenSource _stop = new();
    private readonly Destination _destination;
    private readonly List<DestinationLane> _lanes;
    private readonly List<Task> _runs;

    public RunningLane(RunningHistory history, InfluxOptions options)
    {
        history.Writer.SamplesAreWanted |= options.Points.HasFlag(PointChoice.Signals);
        _destination = new Destination(options, TimeProvider.System, Log.For<Destination>());
        _lanes = [.. DestinationLanes.Of(_destination, "North plant", "gateway1", history.Reader, history.Writer, new StopNames(history.Reader, history.Writer))];
        _runs = _lanes.ConvertAll(lane => lane.RunAsync(_stop.Token));
    }

    public CollectedLog Log { get; } = new();

    public bool InTrouble => _destination.InTrouble;

    public static InfluxOptions Options(InfluxServer server, PointChoice points) => new()
    {
        Name = "influx",
        Url = server.Url,
        Version1 = true,
        Bucket = "plant/autogen",
        MaximumWait = TimeSpan.FromMilliseconds(50),
        Points = points,
    };

    /// <summary>Waits until the one lane is done with everything up to a place.</summary>
    public Task ReachesAsync(long place) => Until.TrueAsync(
        () =>
        {
            foreach (var run in _runs.Where(run => run.IsCompleted))
                run.GetAwaiter().GetResult();
            return Assert.Single(_lanes).Cursor >= place;
        },
        () => $"{_lanes[0].Name} reaches {place}; it is at {_lanes[0].Cursor}; said: {string.Join('\n', Log.Entries)}");

    public async ValueTask DisposeAsync()
    {
        await _stop.CancelAsync();
        foreach (var run in _runs)
            await Assert.ThrowsAnyAsync<OperationCanceledException>(() => run);
        _destination.Dispose();
        _stop.Dispose();
    }
}
