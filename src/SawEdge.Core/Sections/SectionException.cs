namespace SawEdge.Core.Sections;

/// <summary>Sizes that make no section; the message says which one and what would be right, as the end of a sentence.</summary>
public sealed class SectionException(string message) : Exception(message);
