using SawEdge.Gateway.Commands.Alarms;
using SawEdge.Gateway.Commands.Reports;
using SawEdge.Gateway.Forwarding;
using SawEdge.Gateway.History;
using AlarmJson = SawEdge.Gateway.Commands.Alarms.AlarmJson;

namespace SawEdge.Gateway.Commands.Outbox;

/// <summary><c>outbox again</c>: the points of a period once more.</summary>
/// <param name="folder">The data folder.</param>
/// <param name="output">Where to print.</param>
/// <param name="error">Where to say what goes wrong.</param>
/// <param name="time">Clock and time zone.</param>
internal sealed class SendingAgain(NamedFolder folder, TextWriter output, TextWriter error, TimeProvider time)
{
    private const int MostListed = 20;

    /// <summary>Sends.</summary>
    /// <param name="name">Name of the destination.</param>
    /// <param name="from">The begin of the period as a person wrote it; null: from the beginning.</param>
    /// <param name="to">Its end; null: to the end.</param>
    /// <param name="isJson">Whether to print for programs.</param>
    /// <param name="cancellation">Breaks off.</param>
    /// <returns>The exit code.</returns>
    /// <exception cref="CommandException">There is no such destination, or the period is none.</exception>
    public async Task<int> RunAsync(string name, string? from, string? to, bool isJson, CancellationToken cancellation)
    {
        if (folder.Options is not { } options)
            throw new CommandException("The configuration says where to send: name it with --config beside --data.");
        var influx = options.Influx.FirstOrDefault(known => known.Name == name) ?? throw KnownDestinations.None(name, [.. options.Influx.Select(known => known.Name)]);
        var moments = new MomentText(folder.At(time));
        var (begin, end) = (from is null ? (DateTimeOffset?)null : moments.Parse("--from", from), to is null ? (DateTimeOffset?)null : moments.ParseEnd("--to", to));
        if (from is not null && to is not null)
            moments.Between("--from, --to", from, to);
        var reader = folder.Open();
        var all = await reader.CountAsync(new CycleFilter { From = begin, To = end }, cancellation);
        using var rebuild = new PointRebuild(influx, options.Site, options.Gateway, reader, time, why => error.WriteLine(why is null ? $"{name} takes points again." : $"{name} takes nothing at the moment: {why}. It is tried again until it does; Ctrl+C ends it."));
        var result = new RebuildResult();
        await WorkProgress.RunAsync(WorkProgress.OnError(error), time, "sending", "points", async report =>
            result = await rebuild.RunAsync(begin, end, so => report(new WorkPosition(so.Cycles, all, so.Points)), cancellation));
        if (isJson)
            await output.WriteLineAsync(Json(name, result));
        else
            Write(new TextPage(output), name, result);
        if (result.NeedsMending is { } mend)
            await error.WriteLineAsync($"{name} needs mending: {mend} Not everything was sent; mend it and ask again, which changes nothing of what it has.");
        return result.NeedsMending is null && result.Refused == 0 ? ExitCodes.Done : ExitCodes.Failed;
    }

    private static void Write(TextPage page, string name, RebuildResult result)
    {
        string[] parts =
        [
            AlarmText.Count(result.Cycles, "cycle"),
            AlarmText.Count(result.AlarmEvents, "event") + " of alarms",
            $"{AlarmText.Count(result.OfHours, "point")} of {AlarmText.Count(result.Hours, "hour")}",
            .. result.Profiles > 0 ? [AlarmText.Count(result.Profiles, "point") + " of profiles"] : Array.Empty<string>(),
            .. result.Signals > 0 ? [AlarmText.Count(result.Signals, "point") + " of signals"] : Array.Empty<string>(),
            .. result.Health > 0 ? [AlarmText.Count(result.Health, "point") + " of the gateway's health"] : Array.Empty<string>(),
        ];
        page.Wrapped("", $"{name} took {AlarmText.Count(result.Points, "point")}: {string.Join(", ", parts)}.");
        if (result.Refused == 0)
            return;
        page.Wrapped("", $"It refused {AlarmText.Count(result.Refused, "point")} for good:");
        foreach (var (what, reason) in result.Refusals.Take(MostListed))
        {
            page.Wrapped("  ", what);
            page.Wrapped("      ", SetAside.Clean(reason));
        }

        if (result.Refused > MostListed)
            page.Line(FormattableString.Invariant($"  and {result.Refused - MostListed:N0} more"));
    }

    private static string Json(string name, RebuildResult result) => AlarmJson.Text(json =>
    {
        json.WriteStartObject();
        json.WriteString("destination", name);
        json.WriteNumber("points", result.Points);
        json.WriteNumber("cycles", result.Cycles);
        json.WriteNumber("alarm_events", result.AlarmEvents);
        json.WriteNumber("hours", result.Hours);
        json.WriteNumber("profile_points", result.Profiles);
        json.WriteNumber("signal_points", result.Signals);
        json.WriteNumber("health_points", result.Health);
        json.WriteNumber("refused", result.Refused);
        json.WriteStartArray("refusals");
        foreach (var (what, reason) in result.Refusals)
        {
            json.WriteStartObject();
            json.WriteString("what", what);
            json.WriteString("reason", SetAside.Clean(reason));
            json.WriteEndObject();
        }

        json.WriteEndArray();
        AlarmJson.Words(json, "needs_mending", result.NeedsMending);
        json.WriteEndObject();
    });
}
