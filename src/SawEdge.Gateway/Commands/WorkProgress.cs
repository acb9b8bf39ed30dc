using System.Globalization;
using Spectre.Console;

namespace SawEdge.Gateway.Commands;

/// <summary>Where a long piece of work stands.</summary>
/// <param name="Done">How much of it is done.</param>
/// <param name="All">How much there is, in the same measure; null where nobody knows.</param>
/// <param name="Items">Items dealt with so far; their rate is shown.</param>
internal readonly record struct WorkPosition(long Done, long? All, long Items);

/// <summary>Shows where a long piece of work stands, with its rate and the time that is left: a bar on a terminal, nothing in a pipe.</summary>
internal static class WorkProgress
{
    /// <summary>The terminal behind standard error, or null where there is none.</summary>
    /// <param name="error">Where the command says what is wrong.</param>
    public static IAnsiConsole? OnError(TextWriter error) =>
        ReferenceEquals(error, Console.Error) && !Console.IsErrorRedirected
            ? AnsiConsole.Create(new AnsiConsoleSettings { Out = new AnsiConsoleOutput(error) })
            : null;

    /// <summary>Runs the work, which reports its position a few times a second.</summary>
    /// <param name="console">The terminal, or null where there is none.</param>
    /// <param name="time">Clock of the rate.</param>
    /// <param name="name">What the work is called until it has a position.</param>
    /// <param name="items">What its items are called, several of them.</param>
    /// <param name="work">The work.</param>
    public static async Task RunAsync(IAnsiConsole? console, TimeProvider time, string name, string items, Func<Action<WorkPosition>, Task> work)
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
                var task = context.AddTask(name, maxValue: 1);
                var started = time.GetTimestamp();
                await work(position =>
                {
                    var seconds = Math.Max(time.GetElapsedTime(started).TotalSeconds, 1e-3);
                    task.IsIndeterminate = position.All is null;

                    // What is counted beforehand may grow on the way.
                    task.Value = position.All is > 0 and var all ? Math.Min(1, (double)position.Done / all) : 1;
                    task.Description = string.Create(CultureInfo.InvariantCulture, $"{position.Items:N0} {items}, {position.Items / seconds:N0} a second");
                });
            });
    }
}
