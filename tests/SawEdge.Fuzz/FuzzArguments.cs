using System.Globalization;

namespace SawEdge.Fuzz;

/// <summary>What was asked for on the command line.</summary>
internal sealed record FuzzArguments
{
    public const string Usage = "usage: <target|all> [--inputs N] [--seconds S] [--corpus FOLDER] [--findings FOLDER] [--seed N] [--input FILE]";

    public required string Target { get; init; }

    /// <summary>Inputs for each target.</summary>
    public long Inputs { get; init; } = 100_000;

    /// <summary>Longest time for each target, s.</summary>
    public double Seconds { get; init; } = double.PositiveInfinity;

    /// <summary>Folder with a folder of inputs for each target: they are the beginning, and what reaches all that was reached is left there.</summary>
    public string? Corpus { get; init; }

    /// <summary>Where inputs go that went wrong.</summary>
    public string Findings { get; init; } = Path.Combine(Path.GetTempPath(), "sawedge-fuzz-findings");

    public int Seed { get; init; } = 1;

    /// <summary>One input to be tried alone, without instrumentation.</summary>
    public string? Input { get; init; }

    /// <summary>Reads the command line.</summary>
    /// <exception cref="FormatException">It cannot be read.</exception>
    public static FuzzArguments Parse(string[] words)
    {
        if (words.Length == 0 || words.Length % 2 == 0)
            throw new FormatException(Usage);
        var arguments = new FuzzArguments { Target = words[0] };
        for (var i = 1; i < words.Length; i += 2)
        {
            var value = words[i + 1];
            arguments = words[i] switch
            {
                "--inputs" => arguments with { Inputs = long.Parse(value, CultureInfo.InvariantCulture) },
                "--seconds" => arguments with { Seconds = double.Parse(value, CultureInfo.InvariantCulture) },
                "--corpus" => arguments with { Corpus = Path.GetFullPath(value) },
                "--findings" => arguments with { Findings = Path.GetFullPath(value) },
                "--seed" => arguments with { Seed = int.Parse(value, CultureInfo.InvariantCulture) },
                "--input" => arguments with { Input = Path.GetFullPath(value) },
                _ => throw new FormatException($"{words[i]} is no option; {Usage}"),
            };
        }

        return arguments;
    }
}
