using System.CommandLine;
using System.Globalization;
using SawEdge.Core.Alarms;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Commands;

/// <summary>
/// <c>check [FILE]</c>: validates a configuration without running anything: no controller, broker or server is contacted.
/// Exit code 0: no errors (there may be warnings); 1: errors, or with <c>--strict</c> warnings; 2: the file cannot be read or is no JSON.
/// Each finding is one line, <c>file:line:column: error: setting: what is wrong and what would be right</c>. Of a good file it says what there
/// is, and which alarm rules hold.
/// </summary>
public static class CheckCommand
{
    /// <summary>Builds the command.</summary>
    public static Command Create()
    {
        var file = new Argument<string>("file") { Description = "The configuration file.", DefaultValueFactory = _ => ConfigurationFile.DefaultName };
        var strict = new Option<bool>("--strict") { Description = "Let warnings count as errors." };
        var command = new Command("check", "Validate a configuration without running. Ends with 0: no errors; 1: errors; 2: the file cannot be read.") { file, strict };
        command.SetAction(arguments => Run(arguments.GetValue(file)!, ConfigurationFile.Environment(), arguments.GetValue(strict), arguments.InvocationConfiguration.Output));
        return command;
    }

    /// <summary>Validates and prints.</summary>
    /// <param name="path">The configuration file.</param>
    /// <param name="environment">Environment variables.</param>
    /// <param name="strict">Whether warnings count as errors.</param>
    /// <param name="output">Where to print.</param>
    /// <returns>The exit code.</returns>
    public static int Run(string path, IReadOnlyDictionary<string, string> environment, bool strict, TextWriter output)
    {
        var loaded = ConfigurationFile.Load(path, environment);
        var findings = loaded.Options is null ? loaded.Findings : [.. loaded.Findings, .. FolderChecks.Run(loaded.Options)];
        foreach (var finding in findings)
            output.WriteLine(Line(path, finding));

        var errors = findings.Count(finding => finding.Severity == FindingSeverity.Error);
        var warnings = findings.Count - errors;
        output.WriteLine(errors == 0 && loaded.Options is { } options
            ? $"{path} is good: {Summary(options)}{(warnings > 0 ? $"; {Count(warnings, "warning")}" : "")}"
            : $"{path}: {Count(errors, "error")}{(warnings > 0 ? $", {Count(warnings, "warning")}" : "")}");
        if (errors == 0 && loaded.Options is { Alarms.Rules: { Count: > 0 } rules })
            WriteRules(rules, output);
        if (!loaded.IsReadable)
            return 2;
        return errors > 0 || (strict && warnings > 0) ? 1 : 0;
    }

    /// <summary>A finding as one line.</summary>
    /// <param name="path">The configuration file.</param>
    /// <param name="finding">The finding.</param>
    internal static string Line(string path, Finding finding)
    {
        var source = finding.Variable is not null ? $"environment variable {finding.Variable}"
            : finding.Line is { } line ? string.Create(CultureInfo.InvariantCulture, $"{path}:{line}:{finding.Column}")
            : path;
        var setting = finding.Path.Length > 0 ? $"{finding.Path}: " : "";
        return $"{source}: {(finding.Severity == FindingSeverity.Error ? "error" : "warning")}: {setting}{finding.Message}";
    }

    private static string Summary(GatewayOptions options) =>
        $"{Count(options.Saws.Count, "saw")}, {Count(options.ModbusDevices.Count, "Modbus device")}, {Count(options.MqttBrokers.Count, "MQTT broker")}, {Count(options.Influx.Count, "InfluxDB destination")}, {Count(options.Alarms.Rules.Count, "alarm rule")}, {Count(options.Alarms.Contacts.Count, "contact")}, {Count(options.Alarms.Channels.Count, "channel")}";

    private static void WriteRules(IReadOnlyList<AlarmRule> rules, TextWriter output)
    {
        foreach (var (whose, names) in new[] { ("program", Names(rules, own: true)), ("plant", Names(rules, own: false)) }.Where(part => part.Item2.Count > 0))
            output.WriteLine($"  alarm rules of the {whose}: {string.Join(", ", names)}");
    }

    private static List<string> Names(IReadOnlyList<AlarmRule> rules, bool own) =>
        [.. rules.Where(rule => DefaultRules.All.Contains(rule) == own).Select(rule => rule.Name)];

    private static string Count(int count, string what) => string.Create(CultureInfo.InvariantCulture, $"{count} {what}{(count == 1 ? "" : "s")}");
}
