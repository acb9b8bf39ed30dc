using System.CommandLine;
using SawEdge.Gateway.Commands.Tokens;

namespace SawEdge.Page.Tests.Support;

/// <summary>Tokens of a plant, made and revoked by the command as its administrator would, beside the running gateway.</summary>
internal static class Tokens
{
    /// <summary>Makes one.</summary>
    public static Task<string> MakeAsync(RunningPlant plant, string name, string role) => RunAsync(plant, "make", name, "--role", role);

    /// <summary>Revokes one.</summary>
    public static Task RevokeAsync(RunningPlant plant, string name) => RunAsync(plant, "revoke", name);

    private static async Task<string> RunAsync(RunningPlant plant, params string[] arguments)
    {
        var (output, error) = (new StringWriter(), new StringWriter());
        var command = TokenCommand.Create(new Dictionary<string, string>(), plant.Clock);
        var code = await command.Parse([.. arguments, "--config", plant.Configuration]).InvokeAsync(new InvocationConfiguration { Output = output, Error = error });
        Assert.True(code == 0, error.ToString());
        return output.ToString().Trim();
    }
}
