namespace SawEdge.Gateway.Configuration.Reading;

/// <summary>Collects findings while the configuration is read.</summary>
internal sealed class Findings
{
    private readonly List<Finding> _all = [];

    /// <summary>Paths of secrets that stand in the configuration file itself.</summary>
    public List<string> InlineSecrets { get; } = [];

    /// <summary>Files that hold a secret, full paths, whether they could be read or not.</summary>
    public List<string> SecretFiles { get; } = [];

    /// <summary>Errors so far.</summary>
    public int ErrorCount { get; private set; }

    public void Error(string path, string message) => Add(new Finding(FindingSeverity.Error, path, message));

    public void Warning(string path, string message) => Add(new Finding(FindingSeverity.Warning, path, message));

    public void Add(Finding finding)
    {
        _all.Add(finding);
        if (finding.Severity == FindingSeverity.Error)
            ErrorCount++;
    }

    /// <summary>All findings with their places, from the top of the file to its end, then those of the environment.</summary>
    /// <param name="root">The source, or null where there is none.</param>
    public IReadOnlyList<Finding> InOrder(SourceNode? root) =>
        [.. _all.Select(finding => Placed(finding, root)).OrderBy(finding => finding.Variable is not null).ThenBy(finding => finding.Line ?? 0).ThenBy(finding => finding.Column ?? 0)];

    private static Finding Placed(Finding finding, SourceNode? root)
    {
        if (finding.Line is not null || finding.Variable is not null || finding.Path.Length == 0 || root is null)
            return finding;
        var place = root.PlaceOf(finding.Path);
        return finding with { Line = place.Line, Column = place.Column, Variable = place.Variable };
    }
}
