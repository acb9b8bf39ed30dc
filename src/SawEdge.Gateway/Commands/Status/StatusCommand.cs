using System.CommandLine;
using SawEdge.Gateway.Commands.Alarms;
using SawEdge.Gateway.Commands.Reports;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Commands.Status;

/// <summary>
/// <c>status</c>: whether all is well and what is not, in one screen. It looks into the data folder and asks nobody, so it works without the web
/// server and says something of a gateway that hangs. Exit codes: 0 all is well, 2 something is not, 1 there is nothing to look at.
/// </summary>
public static class StatusCommand
{
    /// <summary>Builds the command.</summary>
    public static Command Create() => Create(ConfigurationFile.Environment(), TimeProvider.System);

    /// <summary>Builds the command.</summary>
    /// <param name="environment">Environment variables that lie over the configuration.</param>
    /// <param name="time">Clock and time zone.</param>
    internal static Command Create(IReadOnlyDictionary<string, string> environment, TimeProvider time)
    {
        var folder = new DataFolderOptions();
        var gateway = new Option<bool>("--gateway") { Description = "Only whether the gateway itself does its work, whatever its saws and servers do; one line. For a container's health check." };
        var form = new Option<string>("--format") { Description = "How to print: for people or for programs.", DefaultValueFactory = _ => "text" };
        form.AcceptOnlyFromAmong("text", "json");
        return AlarmCommand.Build("status", "Whether all is well and what is not: the gateway, its saws, its history, its destinations. Ends with 0 where all is well, 2 where something is not.", folder, units: false, [gateway, form], async (arguments, cancellation) =>
        {
            var (named, mistake) = folder.ReadAnyway(arguments, environment);
            var standing = await GatewayStanding.ReadAsync(named, time, cancellation) with { Mistake = mistake };
            var output = arguments.InvocationConfiguration.Output;
            var only = arguments.GetValue(gateway);
            if (arguments.GetValue(form) == "json")
                await output.WriteLineAsync(Json(standing));
            else if (only)
                await output.WriteLineAsync(standing.GatewayTrouble ?? (standing.IsStarting ? "The gateway is starting." : "The gateway does its work."));
            else
                StatusText.Write(new TextPage(output), standing, new MomentText(named.At(time)));
            return (only ? standing.GatewayTrouble is null : standing.IsWell) ? ExitCodes.Done : ExitCodes.Failed;
        });
    }

    /// <summary>How a gateway is, for programs.</summary>
    internal static string Json(GatewayStanding standing) => AlarmJson.Text(json =>
    {
        json.WriteStartObject();
        json.WriteBoolean("well", standing.IsWell);
        json.WriteBoolean("gateway_running", standing.Runs);
        AlarmJson.Moment(json, "running_since", standing.RunsSince);
        AlarmJson.Words(json, "trouble", standing.GatewayTrouble ?? "");
        AlarmJson.Words(json, "configuration_trouble", standing.Mistake ?? "");
        AlarmJson.Moment(json, "reported_at", standing.Report?.At);
        json.WritePropertyName("report");
        if (standing.Report is { } report)
            json.WriteRawValue(History.HealthJson.Write(report));
        else
            json.WriteNullValue();
        json.WriteStartArray("unheard");
        foreach (var saw in standing.Unheard)
            json.WriteStringValue(saw);
        json.WriteEndArray();
        json.WriteStartArray("alarms");
        foreach (var alarm in standing.Alarms)
            AlarmJson.Write(json, alarm);
        json.WriteEndArray();
        json.WriteEndObject();
    });
}
