namespace SawEdge.Gateway.Configuration;

/// <summary>Topics that carry the saw's name in place of <c>{saw}</c>.</summary>
public static class SawTopic
{
    /// <summary>What stands for the name of the saw.</summary>
    public const string Placeholder = "{saw}";

    /// <summary>The topic of one saw.</summary>
    /// <param name="stated">The topic as it was stated, or null.</param>
    /// <param name="saw">Name of the saw; null where it has a mistake.</param>
    public static string? Of(string? stated, string? saw) => stated?.Replace(Placeholder, saw, StringComparison.Ordinal);

    /// <summary>The topic as it was stated where it holds the placeholder, otherwise null.</summary>
    /// <param name="stated">The topic as it was stated, or null.</param>
    public static string? TemplateOf(string? stated) => stated is not null && stated.Contains(Placeholder, StringComparison.Ordinal) ? stated : null;

    /// <summary>The filter that receives the topics of all saws with the same template, or null: the name is no whole level.</summary>
    /// <param name="template">The topic as it was stated, or null where it holds no name.</param>
    public static string? FilterOf(string? template)
    {
        // MQTT 3.1.1 and 5.0, 4.7.1.3: + stands for one whole level.
        if (TemplateOf(template) is null)
            return null;
        var levels = template!.Split('/');
        return levels.All(level => level == Placeholder || !level.Contains(Placeholder, StringComparison.Ordinal))
            ? string.Join('/', levels.Select(level => level == Placeholder ? "+" : level))
            : null;
    }
}
