using SawEdge.Gateway.Acquisition.Mqtt;

namespace SawEdge.Gateway.Hosting.Standby;

/// <summary>What one of two gateways does with the saws that both know.</summary>
internal enum StandbyState
{
    /// <summary>The first, just started: it does not watch them yet, because the second may.</summary>
    Waiting,

    /// <summary>The second: it does not watch them, because the first does.</summary>
    Standby,

    /// <summary>The second: it says that it takes over, and begins once that was handed round.</summary>
    Claiming,

    /// <summary>It watches them.</summary>
    Active,

    /// <summary>The second: it begins no cycle any more, and finishes those that are open.</summary>
    Yielding,
}

/// <summary>
/// Who of two gateways watches the saws. The first does as long as it runs, with or without a broker; the second where the first is silent, and only while
/// it sees the broker: two who watch at once would record every cycle twice, and a gap is better than that. No I/O; one thread.
/// </summary>
/// <param name="isFirst">Whether this is the first.</param>
/// <param name="after">How long the other must be silent.</param>
/// <param name="time">The clock.</param>
internal sealed class StandbyRules(bool isFirst, TimeSpan after, TimeProvider time)
{
    /// <summary>What the first says as long as it runs.</summary>
    public const string Online = "online";

    private long _since = time.GetTimestamp();
    private bool _wasConnected;
    private bool _heard;

    /// <summary>What it does.</summary>
    public StandbyState State { get; private set; } = isFirst ? StandbyState.Waiting : StandbyState.Standby;

    /// <summary>Whether cycles that are under way when it begins to watch are left out: the other may have seen their start.</summary>
    public bool LeavesOut { get; private set; } = true;

    /// <summary>Whether both watch, as far as is known: the first was cut off from the broker, but not from the saws.</summary>
    public bool IsDoubled { get; private set; }

    /// <summary>What it says to the other.</summary>
    public string Word => isFirst ? Online : WordOf(State == StandbyState.Claiming ? StandbyState.Active : State);

    /// <summary>A state as it is said, in the topic and to people.</summary>
    public static string WordOf(StandbyState state) => state.ToString().ToLowerInvariant();

    /// <summary>Looks at what is known.</summary>
    /// <param name="view">It.</param>
    /// <param name="isDone">While yielding: whether nothing is open any more.</param>
    /// <param name="isSeen">Of the second: whether the first is there by another witness, although its presence is silent.</param>
    /// <returns>Whether <see cref="State"/> is another now.</returns>
    public bool Look(PresenceView view, bool isDone, bool isSeen = false)
    {
        var before = State;
        State = isFirst ? First(view) : Second(view, isDone, isSeen);
        if (State != before)
            Restart();
        _wasConnected = view.IsConnected;
        return State != before;
    }

    private StandbyState First(PresenceView view)
    {
        if (State == StandbyState.Active)
        {
            IsDoubled = view is { IsConnected: true, Other: "active" };
            return State;
        }

        // A broker that comes just now has not said yet what it knows.
        if (view.IsConnected != _wasConnected || view.Confirmed == Online != _heard)
            Restart();
        _heard = view.Confirmed == Online;
        if (!_heard || view.Other == "active")
            return IsOver(after) ? StandbyState.Active : State;
        LeavesOut = view.Other != "standby";
        return StandbyState.Active;
    }

    /// <summary>Whether the other says nothing, or that it has left.</summary>
    public static bool IsSilent(PresenceView view) => view.Other is null or PresenceLink.Offline;

    private StandbyState Second(PresenceView view, bool isDone, bool isSeen)
    {
        var isThere = isSeen || !IsSilent(view);
        switch (State)
        {
            case StandbyState.Standby:
                if (!view.IsConnected || !_wasConnected || isThere)
                    Restart();
                return view.IsConnected && IsOver(after) ? StandbyState.Claiming : State;
            case StandbyState.Claiming:
                if (!view.IsConnected || isThere)
                    return StandbyState.Standby;
                return view.Confirmed == Word ? StandbyState.Active : State;
            case StandbyState.Active:
                if (view.Other == Online || isSeen)
                    return StandbyState.Yielding;
                if (view.IsConnected)
                    Restart();

                // A first that starts without the broker waits twice as long.
                return IsOver(after / 2) ? StandbyState.Yielding : State;
            default:
                return isDone ? StandbyState.Standby : State;
        }
    }

    private void Restart() => _since = time.GetTimestamp();

    private bool IsOver(TimeSpan span) => time.GetElapsedTime(_since) >= span;
}
