using SawEdge.Core.Alarms;
using SawEdge.Core.Load;
using SawEdge.Core.Materials;
using SawEdge.Gateway.Configuration.Binding.Alarms;
using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Configuration.Binding;

/// <summary>Declares the whole file: what is read, what is checked, and what the schema and the documentation say.</summary>
internal static class GatewayBinding
{
    /// <summary>The root of the file.</summary>
    public static ObjectType<GatewayOptions> Type { get; } = new("gateway", "Configuration of a SawEdge gateway.", Bind);

    private static GatewayOptions Bind(ConfigObject o)
    {
        o.Optional("$schema", ValueTypes.Schema, "The JSON Schema of this file, for editors; the gateway looks past it.");
        var site = o.Required("site", ValueTypes.Name("Riverbend"), "Name of the plant; a tag on everything that leaves.");
        var gateway = o.Required("gateway", ValueTypes.Name("hall-2"), "Name of this gateway; a tag on everything that leaves.");
        var dataFolder = o.Required("dataFolder", ValueTypes.Path("/var/lib/sawedge"), "Folder of the history; one gateway at a time owns it. A relative path starts at the folder of this file, here and everywhere.");
        var zone = o.Optional("timeZone", new TimeZoneType(), "The plant's time zone (IANA): hours are meant in it, and people read times in it. Left out: the machine's.");
        var units = o.Default("units", new ChoiceType<DisplayUnits>(("metric", DisplayUnits.Metric, "mm, cm2, m/min, kW."), ("inch", DisplayUnits.Inch, "in, in2, ft/min, hp.")), "metric", "Units in which people read messages. What programs read is always metric.");
        var jobs = o.Optional("jobsFile", ValueTypes.Path("jobs.csv"), "The job list, CSV or JSON.");
        var catalogue = o.Optional("catalogueFile", ValueTypes.Path("catalogue.json"), "The plant's own materials and factors (JSON), over the program's. It is read once, at the start.");
        var load = o.Optional("loadScore", LoadScoreBinding.Type, "What is set about the load score.");
        var signals = o.Optional("signals", SignalBinding.Type, "What is kept of the signals of the past. Left out: every 10 s, for 14 days.");
        var history = o.Optional("history", HistoryBinding.Type, "What the history may take on the disk. Left out: 20 GB.");
        var record = o.Optional("record", RecordBinding.Type, "Recording of every frame as it comes. Left out: nothing is recorded; 'sawedge record' does it at any time.");
        var devices = o.Optional("devices", new ListType<ModbusDeviceOptions>(DeviceBinding.Type), "Modbus devices, one connection each.");
        var brokers = o.Optional("brokers", new ListType<MqttBrokerOptions>(ConnectionBinding.Broker), "MQTT brokers, one connection each.");
        var saws = o.Required("saws", new ListType<SawOptions>(SawBinding.Type, 1, "describe at least one saw: { \"name\": ..., \"source\": ..., \"signals\": { ... } }"), "The saws.");
        var influx = o.Optional("influx", new ListType<InfluxOptions>(ConnectionBinding.Influx), "InfluxDB servers to write to. Left out: everything stays in the history.");
        var calendar = o.Optional("calendar", CalendarBinding.Type, "Shifts, breaks, holidays and planned stops. Left out: no availability and no OEE.");
        var alarms = o.Optional("alarms", AlarmBinding.Type, "Rules, contacts and channels of the alarms. Left out: the program's own rules hold, and nobody is told.");
        var reports = o.Optional("reports", new ListType<ReportOptions>(ReportBinding.Type), "Reports that the gateway writes by itself, each after its shift, day or week. Left out: none; 'sawedge report' writes one at any time.");
        var daily = o.Optional("dailyFiles", new ListType<DailyFilesOptions>(DailyFilesBinding.Type), "Cycles in files of a day each, for other systems of the plant. Left out: none; 'sawedge export' writes any table at any time.");
        var http = o.Optional("http", HttpBinding.Type, "Where the page and the API are served. Left out: on this machine alone, at http://127.0.0.1:8080.");
        var standby = o.Optional("standby", StandbyBinding.Type, "A second gateway for the same saws, which takes over where the first is silent. Left out: this gateway watches its saws alone.");
        var telemetry = o.Optional("telemetry", TelemetryBinding.Type, "What the gateway tells of itself to others, besides /metrics. Left out: nothing.");
        var logging = o.Optional("logging", LoggingBinding.Type, "From which level on each area is logged. Left out: what --level says, for all of them.");

        var options = new GatewayOptions
        {
            Site = site,
            Gateway = gateway,
            DataFolder = FullPath(o, dataFolder)!,
            JobsFile = FullPath(o, jobs!),
            Catalogue = ReadCatalogue(o, catalogue),
            CatalogueFile = FullPath(o, catalogue!),
            LoadScore = load.Value ?? new LoadSettings(),
            Signals = signals.Value ?? new SignalOptions(),
            History = history.Value ?? new HistoryOptions(),
            Record = record.Value,
            Standby = standby.Value,
            Telemetry = telemetry.Value ?? new TelemetryOptions(),
            Logging = logging.Value ?? new LoggingOptions(),
            ModbusDevices = Values(devices),
            MqttBrokers = [.. Values(brokers).Select(broker => broker is { ClientId: null } ? broker with { ClientId = $"sawedge-{gateway.Value}" } : broker)],
            Saws = Values(saws!),
            Influx = Values(influx),
            TimeZone = zone.Value ?? ZoneNames.Local,
            StatesTimeZone = zone.Value is not null,
            Units = units,
            Reports = Values(reports),
            DailyFiles = Values(daily),
            Http = http.Value is { } served ? served.Options : new HttpOptions(),
        };
        if (o.Findings is not { } findings)
            return options;
        var draft = alarms.Value ?? new AlarmDraft();
        CrossChecks.Run(options, draft.Channels.Select(channel => channel.Value).OfType<MqttChannelOptions>().Select(channel => channel.Broker).OfType<string>().Append(options.Standby?.Broker ?? "").ToHashSet(), findings);
        StandbyBinding.Check(options, findings);
        options = options with { Calendar = CalendarBinding.Resolve(calendar, options.TimeZone, options.Saws, findings) };
        CalendarBinding.CheckRules(calendar, draft, findings);
        if (options.Signals.Every is null)
        {
            foreach (var (destination, index) in options.Influx.Select((destination, index) => (destination, index)).Where(one => one.destination?.Points.HasFlag(PointChoice.Signals) == true))
                findings.Error(FormattableString.Invariant($"influx[{index}].points"), "names \"signals\", but none are kept: signals are switched off; switch them on or leave \"signals\" out here");
        }

        if (options.Reports.Count > 0 && !calendar.IsStated)
            findings.Error("reports", "need the plant's shifts; describe them under \"calendar\"");
        if (options.Http is null && draft.AnswerLinks is { Listen: null, Public: not null })
            findings.Error("alarms.answerLinks", "nothing serves the links: http is switched off and \"listen\" is missing here; write one of the two");
        return options with { Alarms = AlarmResolution.Run(options, draft, DefaultRules.All, findings) };
    }

    private static MaterialCatalogue ReadCatalogue(ConfigObject o, Setting<string?> file)
    {
        if (FullPath(o, file.Value) is not { } path)
            return MaterialCatalogue.BuiltIn;
        var catalogue = CatalogueFile.Read(path, out var problems);
        foreach (var problem in problems)
            o.Error(file, problem);
        return catalogue;
    }

    private static string? FullPath(ConfigObject o, string? path) => path is null ? null : Path.GetFullPath(path, o.Folder);

    // Items that are no objects at all are null and have their finding; the index of the others is kept for the paths of checks.
    private static List<T> Values<T>(Setting<IReadOnlyList<Setting<T>>?> list) => [.. (list.Value ?? []).Select(item => item.Value)];
}
