using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Forwarding.Points;

/// <summary>How line protocol writes a field.</summary>
public enum FieldType
{
    /// <summary>A double.</summary>
    Float,

    /// <summary>A whole number of 64 bits.</summary>
    Integer,

    /// <summary>A text.</summary>
    String,
}

/// <summary>A tag of a measurement.</summary>
/// <param name="Name">Its name.</param>
/// <param name="Meaning">What it is.</param>
/// <param name="Bound">What bounds the number of its values: each combination of tag values is a series that a server keeps for ever.</param>
/// <param name="AbsentWhen">When a point has none, as the end of a sentence: <c>never</c>, or <c>where ...</c>.</param>
public sealed record PointTag(string Name, string Meaning, string Bound, string AbsentWhen = "never");

/// <summary>A field of a measurement.</summary>
/// <param name="Name">Its name.</param>
/// <param name="Type">How it is written.</param>
/// <param name="Unit">Its unit; empty where there is none.</param>
/// <param name="Meaning">What it is.</param>
/// <param name="AbsentWhen">When a point has none, as the end of a sentence: <c>never</c>, or <c>where ...</c>.</param>
public sealed record PointField(string Name, FieldType Type, string Unit, string Meaning, string AbsentWhen = "never");

/// <summary>A measurement: the single place that names its tags and fields and says what they mean. Tests hold every line that is written to it.</summary>
/// <param name="Name">Its name.</param>
/// <param name="Choice">By which word a destination asks for it.</param>
/// <param name="Meaning">What a point is, a sentence or two.</param>
/// <param name="Time">What the time of a point is, as the end of a sentence.</param>
/// <param name="Tags">Its tags; site and gateway are among them.</param>
/// <param name="Fields">Its fields, in the order in which they are told.</param>
public sealed record PointTable(string Name, PointChoice Choice, string Meaning, string Time, IReadOnlyList<PointTag> Tags, IReadOnlyList<PointField> Fields);
