using Xunit;

namespace SawEdge.TestSupport;

/// <summary>As <see cref="PeerFactAttribute"/>, for a test with data.</summary>
[AttributeUsage(AttributeTargets.Method)]
public sealed class PeerTheoryAttribute : TheoryAttribute
{
    /// <summary>States what the test needs.</summary>
    /// <param name="needs">Program names, or absolute paths of files, for example <c>chromium</c>.</param>
    public PeerTheoryAttribute(params string[] needs) => Skip = new PeerFactAttribute(needs).Skip;
}
