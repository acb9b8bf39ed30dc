using System.Globalization;
using Microsoft.Extensions.Logging;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Hosting;

/// <summary>
/// Keeps the history within its time and its room: deletes signals and profiles that are older than they are to be kept, and when the budget is
/// reached the oldest signals and reports about the gateway's health, then the oldest profiles with what belongs to them; nothing else ever. What a
/// destination is still to get stays past its time, and only the budget takes it. All in bites so small that a finished cut never waits for it.
/// </summary>
/// <param name="writer">The history.</param>
/// <param name="reader">The history.</param>
/// <param name="signals">How long signals are kept.</param>
/// <param name="room">How much room there is, and how long profiles are kept.</param>
/// <param name="takers">The destinations that are to have something before it goes.</param>
/// <param name="machine">The machine clock, by which all of it was taken.</param>
/// <param name="logger">Where it speaks.</param>
/// <param name="mayClear">Whether the clock may be trusted so far that what is old by it goes; null: it may.</param>
internal sealed class HistoryKeeping(HistoryWriter writer, HistoryReader reader, TimeSpan signals, HistoryOptions room, HistoryTakers takers, TimeProvider machine, ILogger logger, Func<bool>? mayClear = null)
{
    /// <summary>Samples that are deleted in one transaction.</summary>
    public const int Samples = 500;

    /// <summary>Cycles whose profiles are deleted in one transaction.</summary>
    public const int Cycles = 100;

    /// <summary>Pages that are given back in one transaction.</summary>
    public const int Pages = 256;

    /// <summary>Share of the budget down to which room is made: then there is peace for a while.</summary>
    public const double MadeRoom = 0.97;

    // What is free is used again soon, and giving it back means to move other pages: so much of it is left alone.
    private const int FreePagesLeft = 1024;
    private const int FreeShareLeft = 8;

    private static readonly TimeSpan LookEvery = TimeSpan.FromMinutes(1);

    // Somebody looks at what just happened, whatever the budget.
    private static readonly TimeSpan SignalsLeft = TimeSpan.FromHours(1);

    private HistorySpace? _space;
    private bool _isFull;
    private bool _saidFixed;

    /// <summary>What file and log take of the budget; NaN before they were looked at.</summary>
    public double Share => Space is { } space ? (double)space.AllBytes / room.BudgetBytes : double.NaN;

    /// <summary>What the history takes on the disk; null before it was looked at.</summary>
    public HistorySpace? Space => Volatile.Read(ref _space);

    /// <summary>What it may take, bytes.</summary>
    public long BudgetBytes => room.BudgetBytes;

    /// <summary>Works until cancelled.</summary>
    /// <exception cref="OperationCanceledException">Cancelled.</exception>
    /// <exception cref="HistoryCorruptException">The history is damaged.</exception>
    public async Task RunAsync(CancellationToken cancellation)
    {
        using var look = new PeriodicTimer(LookEvery, machine);
        var inTrouble = false;
        do
        {
            try
            {
                await LookAsync(cancellation);
                inTrouble = false;
            }
            catch (HistoryException e) when (e is not HistoryCorruptException)
            {
                if (!inTrouble)
                    HostingLog.HistoryNotCleared(logger, e.Message);
                inTrouble = true;
            }
        }
        while (await look.WaitForNextTickAsync(cancellation));
    }

    /// <summary>Deletes once what is too old or too much, and gives back what is free.</summary>
    /// <exception cref="HistoryException">The history cannot be read or written.</exception>
    public async Task LookAsync(CancellationToken cancellation)
    {
        var now = machine.GetUtcNow();
        var byAge = mayClear?.Invoke() ?? true;
        while (byAge && await writer.DeleteSamplesAsync(now - signals, Samples, takers.Samples, cancellation) + await writer.DeleteHealthAsync(now - signals, Samples, takers.Health, cancellation) > 0)
        {
            // The next bite.
        }

        if (byAge && room.KeepProfiles is { } keep)
            await ClearProfilesAsync(now - keep, cancellation);
        var space = await MeasureAsync(cancellation);

        // The log counts, but nothing is deleted because of it, which would make it longer: it is taken into the file. Where somebody reads for so long
        // that it cannot be, the alarm says that there is too much, and the next look tries again.
        if (space.AllBytes > room.BudgetBytes && space.LogBytes > 0)
            space = await TakeLogInAsync(cancellation);
        if (space.Bytes > room.BudgetBytes)
            space = await MakeRoomAsync(now, space, cancellation);
        else if (_isFull)
            HostingLog.HistoryFits(logger, Megabytes(room.BudgetBytes));
        _isFull = space.Bytes > room.BudgetBytes;
        await GiveBackAsync(space, Math.Max(FreePagesLeft, space.Pages / FreeShareLeft), long.MaxValue, cancellation);
    }

    private async Task ClearProfilesAsync(DateTimeOffset before, CancellationToken cancellation)
    {
        while (await reader.OldestDetailsAsync(before, cancellation) is { } block && (await reader.WithoutDetailsAsync(block, takers.Profiles, cancellation)).Count == 0)
        {
            var gone = 0;
            for (int some; (some = await writer.ClearDetailsAsync(block, Cycles, cancellation)) > 0;)
                gone += some;

            // Records are being computed anew: the next look.
            if (gone == 0)
                return;
        }
    }

    private async Task<HistorySpace> MakeRoomAsync(DateTimeOffset now, HistorySpace before, CancellationToken cancellation)
    {
        var target = (long)(room.BudgetBytes * MadeRoom);
        var (samples, cycles) = (0L, 0L);
        DateTimeOffset? profilesTo = null;
        var goneBefore = await reader.GoneAsync(cancellation);
        var without = new HashSet<string>(StringComparer.Ordinal);
        for (int some; await IsUsedAsync(target, cancellation) && (some = await GiveUpSignalsAsync(now - SignalsLeft, cancellation)) > 0;)
            samples += some;

        while (await IsUsedAsync(target, cancellation) && await reader.OldestDetailsAsync(now, cancellation) is { } block)
        {
            // A stretch that was begun is ended: its checkpoint is gone.
            var gone = 0;
            without.UnionWith(await reader.WithoutDetailsAsync(block, takers.Profiles, cancellation));
            for (int some; (some = await writer.ClearDetailsAsync(block, Cycles, cancellation)) > 0;)
                gone += some;
            if (gone == 0)
                break;
            (cycles, profilesTo) = (cycles + gone, block.To);
        }

        await GiveBackAsync(await MeasureAsync(cancellation), 0, target, cancellation);
        var space = await TakeLogInAsync(cancellation);
        if (samples > 0 || cycles > 0)
            HostingLog.RoomMade(logger, Megabytes(before.AllBytes), Megabytes(room.BudgetBytes), samples, cycles, profilesTo is { } to ? string.Create(CultureInfo.InvariantCulture, $", the last of {to:yyyy-MM-dd HH:mm}Z") : "", Megabytes(space.AllBytes));
        foreach (var (consumer, count) in await reader.GoneAsync(cancellation))
        {
            if (count > goneBefore.GetValueOrDefault(consumer))
                HostingLog.GoneUndelivered(logger, consumer, count - goneBefore.GetValueOrDefault(consumer));
        }

        foreach (var consumer in without.Order(StringComparer.Ordinal))
            HostingLog.ProfilesGoneUndelivered(logger, consumer);
        if (space.Bytes > room.BudgetBytes && !_isFull)
            HostingLog.HistoryFull(logger, Megabytes(space.AllBytes), Megabytes(room.BudgetBytes));
        return space;
    }

    // Reports about the gateway's health are few: they go when no signals are left.
    private async Task<int> GiveUpSignalsAsync(DateTimeOffset before, CancellationToken cancellation) =>
        await writer.DeleteSamplesAsync(before, Samples, takers.Samples with { GiveUp = true }, cancellation) is > 0 and var gone
            ? gone
            : await writer.DeleteHealthAsync(before, Samples, takers.Health with { GiveUp = true }, cancellation);

    private async Task<bool> IsUsedAsync(long bytes, CancellationToken cancellation) => (await MeasureAsync(cancellation)).UsedBytes > bytes;

    // Until so many free pages are left, or the file is small enough.
    private async Task<HistorySpace> GiveBackAsync(HistorySpace space, long left, long target, CancellationToken cancellation)
    {
        if (!space.GivesBack)
        {
            if (space.FreePages > left && !_saidFixed)
                HostingLog.HistoryDoesNotShrink(logger);
            _saidFixed |= space.FreePages > left;
            return space;
        }

        while (space.FreePages > left && (target == long.MaxValue || space.Bytes > target))
        {
            var pages = (int)Math.Min(Pages, space.FreePages - left);
            if (await writer.GiveBackAsync(pages, cancellation) == 0)
                break;
            space = await MeasureAsync(cancellation);
        }

        return space;
    }

    private async Task<HistorySpace> MeasureAsync(CancellationToken cancellation)
    {
        var space = await reader.SpaceAsync(cancellation);
        Volatile.Write(ref _space, space);
        return space;
    }

    private async Task<HistorySpace> TakeLogInAsync(CancellationToken cancellation)
    {
        await reader.TakeLogInAsync(cancellation);
        return await MeasureAsync(cancellation);
    }

    private static string Megabytes(long bytes) => string.Create(CultureInfo.InvariantCulture, $"{bytes / 1e6:N0} MB");
}
