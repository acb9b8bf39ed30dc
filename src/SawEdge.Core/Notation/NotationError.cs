namespace SawEdge.Core.Notation;

/// <summary>What is wrong with a notation.</summary>
/// <param name="Position">Where, as a 0-based place in the text.</param>
/// <param name="Message">What is wrong and what would be right.</param>
public readonly record struct NotationError(int Position, string Message)
{
    /// <inheritdoc/>
    public override string ToString() => $"at character {Position + 1}: {Message}";
}
