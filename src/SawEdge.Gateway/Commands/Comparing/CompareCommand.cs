using System.CommandLine;
using SawEdge.Core.Comparison;
using SawEdge.Core.Oee;
using SawEdge.Gateway.Commands.Reports;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Configuration.Reading;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Commands.Comparing;

/// <summary><c>compare periods | blades | saws A B</c>: which of two cut faster, like with like. Works beside a running gateway. Exit codes: <see cref="ExitCodes"/>.</summary>
public static class CompareCommand
{
    /// <summary>Builds the command.</summary>
    public static Command Create() => Create(ConfigurationFile.Environment(), TimeProvider.System);

    /// <summary>Builds the command.</summary>
    /// <param name="environment">Environment variables that lie over the configuration.</param>
    /// <param name="time">Clock and time zone.</param>
    internal static Command Create(IReadOnlyDictionary<string, string> environment, TimeProvider time) =>
        new("compare", "Compare how fast was cut in two periods, with two blades or types of blades, or on two saws: like with like, with an interval, in a plain sentence.")
        {
            Build("periods", $"The second period against the first, each {MomentText.PeriodForms}.", environment, time, (_, first, second, moments) => PeriodSides.Read(first, second, moments)),
            Build("blades", "The second blade against the first, each by its name or by its type, for example \"bimetal 3/4 tpi\".", environment, time, (_, first, second, _) => new BladeSides(first, second)),
            Build("saws", "The second saw against the first.", environment, time, (_, first, second, _) => new SawSides(first, second)),
        };

    private static Command Build(string name, string description, IReadOnlyDictionary<string, string> environment, TimeProvider time, Func<NamedFolder, string, string, MomentText, CompareSides> sides)
    {
        var (folder, choice) = (new DataFolderOptions(), new CutChoiceOptions());
        var first = new Argument<string>("first") { Description = "What it is compared with." };
        var second = new Argument<string>("second") { Description = "What the answer is about." };
        var json = new Option<bool>("--json") { Description = "Print JSON." };
        var command = new Command(name, description) { first, second };
        choice.AddTo(command, period: name != "periods", saw: name != "saws", blade: name != "blades");
        command.Options.Add(json);
        folder.AddTo(command, units: false);
        command.SetAction((arguments, cancellation) => DataFolderOptions.RunAsync(
            arguments.InvocationConfiguration.Error,
            async () =>
            {
                var (named, console) = (folder.Read(arguments, environment), arguments.InvocationConfiguration);
                var moments = new MomentText(named.At(time));
                var (a, b) = (arguments.GetRequiredValue(first), arguments.GetRequiredValue(second));
                if (string.Equals(a, b, StringComparison.OrdinalIgnoreCase))
                    throw new CommandException($"{Words.Quoted(a)} cannot be compared with itself; name two different {name}.");
                var of = sides(named, a, b, moments);
                var least = choice.Least(arguments);
                var reader = named.Open();
                await of.CheckAsync(named, reader, cancellation);
                var result = await RunAsync(named, reader, of, of.Within(await choice.ReadAsync(arguments, named, reader, moments, cancellation)) with { Fits = cut => of.SideOf(cut) is not null }, least, cancellation);
                if (arguments.GetValue(json))
                    await console.Output.WriteLineAsync(ComparingJson.Write(result));
                else
                    new CompareText(new TextPage(console.Output), moments).Write(result);
                return ExitCodes.Done;
            },
            cancellation));
        return command;
    }

    private static async Task<CompareResult> RunAsync(NamedFolder named, HistoryReader reader, CompareSides sides, CutChoice choice, int least, CancellationToken cancellation)
    {
        var cuts = new CutTimeReader(named, reader, choice);
        var comparison = new CutComparison(sides.IsByBlade);
        var blades = new Dictionary<(string Saw, string Blade), int>();
        var (seenFirst, seenSecond) = (false, false);
        await foreach (var cut in cuts.ReadAsync(cancellation))
        {
            if (sides.SideOf(cut) is not { } isSecond)
                continue;
            seenFirst |= !isSecond;
            seenSecond |= isSecond;
            // A blade that is not known may be another in each run; numbers of runs and of blades must not meet.
            var blade = cut.Blade.Length == 0 ? -1 - cut.Run : blades.TryGetValue((cut.Kind.Saw, cut.Blade), out var known) ? known : blades[(cut.Kind.Saw, cut.Blade)] = blades.Count;
            comparison.Take(sides.KindOf(cut), isSecond, cut.Run, blade, cut.LogRatio);
        }

        if (!seenFirst || !seenSecond)
            throw sides.Missing(seenFirst, cuts);
        return new CompareResult(sides.First, sides.Second, comparison.Close(least), cuts.Tally, least, named.Options is not null, sides.IsByBlade);
    }
}
