using SawEdge.Fuzz.Targets;

namespace SawEdge.Fuzz;

/// <summary>
/// Gives the readers of hostile bytes millions of inputs that are led by the code they reach:
/// <c>dotnet run -c Release --project tests/SawEdge.Fuzz -- all --inputs 1000000</c>.
/// </summary>
internal static class Program
{
    public static async Task<int> Main(string[] words)
    {
        CoverageMap.Prepare();
        FuzzArguments arguments;
        try
        {
            arguments = FuzzArguments.Parse(words);
        }
        catch (FormatException e)
        {
            await Console.Error.WriteLineAsync(e.Message);
            return 2;
        }

        var targets = FuzzTargets.All().Where(target => arguments.Target == "all" || target.Name == arguments.Target).ToList();
        if (targets.Count == 0)
        {
            await Console.Error.WriteLineAsync($"'{arguments.Target}' is no target; there are {string.Join(", ", FuzzTargets.All().Select(target => target.Name))} and all.");
            return 2;
        }

        if (arguments.Input is not null)
        {
            foreach (var target in targets)
                target.Run(await File.ReadAllBytesAsync(arguments.Input));
            Console.WriteLine("nothing went wrong");
            return 0;
        }

        if (Environment.GetEnvironmentVariable(Instrumentation.Mark) is null)
            return await Instrumentation.RunCopyAsync(words);
        return targets.Sum(target => new FuzzRun(target, arguments).Run()) == 0 ? 0 : 1;
    }
}
