using System.CommandLine;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Commands.FirstRun;

/// <summary>
/// <c>init [FILE]</c>: writes a commented configuration to begin with, from answers at the terminal or from options. What it writes passes <c>check</c>;
/// a file that is there is never written over. Exit codes: <see cref="ExitCodes"/>.
/// </summary>
public static class InitCommand
{
    private const string JobList = "job,material,section,part_length,standard\n";

    /// <summary>Builds the command.</summary>
    public static Command Create() => Create(ConfigurationFile.Environment(), TimeZoneInfo.Local, Console.IsInputRedirected ? null : AtTheTerminal);

    /// <summary>Builds the command.</summary>
    /// <param name="environment">Environment variables that lie over the configuration.</param>
    /// <param name="local">The machine's time zone.</param>
    /// <param name="ask">Asks a person a question and gives the answer; null where nobody can be asked.</param>
    internal static Command Create(IReadOnlyDictionary<string, string> environment, TimeZoneInfo local, Func<string, string?>? ask)
    {
        var file = new Argument<string>("file") { Description = "The file to write.", DefaultValueFactory = _ => ConfigurationFile.DefaultName };
        var questions = InitQuestions.All(local);
        var command = new Command("init", "Write a commented configuration to begin with. Asks for what no option tells; what it writes passes 'check'.") { file };
        foreach (var question in questions)
            command.Options.Add(question.Option);
        command.SetAction(arguments => Run(arguments, arguments.GetValue(file)!, questions, environment, ask));
        return command;
    }

    private static int Run(ParseResult arguments, string file, IReadOnlyList<InitQuestion> questions, IReadOnlyDictionary<string, string> environment, Func<string, string?>? ask)
    {
        var (output, error) = (arguments.InvocationConfiguration.Output, arguments.InvocationConfiguration.Error);
        try
        {
            if (File.Exists(file))
                throw new CommandException($"{file} is there already and stays as it is; name another file, or change it and run 'sawedge check {file}'.");
            var answers = InitQuestions.Answer(questions, arguments, ask);
            var wrong = Write(file, new InitTemplate(answers).Write(), environment);
            if (wrong.Count == 0)
            {
                output.WriteLine($"{file} is written and passes 'sawedge check'. Next:");
                foreach (var step in InitTemplate.NextSteps(answers, file))
                    output.WriteLine($"  {step}");
                return ExitCodes.Done;
            }

            foreach (var finding in wrong)
                error.WriteLine($"{finding.Path}: {finding.Message}");
            throw new CommandException($"{file} is not written.");
        }
        catch (CommandException e)
        {
            error.WriteLine(e.Message);
            return ExitCodes.WrongInput;
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            error.WriteLine($"{file} cannot be written: {e.Message}");
            return ExitCodes.Failed;
        }
    }

    // Read as the gateway would read it before it takes its name, so that no file is there that does not pass.
    private static List<Finding> Write(string file, string text, IReadOnlyDictionary<string, string> environment)
    {
        var full = Path.GetFullPath(file);
        var folder = Path.GetDirectoryName(full)!;
        var draft = Path.Combine(folder, $".{Path.GetFileName(full)}.{Guid.NewGuid():N}");
        var list = Path.Combine(folder, InitTemplate.JobsFile);
        var madeList = !File.Exists(list);
        try
        {
            if (madeList)
                File.WriteAllText(list, JobList);
            File.WriteAllText(draft, text);
            var wrong = ConfigurationFile.Load(draft, environment).Findings.Where(finding => finding.Severity == FindingSeverity.Error).ToList();
            if (wrong.Count == 0)
                File.Move(draft, full, overwrite: false);
            else if (madeList)
                File.Delete(list);
            return wrong;
        }
        finally
        {
            File.Delete(draft);
        }
    }

    private static string? AtTheTerminal(string question)
    {
        Console.Error.Write(question);
        return Console.ReadLine();
    }
}
