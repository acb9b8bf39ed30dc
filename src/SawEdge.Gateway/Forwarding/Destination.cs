using System.Diagnostics;
using Microsoft.Extensions.Logging;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Telemetry;

namespace SawEdge.Gateway.Forwarding;

/// <summary>
/// One InfluxDB server to write to: the connection, the patience with it and what is said about it, shared by all lanes that lead there
/// (<see cref="DestinationLane"/>). Destinations know nothing of each other, so one that is down holds up no other.
/// </summary>
public sealed class Destination : IDisposable
{
    private readonly DeliveryRetry _retry;
    private readonly List<InfluxSender> _former = [];
    private InfluxOptions _options;
    private InfluxSender _sender;

    /// <summary>Prepares it; nothing is sent yet.</summary>
    /// <param name="options">The destination.</param>
    /// <param name="time">The clock.</param>
    /// <param name="logger">Where trouble is said.</param>
    public Destination(InfluxOptions options, TimeProvider time, ILogger<Destination> logger)
    {
        _options = options;
        Time = time;
        Logger = logger;
        _sender = new InfluxSender(options, time);
        Health = new DestinationHealth(logger, time, options.Name, () => Server);
        _retry = new DeliveryRetry(time, Health.Trouble);
    }

    /// <summary>Its name: that of its first lane as a consumer in the history, and what those of the others begin with.</summary>
    public string Name => Options.Name;

    /// <summary>How it is configured now.</summary>
    public InfluxOptions Options => Volatile.Read(ref _options);

    // Only host and port: an address may hold a password.

    /// <summary>Scheme, host and port of the server.</summary>
    public string Server => Options.Url.GetComponents(UriComponents.SchemeAndServer, UriFormat.UriEscaped);

    /// <summary>Whether it takes nothing at the moment.</summary>
    public bool InTrouble => Health.InTrouble;

    /// <summary>Whether it has been tried since the start, so that <see cref="InTrouble"/> says something.</summary>
    public bool IsTroubleKnown => Health.IsKnown;

    /// <summary>What somebody has to mend before it takes anything, in words; null where it is nothing of that kind.</summary>
    public string? ToMend => Health.ToMend;

    /// <summary>What came of the tries so far.</summary>
    public DeliveryCounts Counts { get; } = new();

    /// <summary>The clock of deliveries.</summary>
    internal TimeProvider Time { get; }

    /// <summary>Where its lanes speak.</summary>
    internal ILogger Logger { get; }

    /// <summary>What ails it.</summary>
    internal DestinationHealth Health { get; }

    /// <summary>Sends points until the server has answered to the points themselves, however long that takes. Lanes may do so at once.</summary>
    /// <param name="plan">What is to go; its next part is what was sent when this returns.</param>
    /// <param name="lines">The lines that are planned.</param>
    /// <param name="cancellation">Breaks off.</param>
    /// <exception cref="OperationCanceledException">Cancelled.</exception>
    internal async Task<ServerAnswer> SendAsync(DeliveryPlan plan, LineBatch lines, CancellationToken cancellation)
    {
        var answer = await _retry.ExecuteAsync(static (state, token) => state.Destination.TryAsync(state.Plan, state.Lines, token), (Destination: this, Plan: plan, Lines: lines), cancellation);
        Health.Answers();
        return answer;
    }

    private async Task<ServerAnswer> TryAsync(DeliveryPlan plan, LineBatch lines, CancellationToken cancellation)
    {
        plan.TryNext(out _, out var points);
        using var span = Spans.Root("deliver", ActivityKind.Client);
        span?.SetTag("sawedge.destination", Name);
        span?.SetTag("sawedge.points", points);
        var began = Time.GetTimestamp();
        var answer = await Volatile.Read(ref _sender).SendAsync(plan, lines, cancellation);
        var taken = answer.Status is >= 200 and < 300;
        Counts.Tried(taken);
        ForwardingLog.Tried(Logger, Name, points, answer.Status, Time.GetElapsedTime(began).TotalMilliseconds);
        span?.SetTag("http.response.status_code", answer.Status);
        if (!taken)
            span.Failed(answer.Message);
        return answer;
    }

    /// <summary>Takes over another configuration of the same name, and tries it at once.</summary>
    /// <param name="options">The configuration.</param>
    /// <param name="cancellation">Ends the waiting.</param>
    /// <remarks>Not by two at once.</remarks>
    internal async Task TakeOverAsync(InfluxOptions options, CancellationToken cancellation)
    {
        // A lane may just be about to use it: it is closed at the end.
        _former.Add(_sender);
        Volatile.Write(ref _sender, new InfluxSender(options, Time));
        Volatile.Write(ref _options, options);
        await _retry.TryNowAsync(cancellation);
    }

    /// <inheritdoc/>
    public void Dispose()
    {
        _former.ForEach(sender => sender.Dispose());
        _sender.Dispose();
        _retry.Dispose();
    }
}
