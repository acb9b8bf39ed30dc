using SawEdge.Evaluation;
using SawEdge.Evaluation.Datasets;
using SawEdge.Evaluation.Population;

const string Usage =
    """
    usage: dotnet run -c Release --project tests/SawEdge.Evaluation -- VERB
      judge [OPTIONS]        the table of the load score on the judging set of seeds
      tune [OPTIONS]         the same on the tuning set
      datasets [FOLDER]      the wear measure on real recordings with measured wear; skipped where they are not there
    options:
      --seeds N              seeds of the set (24)
      --saws M,F,L           saws of a seed without faults, with faults, for blade lives (2,4,1); 0 leaves that part out
      --format FORMAT        table, markdown or json
      --dump FOLDER          one CSV file a saw, one row a record, with truth and all numbers of the load score
      --parallel N           saws played at the same time (the number of processors); the output does not depend on it
    """;

try
{
    switch (args.FirstOrDefault())
    {
        case "judge":
            Evaluation.Run(EvaluationOptions.Parse(SeedSet.Judging, args[1..]), Console.Out, Console.Error);
            return 0;
        case "tune":
            Evaluation.Run(EvaluationOptions.Parse(SeedSet.Tuning, args[1..]), Console.Out, Console.Error);
            return 0;
        case "datasets":
            return RealRecordings.Run(args.ElementAtOrDefault(1), Console.Out);
        default:
            Console.Error.WriteLine(Usage);
            return 2;
    }
}
catch (ArgumentException wrong)
{
    Console.Error.WriteLine(wrong.Message);
    return 2;
}
