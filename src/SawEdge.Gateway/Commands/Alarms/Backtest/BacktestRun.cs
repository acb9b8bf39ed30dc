using SawEdge.Core.Alarms;
using SawEdge.Core.Cutting;
using SawEdge.Gateway.Acquisition.Recordings;
using SawEdge.Gateway.Commands.Reports;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Commands.Alarms.Backtest;

/// <summary>What is to be tried, as a person wrote it.</summary>
internal sealed record BacktestSettings
{
    /// <summary>Recordings; empty: the history.</summary>
    public IReadOnlyList<string> Inputs { get; init; } = [];

    /// <summary>Only what began then or later, or null.</summary>
    public string? From { get; init; }

    /// <summary>Only what began before, or null.</summary>
    public string? To { get; init; }

    /// <summary>Whether the load score is computed anew.</summary>
    public bool Anew { get; init; }

    /// <summary>The job list for recordings, or null: the configuration's.</summary>
    public string? JobsFile { get; init; }

    /// <summary>The saw of recordings without a column for it, or null.</summary>
    public string? RecordedSaw { get; init; }

    /// <summary>How soon people answer; null: never.</summary>
    public TimeSpan? AnswerAfter { get; init; } = TimeSpan.FromMinutes(15);

    /// <summary>Sees to it that what was asked for goes together.</summary>
    /// <exception cref="CommandException">It does not.</exception>
    public void Check()
    {
        if (Inputs.Count > 0 && Anew)
            throw new CommandException("--anew is for the history; from recordings (--input) the load score is always computed.");
        if (Inputs.Count == 0 && (JobsFile ?? RecordedSaw) is not null)
            throw new CommandException($"{(JobsFile is not null ? "--jobs" : "--recorded-saw")} goes with --input; the history holds the jobs and saws of its cuts.");
        if (JobsFile is { } file && !File.Exists(file))
            throw new CommandException($"--jobs {file}: there is no such file.");
    }
}

/// <summary>Tries sets of rules on the same past.</summary>
/// <param name="settings">What is to be tried.</param>
/// <param name="folder">The data folder; its judged alarms are what the rules are held against.</param>
/// <param name="time">Clock and time zone; no result but the speed depends on the clock.</param>
/// <param name="say">Told of what is wrong in recordings and job lists.</param>
internal sealed class BacktestRun(BacktestSettings settings, NamedFolder folder, TimeProvider time, Action<string> say)
{
    /// <summary>Tries one set.</summary>
    /// <param name="name">What the rules come from: the configuration file.</param>
    /// <param name="options">The configuration.</param>
    /// <param name="cancellation">Breaks off.</param>
    /// <exception cref="CommandException">There is nothing to try it on.</exception>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public async Task<BacktestResult> RunAsync(string name, GatewayOptions options, CancellationToken cancellation)
    {
        var moments = new MomentText(folder.At(time));
        var from = settings.From is null ? (DateTimeOffset?)null : moments.Parse("--from", settings.From);
        var to = settings.To is null ? (DateTimeOffset?)null : moments.Parse("--to", settings.To);
        if (from >= to)
            throw new CommandException($"--from '{settings.From}' is not before --to '{settings.To}'.");

        var began = time.GetTimestamp();
        var past = settings.Inputs.Count > 0 ? await RecordingsAsync(options, from, to, cancellation) : await new HistoryPast(folder.Open(), options, from, to).RunAsync(folder.Folder, settings.Anew, cancellation);
        var life = new TriedLife(options.Alarms.Rules, options.Alarms.Contacts, Board(options), settings.AnswerAfter);
        life.Run(past, cancellation);
        var took = time.GetElapsedTime(began);
        var result = BacktestTally.Count(name, options.Alarms, past, life.Events, life.Notices, await StoredAsync(past, cancellation));
        return result with { AnswerAfter = settings.AnswerAfter, Took = took };
    }

    private static AlarmBoardSettings Board(GatewayOptions options) => new()
    {
        Quantity = (value, unit) => DisplayText.Text(options.Units, value, unit),
        IsAtWork = options.Calendar is { } calendar ? calendar.Calendar.IsAtWork : null,
    };

    private async Task<WatchedPast> RecordingsAsync(GatewayOptions options, DateTimeOffset? from, DateTimeOffset? to, CancellationToken cancellation)
    {
        var problems = new RecordingProblems();
        try
        {
            var jobs = (settings.JobsFile ?? options.JobsFile) is { } file ? await ReplayRun.ReadJobsAsync(file, options.Catalogue, say, cancellation) : JobBook.Empty;
            await using var set = await RecordingSet.OpenAsync(settings.Inputs, problems, settings.RecordedSaw, new RecordingLayouts(options), cancellation);
            return await new RecordingPast(options, jobs, from, to).RunAsync(set, cancellation);
        }
        catch (RecordingException e)
        {
            throw new CommandException(e.Message, e);
        }
        finally
        {
            foreach (var problem in problems.All)
                say($"{problem}");
        }
    }

    // What people said about alarms of that time. Recordings may be tried where there is no history beside them.
    private async Task<IReadOnlyList<Alarm>> StoredAsync(WatchedPast past, CancellationToken cancellation)
    {
        if (past.Saws.Count == 0 || (settings.Inputs.Count > 0 && !File.Exists(Path.Combine(folder.Folder, HistoryDatabase.FileName))))
            return [];
        var stored = new List<Alarm>();
        var filter = new AlarmFilter { From = past.From - BacktestTally.Nearness, To = past.To + BacktestTally.Nearness };
        await foreach (var alarm in folder.Open().AlarmsAsync(filter, cancellation))
        {
            if (alarm.Verdict != AlarmVerdict.None)
                stored.Add(alarm);
        }

        return stored;
    }
}
