using System.CommandLine;
using System.Globalization;
using SawEdge.Torture.Trials;

namespace SawEdge.Torture;

/// <summary>The command: runs trials, prints seeds and figures, and fails where a check did not hold.</summary>
internal static class Harness
{
    // A gateway's whole log is part of what some exceptions say.
    private const int Told = 4000;

    // In the order in which they are run by "all".
    private static readonly ITrial[] Trials =
    [
        new KillTrial(),
        new GapsTrial(),
        new ClockTrial(),
        new SoakTrial(),
        new InfluxTrial(),
        new DiskTrial(),
        new NetworkTrial(),
        new OutageTrial(),
    ];

    /// <summary>Runs the command line.</summary>
    /// <param name="arguments">The command line: a trial's name or "all", and options.</param>
    /// <param name="output">Where progress and figures go.</param>
    /// <param name="cancellation">Ends it early.</param>
    /// <returns>0 where every check held, 1 otherwise.</returns>
    public static async Task<int> RunAsync(string[] arguments, TextWriter output, CancellationToken cancellation)
    {
        var command = new RootCommand("Ill-treats a real gateway and checks that it has lost, doubled and made up nothing.");
        var isShort = new Option<bool>("--short") { Description = "the short form, which every build runs", Recursive = true };
        var seed = new Option<int?>("--seed") { Description = "repeats a run's choices", Recursive = true };
        var count = new Option<int?>("--count") { Description = "how many blows", Recursive = true };
        var minutes = new Option<double>("--minutes") { Description = "after this no more blows are dealt", DefaultValueFactory = _ => 60, Recursive = true };
        foreach (var option in (Option[])[isShort, seed, count, minutes])
            command.Options.Add(option);
        var failed = false;
        foreach (var (name, describes, chosen) in Trials.Select(trial => (trial.Name, trial.Describes, (ITrial[])[trial])).Append(("all", "one after the other", Trials)))
        {
            var verb = new Command(name, describes);
            verb.SetAction(async (parsed, token) =>
            {
                foreach (var trial in chosen)
                {
                    var run = new TrialRun(
                        parsed.GetValue(seed) ?? Random.Shared.Next(1, 1_000_000),
                        parsed.GetValue(isShort),
                        parsed.GetValue(count),
                        TimeSpan.FromMinutes(parsed.GetValue(minutes)),
                        output);
                    failed |= !await RunAsync(trial, run, output, token);
                }
            });
            command.Subcommands.Add(verb);
        }

        var exit = await command.Parse(arguments).InvokeAsync(new InvocationConfiguration { Output = output, Error = output }, cancellation);
        return exit != 0 || failed ? 1 : 0;
    }

    private static async Task<bool> RunAsync(ITrial trial, TrialRun run, TextWriter output, CancellationToken cancellation)
    {
        await output.WriteLineAsync(string.Create(CultureInfo.InvariantCulture, $"{trial.Name} --seed {run.Seed}{(run.IsShort ? " --short" : "")}: {trial.Describes}"));
        try
        {
            await trial.RunAsync(run, cancellation);
        }
        catch (Exception e) when (!cancellation.IsCancellationRequested)
        {
            // Whatever it is, it is told with the seed that brings it back.
            var told = e.ToString();
            run.Check(false, $"{(told.Length <= Told ? told : told[..(Told / 4)] + " [...] " + told[^(Told * 3 / 4)..])}");
        }

        var figures = string.Join(", ", run.Figures.Select(figure => $"{figure.Value} {figure.Name}"));
        await output.WriteLineAsync(string.Create(CultureInfo.InvariantCulture, $"| {trial.Name} | {figures} | {(run.Failures.Count == 0 ? "all checks held" : $"{run.Failures.Count} checks failed")} | seed {run.Seed}, {run.Elapsed.TotalMinutes:0.0} min |"));
        return run.Failures.Count == 0;
    }
}
