using System.Globalization;
using Microsoft.Extensions.Logging.Abstractions;
using SawEdge.Core;
using SawEdge.Core.Cycles;
using SawEdge.Gateway.History;
using SawEdge.TestSupport;

namespace SawEdge.EndToEnd.Tests.Support;

/// <summary>A history that takes a while to export, with texts that ask for care.</summary>
public sealed class LongHistory : IAsyncLifetime, IDisposable
{
    /// <summary>How many cycles it holds.</summary>
    public const int Cycles = 60_000;

    private static readonly DateTimeOffset Start = new(2026, 3, 2, 6, 0, 0, TimeSpan.Zero);

    private static readonly string[] Jobs = ["J-1", "=2+3", "a \"b\"; c", "A,\nB", "S\u00e4ge \u200f\u05d0", "\U0001FA9A"];

    private readonly TempFolder _folder = new();

    /// <summary>The data folder.</summary>
    public string Folder => _folder.Path;

    /// <inheritdoc/>
    public async Task InitializeAsync()
    {
        using var database = HistoryDatabase.Open(_folder.Path);
        var writer = new HistoryWriter(database, TimeProvider.System, NullLogger<HistoryWriter>.Instance);
        var run = writer.RunAsync(CancellationToken.None);
        foreach (var part in Enumerable.Range(0, Cycles).Chunk(2000))
            await writer.AppendAsync([.. part.Select(i => new FinishedCycle { Record = Make(i) })], CancellationToken.None);
        writer.Complete();
        await run;
    }

    /// <inheritdoc/>
    public Task DisposeAsync() => Task.CompletedTask;

    /// <inheritdoc/>
    public void Dispose() => _folder.Dispose();

    private static CycleRecord Make(int number) => new()
    {
        CycleId = string.Create(CultureInfo.InvariantCulture, $"saw-1-{number:D6}"),
        Saw = "saw-1",
        StartedAt = Start.AddMinutes(number),
        CutStartedAt = Start.AddMinutes(number).AddMilliseconds(4321),
        CutEndedAt = Start.AddMinutes(number).AddMilliseconds(50123),
        EndedAt = Start.AddMinutes(number).AddMilliseconds(55000),
        Outcome = CutOutcome.Completed,
        Mode = "automatic",
        Job = Jobs[number % Jobs.Length],
        Material = "C45",
        Section = "round 100",
        CutTimeS = 45.802 + (number / 7.0),
        CutTimeRatio = 1 + (number % 100 / 1000.0),
        MeanLoadKw = number % 5 == 0 ? null : 2.25 + (number / 1e5),
        LoadScore = number % 400 / 100.0,
        Frames = 458,
        Coverage = 1,
        Basis = "head+load+bits",
    };
}
