using System.Globalization;
using Microsoft.Extensions.Logging;
using SawEdge.Gateway.Acquisition;

namespace SawEdge.Gateway.Hosting;

/// <summary>
/// The machine's clock as the gateway goes by it. Where it was set, that is followed and said; where it was set by more than a day, only once it
/// has stood so for an hour, because a clock that jumps into another year and back must not leave cycles there, nor have what was kept cleared
/// away. Until then time goes on as it passes. Says whether the clock may be trusted. For several threads.
/// </summary>
/// <param name="inner">The machine's clock.</param>
/// <param name="logger">Where it speaks.</param>
internal sealed class SteadyClock(TimeProvider inner, ILogger logger) : TimeProvider
{
    /// <summary>Less than that between two looks is no step: clocks are corrected a little all the time.</summary>
    public static readonly TimeSpan LeastStep = TimeSpan.FromSeconds(1);

    /// <summary>A step of more is followed only once the clock has stood so for <see cref="Proof"/>.</summary>
    public static readonly TimeSpan GreatStep = TimeSpan.FromDays(1);

    /// <summary>How long a clock must have stood where a great step took it.</summary>
    public static readonly TimeSpan Proof = TimeSpan.FromHours(1);

    /// <summary>How long after a step the clock counts as one that is being set.</summary>
    public static readonly TimeSpan Calm = TimeSpan.FromMinutes(10);

    /// <summary>A clock at an earlier time was not set since the machine has power: the program is younger.</summary>
    public static readonly DateTimeOffset Earliest = new(2025, 1, 1, 0, 0, 0, TimeSpan.Zero);

    // Whatever speaks against a clock: when it has gone steadily for so long, it is what there is.
    private static readonly TimeSpan Patience = TimeSpan.FromDays(1);

    // A clock this far ahead of what is stored was hardly right before: gateways are seldom switched off for so long.
    private static readonly TimeSpan FarAhead = TimeSpan.FromDays(30);

    private readonly Lock _gate = new();
    private readonly long _start = inner.GetTimestamp();
    private DateTimeOffset _anchor = inner.GetUtcNow();
    private long _anchorAt = inner.GetTimestamp();
    private DateTimeOffset? _storedUntil;
    private bool _startedFarAhead;
    private (DateTimeOffset Anchor, long At, long Since)? _claimed;
    private long? _stepAt;
    private long? _greatStepAt;
    private int _steps;

    // How often something was found out about the machine's clock.
    private int _findings;
    private string _step = "";

    /// <inheritdoc/>
    public override long TimestampFrequency => inner.TimestampFrequency;

    /// <inheritdoc/>
    public override TimeZoneInfo LocalTimeZone => inner.LocalTimeZone;

    /// <summary>Why times are not to be trusted as they are now; null: nothing speaks against them. Such a time stands in the notes of records.</summary>
    public string? Doubt
    {
        get
        {
            var now = GetUtcNow();
            lock (_gate)
                return DoubtAt(now);
        }
    }

    /// <summary>Why people should look at the clock: a doubt, or that it was set in the last ten minutes; null: nothing.</summary>
    public string? Trouble
    {
        get
        {
            var now = GetUtcNow();
            lock (_gate)
                return DoubtAt(now) ?? (_stepAt is { } at && GetElapsedTime(at) < Calm ? _step : null);
        }
    }

    /// <summary>Whether what is old by this clock may be cleared away: not where the clock may be years ahead.</summary>
    public bool IsFitForClearing
    {
        get
        {
            var now = GetUtcNow();
            lock (_gate)
                return _claimed is null && now >= Earliest && !IsFarAhead() && !(_greatStepAt is { } at && GetElapsedTime(at) < Patience);
        }
    }

    /// <summary>Says up to when a history reaches: a clock that stands before that was set back, or holds no time while it is switched off.</summary>
    public void Know(DateTimeOffset? storedUntil)
    {
        var now = GetUtcNow();
        lock (_gate)
        {
            _storedUntil = storedUntil;
            _startedFarAhead = storedUntil is { } until && now - until > FarAhead;
            if (DoubtAt(now) is { } doubt)
                HostingLog.ClockDoubted(logger, doubt);
        }
    }

    /// <inheritdoc/>
    public override DateTimeOffset GetUtcNow()
    {
        while (true)
        {
            // Read before the gate: a clock may do whatever it likes while it is read, and whoever waits for the gate must not have to wait for that.
            var findings = Volatile.Read(ref _findings);
            var (wall, at) = BothClocks.Read(inner);
            lock (_gate)
            {
                // Another thread came upon a step meanwhile: what was read here may be from before it.
                if (findings == _findings)
                    return Judge(wall, at);
            }
        }
    }

    /// <inheritdoc/>
    public override long GetTimestamp() => inner.GetTimestamp();

    /// <inheritdoc/>
    public override ITimer CreateTimer(TimerCallback callback, object? state, TimeSpan dueTime, TimeSpan period) => inner.CreateTimer(callback, state, dueTime, period);

    private DateTimeOffset Judge(DateTimeOffset wall, long at)
    {
        var expected = _anchor + inner.GetElapsedTime(_anchorAt, at);
        var step = wall - expected;
        EndStep();
        if (step.Duration() < LeastStep)
        {
            if (_claimed is not null)
            {
                HostingLog.ClockCameBack(logger);
                _findings++;
            }

            _claimed = null;
            (_anchor, _anchorAt) = (wall, at);
            return wall;
        }

        if (!IsBelieved(expected, wall, step, at))
            return expected;
        _findings++;
        _claimed = null;
        (_anchor, _anchorAt) = (wall, at);
        Step(step, wall);
        return wall;
    }

    // Where the time before it was none to be trusted, any other is better.
    private bool IsBelieved(DateTimeOffset expected, DateTimeOffset wall, TimeSpan step, long at)
    {
        if (step.Duration() <= GreatStep || expected < Earliest || (IsFarAhead() && step < TimeSpan.Zero))
            return true;
        if (_claimed is not { } claimed || (wall - (claimed.Anchor + inner.GetElapsedTime(claimed.At, at))).Duration() >= LeastStep)
        {
            if (_claimed is null)
                HostingLog.ClockNotFollowed(logger, wall, Words(step), Proof.TotalMinutes);
            _claimed = (wall, at, at);
            _findings++;
            return false;
        }

        _claimed = (wall, at, claimed.Since);
        return inner.GetElapsedTime(claimed.Since, at) >= Proof;
    }

    private void Step(TimeSpan step, DateTimeOffset wall)
    {
        _step = string.Create(CultureInfo.InvariantCulture, $"it was set {Words(step)} to {wall.UtcDateTime:yyyy-MM-dd'T'HH:mm:ss'Z'}");
        if (_stepAt is null)
            HostingLog.ClockSet(logger, Words(step), wall);
        _steps++;
        _stepAt = inner.GetTimestamp();
        if (step.Duration() > GreatStep)
            _greatStepAt = _stepAt;
    }

    // Said once when it begins, and once when the clock has gone steadily for a while.
    private void EndStep()
    {
        if (_stepAt is not { } at || GetElapsedTime(at) < Calm)
            return;
        HostingLog.ClockSteady(logger, _steps);
        (_stepAt, _steps) = (null, 0);
    }

    private string? DoubtAt(DateTimeOffset now)
    {
        if (_claimed is { } claimed)
            return string.Create(CultureInfo.InvariantCulture, $"it jumped to {claimed.Anchor.UtcDateTime:yyyy-MM-dd'T'HH:mm:ss'Z'}, which is not followed yet");
        if (now < Earliest)
            return string.Create(CultureInfo.InvariantCulture, $"it stands at {now.UtcDateTime:yyyy-MM-dd'T'HH:mm:ss'Z'}, before this program was written");
        if (GetElapsedTime(_start) >= Patience)
            return null;
        if (_storedUntil is { } until && now < until - LeastStep)
            return string.Create(CultureInfo.InvariantCulture, $"it stands at {now.UtcDateTime:yyyy-MM-dd'T'HH:mm:ss'Z'}, before the end of what is stored ({until.UtcDateTime:yyyy-MM-dd'T'HH:mm:ss'Z'})");
        return IsFarAhead() ? string.Create(CultureInfo.InvariantCulture, $"it stands at {now.UtcDateTime:yyyy-MM-dd'T'HH:mm:ss'Z'}, more than {FarAhead.TotalDays:0} days after the end of what is stored ({_storedUntil!.Value.UtcDateTime:yyyy-MM-dd'T'HH:mm:ss'Z'})") : null;
    }

    private bool IsFarAhead() => _startedFarAhead && _greatStepAt is null && GetElapsedTime(_start) < Patience;

    private static string Words(TimeSpan step) =>
        string.Create(CultureInfo.InvariantCulture, $"{(step < TimeSpan.Zero ? "back" : "forward")} by {step.Duration().TotalSeconds:0.0} s");
}
