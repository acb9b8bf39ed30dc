using System.Globalization;
using SawEdge.Core;
using SawEdge.Core.Blades;
using SawEdge.Gateway.Commands.Reports;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Processing;

namespace SawEdge.Gateway.Commands.Blades;

/// <summary>What is stored of the blades of one saw.</summary>
/// <param name="Saw">The saw.</param>
/// <param name="Accounts">The blades, the latest last.</param>
/// <param name="Entries">What people said.</param>
/// <param name="IsStale">Whether entries are newer than the accounts, or these are still to be computed.</param>
internal sealed record StoredBlades(string Saw, IReadOnlyList<BladeAccount> Accounts, BladeBook Entries, bool IsStale)
{
    /// <summary>How far a moment that a person writes may lie from the one that is meant: they are shown to the minute.</summary>
    private static readonly TimeSpan Nearness = TimeSpan.FromMinutes(1);

    /// <summary>Reads it.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    /// <exception cref="CommandException">What the saw had learned cannot be read by this program.</exception>
    public static async Task<StoredBlades> ReadAsync(NamedFolder folder, HistoryReader reader, string saw, CancellationToken cancellation)
    {
        var (book, last) = await reader.BladeEntriesAsync(saw, cancellation);
        if ((await reader.LoadSawAsync(saw, cancellation)).State is not { } state)
            return new StoredBlades(saw, [], book, last > 0);
        try
        {
            var memory = MemoryCodec.Decode(state);

            // Where nothing was learned beyond the accounts, they stand as they are.
            var blades = memory.Recorder is not { Load.Length: > 0 } recorder
                ? memory.Recorder?.Blades ?? []
                : (await Rebuild.ResumeAsync(reader, folder.SetupOf(saw) ?? SawSetup.Unknown(saw), recorder, book, cancellation)).Blades;
            return new StoredBlades(saw, blades, book, memory.Recorder is null || memory.Entries < last);
        }
        catch (FormatException e)
        {
            throw new CommandException($"What {saw} had learned cannot be read: {e.Message}. The gateway computes it anew at its next start.", e);
        }
    }

    /// <summary>The entry around a moment that a person wrote; null where there is none.</summary>
    public BladeEntry? EntryAt(DateTimeOffset moment) => Entries.Entries.Where(entry => IsNear(entry.At, moment)).MinBy(entry => (entry.At - moment).Duration());

    /// <summary>The blade that was proposed around a moment that a person wrote; null where there is none.</summary>
    public BladeAccount? ProposalAt(DateTimeOffset moment) =>
        Accounts.Where(blade => blade.Origin == BladeOrigin.Proposed && IsNear(blade.FirstCutAt, moment)).MinBy(blade => (blade.FirstCutAt - moment).Duration());

    private static bool IsNear(DateTimeOffset one, DateTimeOffset other) => (one - other).Duration() <= Nearness;
}

/// <summary>Writes entries about the blades of a saw, and computes the records anew where no gateway is there to do it.</summary>
internal sealed class BladeEntering(NamedFolder folder, TimeProvider time)
{
    /// <summary>Withdraws entries and adds others.</summary>
    /// <param name="saw">The saw.</param>
    /// <param name="withdraw">Entries that do not hold any more.</param>
    /// <param name="add">New entries.</param>
    /// <param name="cancellation">Breaks off.</param>
    /// <returns>What came of it, a sentence.</returns>
    /// <exception cref="HistoryException">The history cannot be written.</exception>
    public async Task<string> EnterAsync(string saw, IReadOnlyList<BladeEntry> withdraw, IReadOnlyList<BladeEntry> add, CancellationToken cancellation)
    {
        HistoryDatabase database;
        try
        {
            database = HistoryDatabase.Open(folder.Folder);
        }
        catch (HistoryInUseException)
        {
            BladeEntryRows.Write(folder.Folder, withdraw, add, time.GetUtcNow());
            return "The gateway that runs there takes it over within seconds and computes the records anew.";
        }

        using (database)
        {
            BladeEntryRows.Write(database.Folder, withdraw, add, time.GetUtcNow());
            if (folder.Options is null)
                return "The gateway computes the records anew at its next start; with --config in place of --data this is done at once.";
            return folder.SetupOf(saw) is { } setup ? Words(await RebuildAsync(database, setup, cancellation)) : $"{saw} is not in {folder.ConfigFile} any more, so its records stay as they are.";
        }
    }

    private async Task<RebuildOutcome?> RebuildAsync(HistoryDatabase database, SawSetup setup, CancellationToken cancellation)
    {
        var writer = new HistoryWriter(database, time, Microsoft.Extensions.Logging.Abstractions.NullLogger<HistoryWriter>.Instance);
        using var end = new CancellationTokenSource();
        var writing = writer.RunAsync(end.Token);
        var computing = OfflineRebuild.RunAsync(new HistoryReader(database), writer, setup, cancellation);

        // A damaged file ends the writing, and then nothing would end the waiting for it.
        if (await Task.WhenAny(writing, computing) == writing)
            await writing;
        try
        {
            return await computing;
        }
        finally
        {
            writer.Complete();
            await writing;
        }
    }

    private static string Words(RebuildOutcome? outcome)
    {
        var words = outcome switch
        {
            null => "No record had to be computed anew.",
            { Changed: 0 } => $"{Count(outcome.Cycles, "record")} looked through, none changed.",
            _ => $"{Count(outcome.Changed, "record")} changed, {outcome.Cycles.ToString(CultureInfo.InvariantCulture)} looked through.",
        };
        return outcome?.StayedUpTo is { } until
            ? string.Create(CultureInfo.InvariantCulture, $"{words} Those up to {until.UtcDateTime:yyyy-MM-dd HH:mm}Z stay as they are: what they were computed from was cleared away to keep the history within its room.")
            : words;
    }

    private static string Count(int count, string what) => string.Create(CultureInfo.InvariantCulture, $"{count} {what}{(count == 1 ? "" : "s")}");
}
