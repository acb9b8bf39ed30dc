using System.CommandLine;
using System.Text.Json;
using SawEdge.Gateway.Commands.Estimate;

namespace SawEdge.Gateway.Tests.Commands.Estimate;

/// <summary>Runs the command as a shell would.</summary>
internal static class Estimated
{
    /// <summary>Runs it and takes everything it says.</summary>
    public static (int Code, string[] Output, string[] Error) Run(params string[] arguments)
    {
        using var output = new StringWriter();
        using var error = new StringWriter();
        var root = new RootCommand { EstimateCommand.Create(new Dictionary<string, string>()) };
        var code = root.Parse(["estimate", .. arguments]).Invoke(new InvocationConfiguration { Output = output, Error = error });
        return (code, Lines(output), Lines(error));
    }

    /// <summary>Runs it for a question that must be answered, in JSON.</summary>
    public static JsonElement Json(params string[] arguments)
    {
        var (code, output, error) = Run([.. arguments, "--format", "json"]);
        Assert.Empty(error);
        Assert.Equal(0, code);
        return JsonDocument.Parse(string.Join('\n', output)).RootElement;
    }

    /// <summary>Runs it for a question that must be refused, and takes the lines that say why.</summary>
    public static string[] Refused(params string[] arguments)
    {
        var (code, output, error) = Run(arguments);
        Assert.Equal(1, code);
        Assert.Empty(output);
        return error;
    }

    /// <summary>A number of the answer.</summary>
    public static double Number(this JsonElement answer, string item, string figure) => answer.GetProperty(item).GetProperty(figure).GetDouble();

    /// <summary>The factors of an item.</summary>
    public static IReadOnlyList<JsonElement> Factors(this JsonElement answer, string item) => [.. answer.GetProperty(item).GetProperty("factors").EnumerateArray()];

    /// <summary>A factor of an item.</summary>
    public static double Factor(this JsonElement answer, string item, string name) =>
        answer.Factors(item).Single(f => f.GetProperty("name").GetString() == name).GetProperty("value").GetDouble();

    private static string[] Lines(StringWriter writer) => writer.ToString().Split(Environment.NewLine, StringSplitOptions.RemoveEmptyEntries);
}
