using System.Diagnostics.CodeAnalysis;
using SawEdge.Core;
using SawEdge.Core.Oee;

namespace SawEdge.Gateway.Api;

/// <summary>What of a saw changes from moment to moment; null where it is not known.</summary>
internal record SawTick
{
    public required string Name { get; init; }

    public required string State { get; init; }

    public DateTimeOffset? StateSince { get; init; }

    public string? Reason { get; init; }

    public string? Job { get; init; }

    public string? Material { get; init; }

    public string? Section { get; init; }

    public string? Blade { get; init; }

    public double? CutShare { get; init; }

    public DateTimeOffset? CutStartedAt { get; init; }

    public double? HeadPositionMm { get; init; }

    public double? MotorLoadKw { get; init; }

    public double? ExpectedLoadKw { get; init; }

    public double? ExpectedLowKw { get; init; }

    public double? ExpectedHighKw { get; init; }

    public double? IdleLoadKw { get; init; }

    public double? BladeSpeedMMin { get; init; }

    public long? PartCount { get; init; }

    public double? DataAgeS { get; init; }

    /// <summary>What a moment tells of a saw now.</summary>
    /// <param name="name">The saw.</param>
    /// <param name="moment">The moment.</param>
    /// <param name="now">Now, by the machine clock.</param>
    /// <param name="blade">The blade, where the controller does not name it; or null.</param>
    public static SawTick Of(string name, in SawMoment moment, DateTimeOffset now, string? blade)
    {
        var age = now - moment.ReceivedAt;
        if (moment.Frames == 0)
            return new SawTick { Name = name, State = TimelineState.Unknown.ToName(), Blade = blade };
        var seconds = Math.Max(0, Math.Round(age.TotalSeconds, 1));
        var ofController = Known.Text(moment.Blade) ?? blade;

        // Frames stay away: what was last seen is not what is now. From when on, the last frame says.
        if (age > moment.Holds)
            return new SawTick { Name = name, State = TimelineState.Unknown.ToName(), StateSince = moment.At, Blade = ofController, DataAgeS = seconds };
        return new SawTick
        {
            Name = name,
            State = moment.State.ToName(),
            StateSince = moment.StateSince,
            Reason = moment.Fault != 0 ? FormattableString.Invariant($"fault {moment.Fault}") : moment.State == TimelineState.NotAvailable ? "switched off" : null,
            Job = Known.Text(moment.Job),
            Material = Known.Text(moment.Material),
            Section = Known.Text(moment.Section),
            Blade = ofController,
            CutShare = Known.Number(moment.CutShare, 3),
            CutStartedAt = moment.CutStartedAt,
            HeadPositionMm = Known.Number(moment.HeadMm, 2),
            MotorLoadKw = Known.Number(moment.LoadKw, 3),
            ExpectedLoadKw = Known.Number(moment.ExpectedKw, 3),
            ExpectedLowKw = Known.Number(moment.LowKw, 3),
            ExpectedHighKw = Known.Number(moment.HighKw, 3),
            IdleLoadKw = Known.Number(moment.IdleKw, 3),
            BladeSpeedMMin = Known.Number(moment.BladeSpeedMMin, 2),
            PartCount = moment.PartCount,
            DataAgeS = seconds,
        };
    }
}

/// <summary>A saw with everything that is shown of it; null where it is not known.</summary>
internal sealed record SawNow : SawTick
{
    [SetsRequiredMembers]
    public SawNow(SawTick tick)
        : base(tick)
    {
    }

    public string? Group { get; init; }

    public int OpenAlarms { get; init; }

    public string? HighestSeverity { get; init; }

    public CycleRecord? LastCycle { get; init; }

    public ShiftNow? Shift { get; init; }
}

/// <summary>The shift that runs, as far as it has come; null where something is not known.</summary>
internal sealed record ShiftNow(string Label, DateTimeOffset From, DateTimeOffset To, long? Parts, double? Oee);
