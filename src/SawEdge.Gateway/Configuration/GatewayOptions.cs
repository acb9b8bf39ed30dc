using SawEdge.Core.Signals;
using SawEdge.Core.Cutting;
using SawEdge.Core.Load;
using SawEdge.Core.Materials;

namespace SawEdge.Gateway.Configuration;

/// <summary>The whole configuration, converted once at the start: units are resolved, defaults applied, everything validated.</summary>
public sealed record GatewayOptions
{
    /// <summary>Name of the plant; a tag on everything that leaves.</summary>
    public required string Site { get; init; }

    /// <summary>Name of this gateway; a tag on everything that leaves.</summary>
    public required string Gateway { get; init; }

    /// <summary>Folder of the history; one gateway at a time owns it.</summary>
    public required string DataFolder { get; init; }

    /// <summary>The job list (CSV or JSON), or null.</summary>
    public string? JobsFile { get; init; }

    /// <summary>The materials and factors: the program's own, with the plant's own file over them where there is one.</summary>
    public MaterialCatalogue Catalogue { get; init; } = MaterialCatalogue.BuiltIn;

    /// <summary>The plant's own file of materials and factors, or null.</summary>
    public string? CatalogueFile { get; init; }

    /// <summary>The saws, in the order of the file; names are unique.</summary>
    public required IReadOnlyList<SawOptions> Saws { get; init; }

    /// <summary>Modbus devices: one connection each, shared by their units.</summary>
    public IReadOnlyList<ModbusDeviceOptions> ModbusDevices { get; init; } = [];

    /// <summary>MQTT brokers: one connection each.</summary>
    public IReadOnlyList<MqttBrokerOptions> MqttBrokers { get; init; } = [];

    /// <summary>InfluxDB destinations; names are unique.</summary>
    public IReadOnlyList<InfluxOptions> Influx { get; init; } = [];

    /// <summary>The plant's time zone: hours and shifts are meant in it, and people read times in it.</summary>
    public TimeZoneInfo TimeZone { get; init; } = ZoneNames.Local;

    /// <summary>Whether the configuration states <see cref="TimeZone"/>; otherwise it is the machine's.</summary>
    public bool StatesTimeZone { get; init; }

    /// <summary>When the plant means to work, or null: then there is no OEE.</summary>
    public CalendarOptions? Calendar { get; init; }

    /// <summary>Units in which people read messages.</summary>
    public DisplayUnits Units { get; init; } = DisplayUnits.Metric;

    /// <summary>Reports that are written by themselves.</summary>
    public IReadOnlyList<ReportOptions> Reports { get; init; } = [];

    /// <summary>Cycles in files of a day each; names and folders are unique.</summary>
    public IReadOnlyList<DailyFilesOptions> DailyFiles { get; init; } = [];

    /// <summary>Rules, contacts and channels of the alarms.</summary>
    public AlarmOptions Alarms { get; init; } = new();

    /// <summary>Where the page and the API are served, or null: nowhere.</summary>
    public HttpOptions? Http { get; init; }

    /// <summary>How the saws are watched in turns with another gateway; null: this one watches them alone.</summary>
    public StandbyOptions? Standby { get; init; }

    /// <summary>What a person set about the load score.</summary>
    public LoadSettings LoadScore { get; init; } = new();

    /// <summary>What is kept of the signals of the past.</summary>
    public SignalOptions Signals { get; init; } = new();

    /// <summary>What the history may take on the disk.</summary>
    public HistoryOptions History { get; init; } = new();

    /// <summary>From which level on each area is logged.</summary>
    public LoggingOptions Logging { get; init; } = new();

    /// <summary>What the gateway tells of itself to others.</summary>
    public TelemetryOptions Telemetry { get; init; } = new();

    /// <summary>Where and how to record every frame as it comes, or null.</summary>
    public RecordOptions? Record { get; init; }
}

/// <summary>One saw: what it is, where its signals come from, and which blade and job hold where the controller does not say.</summary>
public sealed record SawOptions
{
    /// <summary>The machine.</summary>
    public required SawMachine Machine { get; init; }

    /// <summary>Name of the saw.</summary>
    public string Name => Machine.Name;

    /// <summary>Where its signals come from.</summary>
    public required SourceOptions Source { get; init; }

    /// <summary>Identity of the blade, where the controller does not say.</summary>
    public string? Blade { get; init; }

    /// <summary>The group that it belongs to, for example a bay, or null.</summary>
    public string? Group { get; init; }

    /// <summary>Flags that follow from other signals.</summary>
    public IReadOnlyList<DerivedFlagRule> Derived { get; init; } = [];

    /// <summary>Time between frames that is due; a longer silence than a few of them makes the signals bad.</summary>
    public required TimeSpan Interval { get; init; }

    /// <summary>The signals that it has: mapped, or following from others.</summary>
    public IEnumerable<Signal> MappedSignals => ReadSignals.Concat(Derived.Select(rule => rule.Signal));

    private IEnumerable<Signal> ReadSignals => Source switch
    {
        ModbusSourceOptions modbus => modbus.Signals.Select(mapping => mapping.Signal),
        MqttSourceOptions mqtt => mqtt.Signals.Select(mapping => mapping.Signal),
        SparkplugSourceOptions sparkplug => sparkplug.Signals.Select(mapping => mapping.Signal),
        RecordingSourceOptions recording => recording.Signals.Select(mapping => mapping.Signal),
        _ => [],
    };

    /// <summary>Whether a cycle is what the head does, because the controller's cycle bit is not read: then clamping and feeding lie between the cycles.</summary>
    public bool HasHandlingBetweenCycles => !MappedSignals.Contains(Signal.CycleActive);
}

/// <summary>Where a saw's signals come from.</summary>
public abstract record SourceOptions;
