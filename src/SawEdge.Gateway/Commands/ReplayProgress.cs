using System.Globalization;
using Spectre.Console;

namespace SawEdge.Gateway.Commands;

/// <summary>Where a replay stands.</summary>
/// <param name="BytesRead">Bytes of the recordings that were read.</param>
/// <param name="TotalBytes">Bytes of all recordings.</param>
/// <param name="Frames">Frames given so far.</param>
internal readonly record struct ReplayPosition(long BytesRead, long TotalBytes, long Frames);

/// <summary>Shows where a replay stands: a bar on a terminal, nothing in a pipe.</summary>
internal static class ReplayProgress
{
    /// <summary>Runs the work, which reports its position a few times a second.</summary>
    /// <param name="console">The terminal, or null where there is none.</param>
    /// <param name="time">Clock of the rate.</param>
    /// <param name="work">The work.</param>
    public static async Task RunAsync(IAnsiConsole? console, TimeProvider time, Func<Action<ReplayPosition>, Task> work)
    {
        if (console is null)
        {
            await work(_ => { });
            return;
        }

        await console.Progress()
            .AutoClear(true)
            .Columns(new TaskDescriptionColumn(), new ProgressBarColumn(), new PercentageColumn(), new RemainingTimeColumn())
            .StartAsync(async context =>
            {
                var task = context.AddTask("replay", maxValue: 1);
                var started = time.GetTimestamp();
                await work(position =>
                {
                    var seconds = Math.Max(time.GetElapsedTime(started).TotalSeconds, 1e-3);
                    task.Value = position.TotalBytes > 0 ? (double)position.BytesRead / position.TotalBytes : 1;
                    task.Description = string.Create(CultureInfo.InvariantCulture, $"{position.Frames:N0} frames, {position.Frames / seconds:N0} a second");
                });
            });
    }
}
