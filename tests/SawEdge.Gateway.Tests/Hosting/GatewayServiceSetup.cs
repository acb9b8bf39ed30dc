using Microsoft.Extensions.Hosting;
using Microsoft.Extensions.Logging;
using SawEdge.Core.Alarms;
using SawEdge.Core.Sections;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Hosting;
using SawEdge.Simulator.Modbus;
using SawEdge.Simulator.Saws;
using SawEdge.Simulator.Time;
using SawEdge.TestSupport;
using RegisterTable = SawEdge.Gateway.Configuration.RegisterTable;
using RegisterType = SawEdge.Gateway.Configuration.RegisterType;

namespace SawEdge.Gateway.Tests.Hosting;

/// <summary>A gateway in this process, in front of a virtual saw whose time runs fast.</summary>
public abstract class GatewayServiceSetup : IAsyncLifetime, IDisposable
{
    private protected static readonly DateTimeOffset Start = new(2026, 3, 2, 6, 0, 0, TimeSpan.Zero);

    private readonly UnhurriedClock _world = new();
    private readonly ScaledTimeProvider _clock;
    private ModbusTcpServer? _device;
    private int _finished;

    private protected GatewayServiceSetup() => _clock = new ScaledTimeProvider(_world, 10, Start);

    private protected TempFolder Folder { get; } = new();

    private protected LogCollector Log { get; } = new();

    private protected TestLifetime HostLifetime { get; } = new();

    private protected ModbusTcpServer Device => _device!;

    /// <summary>Cuts that came to the disk.</summary>
    private protected int Finished => Volatile.Read(ref _finished);

    public Task InitializeAsync()
    {
        var saw = new VirtualSaw(new VirtualSawOptions
        {
            Machine = new MachineProfile { Name = "saw-1", RestHeightMm = 60, IndexStrokeS = 1 },
            Jobs = [new VirtualJob { Id = "J", Section = SectionFactory.Rectangle(40, 20), Material = new VirtualMaterial("1045", 1800, 0.25), RateCm2Min = 60, BladeSpeedMMin = 70, PartLengthMm = 100, Quantity = 1000 }],
            Seed = 3,
            Start = Start,
            Work = new WorkPattern { StopChance = 0 },
        });
        _device = ModbusTcpServer.Start(new Dictionary<byte, ModbusUnit> { [1] = new(new LiveSaw(saw, _clock), RegisterLayout.Plain) });
        return Task.CompletedTask;
    }

    public async Task DisposeAsync()
    {
        await Device.DisposeAsync();
        await _world.DisposeAsync();
    }

    public void Dispose()
    {
        HostLifetime.Dispose();
        Log.Dispose();
        Folder.Dispose();
        GC.SuppressFinalize(this);
    }

    private protected GatewayService Service(Action<Core.FinishedCut>? onFinished, Action<AlarmEvent>? onAlarm = null, Func<GatewayOptions, GatewayOptions>? change = null)
    {
        var signals = RegisterLayout.Plain.Mapping.Select(field => new RegisterMapping
        {
            Signal = field.Signal,
            Table = (RegisterTable)field.Table,
            Address = field.Address,
            Type = Enum.Parse<RegisterType>(field.Type.ToString()),
            Length = field.Length,
            Conversion = Core.Signals.ValueConversion.Linear(field.Scale),
            Texts = field.Texts,
        });
        var options = new GatewayOptions
        {
            Site = "Tarn Quay",
            Gateway = "hall-1",
            DataFolder = Folder.File("data"),

            // No disk is too small for it, which would be said.
            History = new HistoryOptions { BudgetBytes = 100_000_000 },
            ModbusDevices = [new ModbusTcpDeviceOptions { Name = "plc", Host = "127.0.0.1", Port = Device.Port, ConnectTimeout = TimeSpan.FromSeconds(100), ResponseTimeout = TimeSpan.FromSeconds(100) }],
            Saws =
            [
                new SawOptions
                {
                    Machine = new() { Name = "saw-1" },
                    Source = new ModbusSourceOptions { Device = "plc", Unit = 1, Signals = [.. signals] },
                    Interval = TimeSpan.FromMilliseconds(250),
                },
            ],
        };
        return new GatewayService(change is null ? options : change(options), new GatewayClocks(_clock, TimeProvider.System), Log, HostLifetime, finished =>
        {
            Interlocked.Increment(ref _finished);
            onFinished?.Invoke(finished);
        }, onAlarm);
    }
}
