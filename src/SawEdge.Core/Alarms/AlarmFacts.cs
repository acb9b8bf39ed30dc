namespace SawEdge.Core.Alarms;

/// <summary>The names that the texts of alarms can use.</summary>
public static class AlarmFacts
{
    /// <summary>Names that every text can use: <c>rule</c>, <c>subject</c>, <c>saw</c> (where it is one), <c>value</c>, <c>limit</c>, <c>severity</c>.</summary>
    public static IReadOnlyList<string> Common { get; } = ["rule", "subject", "saw", "value", "limit", "severity"];

    /// <summary>
    /// All names that the text of a rule on a variable can use: the common ones; of a signal rule all signals; of a finding
    /// <c>finding</c> (what was seen, a sentence) and <c>job</c>; of a cycle rule all columns of the record and <c>evidence</c>, <c>cause</c>,
    /// <c>threshold</c>; of a blade rule <c>blade</c>, <c>rise</c>, <c>area</c>, <c>area_left</c>, <c>area_left_low</c>, <c>cuts_left</c>, <c>job</c>; of an OEE
    /// rule all OEE variables and <c>period</c>; of a communication rule <c>signals</c> (those that are missing), <c>saws</c> (those concerned).
    /// </summary>
    public static IReadOnlyList<string> NamesFor(AlarmVariable variable) => throw new NotImplementedException();
}
