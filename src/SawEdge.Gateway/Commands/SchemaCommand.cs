using System.CommandLine;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Commands;

/// <summary>
/// <c>schema [--out FILE]</c>: writes the JSON Schema of the configuration file, to standard output or a file.
/// Exit code 0; 2 where the file cannot be written.
/// </summary>
public static class SchemaCommand
{
    /// <summary>Builds the command.</summary>
    public static Command Create()
    {
        var output = new Option<string?>("--out", "-o") { Description = "File to write to; standard output where left out.", HelpName = "file" };
        var command = new Command("schema", "Write the JSON Schema of the configuration file, for editors.") { output };
        command.SetAction(arguments =>
        {
            var path = arguments.GetValue(output);
            if (path is null)
            {
                arguments.InvocationConfiguration.Output.Write(ConfigurationSchema.Write());
                return 0;
            }

            try
            {
                File.WriteAllText(path, ConfigurationSchema.Write());
                return 0;
            }
            catch (Exception e) when (e is IOException or UnauthorizedAccessException)
            {
                arguments.InvocationConfiguration.Error.WriteLine($"{path} cannot be written: {e.Message}");
                return 2;
            }
        });
        return command;
    }
}
