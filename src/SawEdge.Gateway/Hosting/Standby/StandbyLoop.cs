using Microsoft.Extensions.Logging;
using SawEdge.Gateway.Acquisition.Mqtt;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Hosting.Standby;

/// <summary>Has a gateway watch its saws, or not, as <see cref="StandbyRules"/> say: looks at what the other one says, and starts and stops the saws.</summary>
internal sealed class StandbyLoop
{
    private static readonly TimeSpan LookEvery = TimeSpan.FromMilliseconds(100);

    // Without a cycle bit a head that has begun to go down is seen only a little later.
    private static readonly TimeSpan LeastYield = TimeSpan.FromSeconds(3);

    // A saw of which nothing comes will not finish its cycle.
    private const double SilentSeconds = 30;

    private readonly StandbyOptions _options;
    private readonly TimeProvider _time;
    private readonly ILogger _logger;
    private readonly StandbyRules _rules;
    private readonly PresenceLink _link;
    private readonly PageWitness? _witness;
    private long _yieldedAt;
    private long _silentSince;
    private bool _wasSilent;
    private bool _isSaid;
    private bool _wasDoubled;

    /// <summary>Prepares; <see cref="RunAsync"/> runs it.</summary>
    /// <param name="standby">What is set about it.</param>
    /// <param name="options">The configuration.</param>
    /// <param name="time">The clock.</param>
    /// <param name="logger">Where it speaks.</param>
    public StandbyLoop(StandbyOptions standby, GatewayOptions options, TimeProvider time, ILogger logger)
    {
        (_options, _time, _logger) = (standby, time, logger);
        _rules = new StandbyRules(standby.IsFirst, standby.After, time);
        _link = new PresenceLink(options.MqttBrokers.First(broker => broker.Name == standby.Broker), standby, _rules.Word, time, logger);
        _witness = standby.OtherPage is { } page ? new PageWitness(page, time) : null;
    }

    /// <summary>The saws that run.</summary>
    public required RunningSaws Saws { get; init; }

    /// <summary>Starts and stops them.</summary>
    public required GatewayChanges Changes { get; init; }

    /// <summary>What the gateway does, as it is told to people: waiting, standby, active, yielding. Safe for any thread.</summary>
    public string Word => StandbyRules.WordOf(_rules.State);

    /// <summary>Runs until cancelled.</summary>
    /// <exception cref="OperationCanceledException">Cancelled.</exception>
    public async Task RunAsync(CancellationToken cancellation)
    {
        StandbyLog.Begins(_logger, _options.IsFirst ? "first" : "second", _options.Other, _options.Broker);
        using var over = CancellationTokenSource.CreateLinkedTokenSource(cancellation);
        var link = _link.RunAsync(over.Token);
        var witness = _witness?.RunAsync(over.Token) ?? Task.CompletedTask;
        try
        {
            using var look = new PeriodicTimer(LookEvery, _time);
            while (await look.WaitForNextTickAsync(cancellation))
            {
                // What is wrong with the link beyond the broker must not go unheard.
                if (link.IsCompleted)
                    await link;
                if (witness.IsFaulted)
                    await witness;
                await LookAsync(cancellation);
            }
        }
        finally
        {
            // Its farewell tells the other that this one has left. Why it failed, if it did, is on its way already.
            await over.CancelAsync();
            await link.ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
            await witness.ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
            _witness?.Dispose();
        }
    }

    private async Task LookAsync(CancellationToken cancellation)
    {
        if (_rules.State == StandbyState.Yielding)
            await StopWhatIsDoneAsync(cancellation);
        var view = _link.View;
        var isSeen = IsSeen(view);
        if (_rules.Look(view, isDone: Saws.All.Count == 0, isSeen))
            await GoOverAsync(view, isSeen, cancellation);
        if (_rules.IsDoubled != _wasDoubled)
        {
            _wasDoubled = _rules.IsDoubled;
            if (_wasDoubled)
                StandbyLog.Doubled(_logger);
            else
                StandbyLog.DoubledNoMore(_logger);
        }
    }

    // What the other witness says counts where the broker is there and the presence silent; without the broker the second does nothing anyhow.
    private bool IsSeen(PresenceView view)
    {
        var isSilent = view.IsConnected && StandbyRules.IsSilent(view);
        if (_witness is null || _rules.State == StandbyState.Yielding)
            return false;
        var answer = _witness.Ask(isSilent);
        if (isSilent != _wasSilent)
            (_wasSilent, _silentSince, _isSaid) = (isSilent, _time.GetTimestamp(), false);

        // Once a silence, and not before it would have had a consequence.
        if (answer == true && !_isSaid && _time.GetElapsedTime(_silentSince) >= _options.After)
        {
            _isSaid = true;
            StandbyLog.OnlyTheBrokerIsLost(_logger, _witness.Address);
        }

        // It takes over only where the page was asked and did not answer so, and gives back only where it did.
        return isSilent && (_rules.State == StandbyState.Active ? answer == true : answer != false);
    }

    private async Task GoOverAsync(PresenceView view, bool isSeen, CancellationToken cancellation)
    {
        switch (_rules.State)
        {
            case StandbyState.Claiming:
                _link.Say(_rules.Word);
                break;
            case StandbyState.Active:
                if (!_options.IsFirst)
                    StandbyLog.TakesOver(_logger, _options.After.TotalSeconds);
                else if (view.Confirmed is null || view.Other == "active")
                    StandbyLog.GoesAlone(_logger, _options.After.TotalSeconds, view.Confirmed is null ? "the broker is not there" : "it does not give the saws back");
                Saws.LeavesOutUnderWay = _rules.LeavesOut;
                await Changes.WatchAsync(null, cancellation);
                StandbyLog.Watches(_logger, _rules.LeavesOut ? "; cycles under way are left out" : "");

                // A saw that the first begins anew later has been watched by nobody else.
                Saws.LeavesOutUnderWay = !_options.IsFirst;
                break;
            case StandbyState.Yielding:
                _yieldedAt = _time.GetTimestamp();
                foreach (var saw in Saws.All)
                    saw.Processor.GiveAway();
                _link.Say(_rules.Word);
                StandbyLog.Yields(_logger, isSeen ? "the first gateway's page says that it watches them" : view.IsConnected ? "the first gateway is there again" : "the broker is not there, so that the first may be");
                break;
            case StandbyState.Standby:
                _link.Say(_rules.Word);
                StandbyLog.StandsBy(_logger);
                break;
            default:
                break;
        }
    }

    private async Task StopWhatIsDoneAsync(CancellationToken cancellation)
    {
        if (_time.GetElapsedTime(_yieldedAt) < LeastYield)
            return;
        var left = new HashSet<string>(StringComparer.Ordinal);
        var isAny = false;
        foreach (var saw in Saws.All)
        {
            var (seconds, _) = saw.Presence.Silence;
            if (saw.Processor.MayEnd || seconds >= SilentSeconds)
            {
                isAny = true;
                if (!saw.Processor.MayEnd)
                    StandbyLog.LeftOpen(_logger, saw.Name, seconds);
            }
            else
            {
                left.Add(saw.Name);
            }
        }

        if (isAny)
            await Changes.WatchAsync(left, cancellation);
    }
}
