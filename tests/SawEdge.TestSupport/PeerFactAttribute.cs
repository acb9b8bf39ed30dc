using Xunit;

namespace SawEdge.TestSupport;

/// <summary>
/// A test that needs programs from the distribution. Where one is missing the test is skipped by name with the
/// reason; with CI=true it runs and fails instead.
/// </summary>
[AttributeUsage(AttributeTargets.Method)]
public sealed class PeerFactAttribute : FactAttribute
{
    /// <summary>States what the test needs.</summary>
    /// <param name="needs">Program names, or absolute paths of files, for example <c>influxd</c>.</param>
    public PeerFactAttribute(params string[] needs)
    {
        Needs = needs;
        var missing = needs.Where(need => Peer.Find(need) is null).ToList();
        if (missing.Count > 0 && Environment.GetEnvironmentVariable("CI") != "true")
            Skip = $"needs {string.Join(", ", missing)}, which is not installed (tests/run.sh installs it where it can)";
    }

    /// <summary>What the test needs.</summary>
    public IReadOnlyList<string> Needs { get; }
}
