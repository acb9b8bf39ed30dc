using SawEdge.Core.Load;

namespace SawEdge.Core.Alarms;

/// <summary>What a rule reads from a finished cut. NaN and null: not known, the cut does not count.</summary>
/// <param name="Number">The number or flag; null for texts.</param>
/// <param name="Text">The text; null for numbers.</param>
internal sealed record CutReading(Func<CycleRecord, LoadAssessment?, double>? Number, Func<CycleRecord, string?>? Text)
{
    /// <summary>How a variable is read.</summary>
    /// <exception cref="ArgumentException">It is none of a cycle or a blade.</exception>
    public static CutReading Of(AlarmVariable variable) => (variable.Topic, variable.Name) switch
    {
        (AlarmTopic.Cycle, AlarmVariables.Unusual) => OfNumber((_, assessment) => assessment?.Score is null ? double.NaN : assessment.IsUnusual ? 1 : 0),

        // No likely cause is known to be none where there is a score.
        (AlarmTopic.Cycle, "likely_cause") => new CutReading(null, record => record.LikelyCause.Length > 0 || record.LoadScore is not null ? record.LikelyCause : null),
        (AlarmTopic.Cycle, _) => OfColumn(variable),
        (AlarmTopic.Blade, "due") => OfNumber((_, assessment) => assessment?.Wear is not { } wear ? double.NaN : wear.IsDue ? 1 : 0),
        (AlarmTopic.Blade, "rise") => OfNumber((_, assessment) => assessment?.Wear?.Rise ?? double.NaN),
        (AlarmTopic.Blade, "area") => OfNumber((record, assessment) => record.BladeAreaM2 ?? assessment?.Wear?.AreaM2 ?? double.NaN),

        // A blade that does not wear lasts for ever, as far as anyone can tell.
        (AlarmTopic.Blade, "area_left") => OfNumber((_, assessment) => assessment?.Wear is not { } wear ? double.NaN : wear.AreaLeftM2 ?? double.PositiveInfinity),
        (AlarmTopic.Blade, "cuts_left") => OfNumber((_, assessment) => assessment?.Wear is not { } wear ? double.NaN : wear.AreaLeftM2 is null ? double.PositiveInfinity : wear.CutsLeft ?? double.NaN),
        _ => throw new ArgumentException($"'{variable.Name}' of topic {variable.Topic.ToName()} is nothing that a finished cut tells.", nameof(variable)),
    };

    private static CutReading OfNumber(Func<CycleRecord, LoadAssessment?, double> read) => new(read, null);

    private static CutReading OfColumn(AlarmVariable variable)
    {
        var column = CycleColumns.All.FirstOrDefault(column => column.Name == variable.Name) ?? throw new ArgumentException($"There is no column '{variable.Name}'.", nameof(variable));
        if (variable.Kind == AlarmValueKind.Text)
            return new CutReading(null, record => column.Get(record) is string { Length: > 0 } text ? text : null);
        return OfNumber((record, _) => column.Get(record) switch
        {
            double number => number,
            long whole => whole,
            _ => double.NaN,
        });
    }
}
