namespace SawEdge.Core.Cutting;

/// <summary>All that learned times must not forget over a restart; plain values that any serialiser can store.</summary>
/// <param name="Kinds">The kinds of cut.</param>
/// <param name="Jobs">The jobs that are learned by their number, the latest last; bounded.</param>
public sealed record LearnedState(IReadOnlyList<LearnedKind> Kinds, IReadOnlyList<LearnedJob> Jobs);

/// <summary>What was learned of one kind of cut.</summary>
/// <param name="Key">The kind.</param>
/// <param name="Cuts">How many cuts it stands on.</param>
/// <param name="MeanLog">Mean of ln(cut time / standard time).</param>
/// <param name="Squares">Sum of squared deviations from the mean.</param>
public sealed record LearnedKind(LearnedKey Key, double Cuts, double MeanLog, double Squares);

/// <summary>What was learned of one job without a standard.</summary>
/// <param name="Saw">Name of the saw.</param>
/// <param name="Job">The job's identifier.</param>
/// <param name="Cuts">How many cuts it stands on.</param>
/// <param name="MeanLog">Mean of ln(cut time in s).</param>
/// <param name="Squares">Sum of squared deviations from the mean.</param>
public sealed record LearnedJob(string Saw, string Job, double Cuts, double MeanLog, double Squares);
