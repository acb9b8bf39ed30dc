using System.CommandLine;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Commands;

/// <summary>
/// <c>schema [--for editors|people] [--out FILE]</c>: writes the JSON Schema of the configuration file, or its reference in Markdown, to standard output or a file.
/// Exit code 0; 2 where the file cannot be written.
/// </summary>
public static class SchemaCommand
{
    /// <summary>Builds the command.</summary>
    public static Command Create()
    {
        var output = new Option<string?>("--out", "-o") { Description = "File to write to; standard output where left out.", HelpName = "file" };
        var reader = new Option<string>("--for") { Description = "For editors: JSON Schema. For people: the reference in Markdown.", DefaultValueFactory = _ => "editors", HelpName = "editors|people" };
        reader.AcceptOnlyFromAmong("editors", "people");
        var command = new Command("schema", "Write what the configuration file may hold: for editors as JSON Schema, for people as a reference.") { reader, output };
        command.SetAction(arguments =>
        {
            var path = arguments.GetValue(output);
            var text = arguments.GetValue(reader) == "people" ? ConfigurationReference.Write() : ConfigurationSchema.Write();
            if (path is null)
            {
                arguments.InvocationConfiguration.Output.Write(text);
                return 0;
            }

            try
            {
                File.WriteAllText(path, text);
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
