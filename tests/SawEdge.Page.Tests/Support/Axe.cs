using System.Text.Json;
using Deque.AxeCore.Commons;

namespace SawEdge.Page.Tests.Support;

/// <summary>axe-core, as it is inside the package Deque.AxeCore.Commons: nothing is fetched when tests run.</summary>
internal static class Axe
{
    /// <summary>Its script.</summary>
    public static string Script { get; } = new BundledAxeScriptProvider().GetScript();

    /// <summary>The rules of WCAG 2.2, levels A and AA; in axe-core those of the earlier versions are tagged with their own.</summary>
    public static IReadOnlyList<string> Tags { get; } = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"];

    /// <summary>What is wrong, for people.</summary>
    public static string Words(JsonElement violation)
    {
        var nodes = violation.GetProperty("nodes").EnumerateArray().ToList();
        var where = nodes.Take(4).Select(node => $"    {node.GetProperty("target")[0]} : {OneLine(node.GetProperty("failureSummary").GetString()!)}");
        return $"{violation.GetProperty("id").GetString()} ({violation.GetProperty("impact").GetString()}): {violation.GetProperty("help").GetString()}, {nodes.Count} times\n{string.Join('\n', where)}";
    }

    private static string OneLine(string text) => string.Join(' ', text.Split('\n', StringSplitOptions.TrimEntries | StringSplitOptions.RemoveEmptyEntries));
}
