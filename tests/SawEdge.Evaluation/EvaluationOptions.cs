using System.Globalization;
using SawEdge.Evaluation.Population;
using SawEdge.Evaluation.Reports;

namespace SawEdge.Evaluation;

/// <summary>What is evaluated, and how it is written.</summary>
internal sealed record EvaluationOptions
{
    public required SeedSet Set { get; init; }

    /// <summary>Seeds of the set that are used, from the first on.</summary>
    public int Seeds { get; init; } = 24;

    /// <summary>Saws of a seed without faults.</summary>
    public int MonthsSaws { get; init; } = 2;

    /// <summary>Saws of a seed with faults.</summary>
    public int FaultsSaws { get; init; } = 4;

    /// <summary>Saws of a seed whose blades are run to their end.</summary>
    public int LivesSaws { get; init; } = 1;

    public TableFormat Format { get; init; }

    /// <summary>Folder for one CSV row a cut; null: none.</summary>
    public string? Dump { get; init; }

    /// <summary>Saws that are played at the same time; the output does not depend on it.</summary>
    public int Parallel { get; init; } = Environment.ProcessorCount;

    /// <summary>Reads the words after the verb.</summary>
    /// <exception cref="ArgumentException">A word cannot be; the message says what would be right.</exception>
    public static EvaluationOptions Parse(SeedSet set, IReadOnlyList<string> words)
    {
        var options = new EvaluationOptions { Set = set };
        for (var i = 0; i < words.Count; i++)
        {
            var value = i + 1 < words.Count ? words[i + 1] : "";
            switch (words[i])
            {
                case "--seeds":
                    options = options with { Seeds = Whole(words[i], value, 1, SeedSet.Most) };
                    break;
                case "--saws":
                    var parts = value.Split(',');
                    if (parts.Length != 3)
                        throw new ArgumentException($"--saws {value}: write three numbers, the saws of a seed without faults, with faults and for blade lives, for example --saws 2,4,1.");
                    options = options with { MonthsSaws = Whole(words[i], parts[0], 0, 1000), FaultsSaws = Whole(words[i], parts[1], 0, 1000), LivesSaws = Whole(words[i], parts[2], 0, 1000) };
                    break;
                case "--format":
                    if (!Enum.TryParse<TableFormat>(value, ignoreCase: true, out var format) || !Enum.IsDefined(format))
                        throw new ArgumentException($"--format {value}: it must be table, markdown or json.");
                    options = options with { Format = format };
                    break;
                case "--dump":
                    if (value.Length == 0)
                        throw new ArgumentException("--dump needs a folder.");
                    options = options with { Dump = value };
                    break;
                case "--parallel":
                    options = options with { Parallel = Whole(words[i], value, 1, 256) };
                    break;
                default:
                    throw new ArgumentException($"'{words[i]}' is not known; there are --seeds, --saws, --format, --dump and --parallel.");
            }

            i++;
        }

        return options;
    }

    private static int Whole(string word, string text, int least, int most) =>
        int.TryParse(text, NumberStyles.None, CultureInfo.InvariantCulture, out var value) && value >= least && value <= most
            ? value
            : throw new ArgumentException($"{word} {text}: it must be a whole number from {least} to {most}.");
}
