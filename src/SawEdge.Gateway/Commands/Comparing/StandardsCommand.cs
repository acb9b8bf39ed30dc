using System.CommandLine;
using SawEdge.Core.Comparison;
using SawEdge.Gateway.Commands.Reports;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Commands.Comparing;

/// <summary><c>standards</c>: what the history says about the standards, and what the catalogue should say. Works beside a running gateway. Exit codes: <see cref="ExitCodes"/>.</summary>
public static class StandardsCommand
{
    /// <summary>Builds the command.</summary>
    public static Command Create() => Create(ConfigurationFile.Environment(), TimeProvider.System);

    /// <summary>Builds the command.</summary>
    /// <param name="environment">Environment variables that lie over the configuration.</param>
    /// <param name="time">Clock and time zone.</param>
    internal static Command Create(IReadOnlyDictionary<string, string> environment, TimeProvider time)
    {
        var (folder, choice) = (new DataFolderOptions(), new CutChoiceOptions());
        var json = new Option<bool>("--json") { Description = "Print JSON." };
        var write = new Option<string?>("--write") { Description = "Write the catalogue file as it would be with the proposed rates, under a new name. Nothing in force is changed.", HelpName = "FILE" };
        var diff = new Option<bool>("--diff") { Description = "Print only what would differ in the catalogue file, as diff -u does." };
        var command = new Command("standards", "Hold the cuts of the history against their standards, kind by kind, and propose rates for the catalogue.");
        choice.AddTo(command);
        command.Options.Add(json);
        command.Options.Add(write);
        command.Options.Add(diff);
        folder.AddTo(command, units: true);
        command.SetAction((arguments, cancellation) => DataFolderOptions.RunAsync(
            arguments.InvocationConfiguration.Error,
            async () =>
            {
                var (named, console) = (folder.Read(arguments, environment), arguments.InvocationConfiguration);
                var proposal = new RateProposal(named);
                var (file, isDiff) = (arguments.GetValue(write), arguments.GetValue(diff));
                if (isDiff && arguments.GetValue(json))
                    throw new CommandException("--diff and --json are two forms of output; choose one.");
                if (file is not null)
                    proposal.CheckIsNew(file);
                if (file is not null || isDiff)
                    proposal.Present();
                var moments = new MomentText(named.At(time));
                var result = await ReadAsync(named, arguments, choice, moments, cancellation);
                if (isDiff)
                    await console.Output.WriteAsync(result.Changes.Count > 0 ? proposal.Diff(result.Changes) : "");
                else if (arguments.GetValue(json))
                    await console.Output.WriteLineAsync(ComparingJson.Write(result));
                else
                    new StandardsText(new TextPage(console.Output), moments, folder.Units(arguments)).Write(result);
                if (file is not null && result.Changes.Count > 0)
                    proposal.Write(file, result.Changes);
                if (Said(file, isDiff, result.Changes.Count, named) is { } said)
                    await console.Error.WriteLineAsync(said);
                return ExitCodes.Done;
            },
            cancellation));
        return command;
    }

    private static async Task<StandardsResult> ReadAsync(NamedFolder named, ParseResult arguments, CutChoiceOptions options, MomentText moments, CancellationToken cancellation)
    {
        var least = options.Least(arguments);
        var reader = named.Open();
        var cuts = new CutTimeReader(named, reader, await options.ReadAsync(arguments, named, reader, moments, cancellation));
        var review = new StandardsReview();
        await foreach (var cut in cuts.ReadAsync(cancellation))
            review.Take(cut.Kind, cut.Run, cut.LogRatio);
        var tally = cuts.Tally;
        if (tally.Taken == 0)
            throw new CommandException(Nothing(tally));
        var (kinds, materials) = review.Close(least);
        return new StandardsResult(kinds, materials, new RateProposal(named).Of(materials, tally), tally, least, named.Options is not null);
    }

    private static string Nothing(CutTally tally) => tally switch
    {
        { LeftOut.Length: 0 } => "There is no such cut in the history.",
        { WithoutStandard: > 0 } => $"No cut can be held against a standard: {tally.LeftOut}. Standards come with the job list: name it in the configuration (jobsFile), with the jobs as the controllers report them.",
        _ => $"No cut can be held against a standard: {tally.LeftOut}.",
    };

    private static string? Said(string? file, bool isDiff, int changes, NamedFolder named) => (file, changes) switch
    {
        (null, 0) when isDiff => "No other rate is proposed.",
        (null, _) => null,
        (_, 0) => "No other rate is proposed, so nothing was written.",
        _ when named.Options?.CatalogueFile is { } inForce => $"Written to {file}. The catalogue in force, {inForce}, is as it was: compare the two, then put the new one in its place and start the gateway anew.",
        _ => $"Written to {file}. To put it in force, name it in {named.ConfigFile} as \"catalogueFile\" and start the gateway anew.",
    };
}
