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

/// <summary>The whole gateway in this process, in front of a virtual saw whose time runs fast.</summary>
public sealed class GatewayServiceTests : IAsyncLifetime, IDisposable
{
    private const int SlowPolls = 2107;
    private const int CountedUnseen = 3016;
    private const int Starting = 3500;
    private const int Stopped = 3501;
    private const int LoopEnded = 3502;
    private static readonly DateTimeOffset Start = new(2026, 3, 2, 6, 0, 0, TimeSpan.Zero);

    private readonly TempFolder _folder = new();
    private readonly LogCollector _log = new();
    private readonly Lifetime _lifetime = new();
    private readonly ScaledTimeProvider _clock = new(TimeProvider.System, 10, Start);
    private ModbusTcpServer? _device;

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

    public async Task DisposeAsync() => await _device!.DisposeAsync();

    public void Dispose()
    {
        _lifetime.Dispose();
        _log.Dispose();
        _folder.Dispose();
    }

    [Fact]
    public async Task LoopEndsByItself_TheGatewayStops_SaysWhichAndWhyOnce_AndHasFailed()
    {
        using var service = Service(_ => throw new InvalidTimeZoneException("made up for this test"));
        await service.StartAsync(CancellationToken.None);
        await Until.TrueAsync(() => _lifetime.ApplicationStopping.IsCancellationRequested, "the process is asked to stop");
        await service.StopAsync(CancellationToken.None);

        Assert.IsType<InvalidTimeZoneException>(service.Failure);
        var said = Assert.Single(_log.Entries, entry => entry.Level >= LogLevel.Error);
        Assert.Equal((LoopEnded, LogLevel.Critical, "processing of saw-1 ended unexpectedly; the gateway stops so that the service manager can start it anew"), said);
        Assert.DoesNotContain(_log.Entries, entry => entry.Id == Stopped);

        // What was acknowledged before is there, and the folder is free for the next start.
        using var database = Gateway.History.HistoryDatabase.Open(_folder.File("data"));
        Assert.Equal(1, await new Gateway.History.HistoryReader(database).CountAsync(Gateway.History.CycleFilter.All));
    }

    [Fact]
    public async Task Stopped_EndsWithoutFailure_AndSaysThatEverythingIsStored()
    {
        var finished = 0;
        using var service = Service(_ => Interlocked.Increment(ref finished));
        await service.StartAsync(CancellationToken.None);
        await Until.TrueAsync(() => Volatile.Read(ref finished) > 0, "a cut is finished");
        await service.StopAsync(CancellationToken.None);

        Assert.Null(service.Failure);
        Assert.False(_lifetime.ApplicationStopping.IsCancellationRequested);
        Assert.Equal((Stopped, LogLevel.Information, "stopped; everything seen is in the history"), _log.Entries[^1]);
        Assert.DoesNotContain(_log.Entries, entry => entry.Level > LogLevel.Information);
    }

    // The service manager does not wait with a stop until the gateway has begun.
    [Fact]
    public async Task StoppedWhileItStarts_EndsWithoutFailure()
    {
        using var stop = new CancellationTokenSource();
        _log.OnEntry = id =>
        {
            if (id == Starting)
                stop.Cancel();
        };
        using var service = Service(null);
        await service.StartAsync(stop.Token);
        await Until.TrueAsync(() => service.ExecuteTask!.IsCompleted, "it ends");

        Assert.Null(service.Failure);
        Assert.Equal([Starting, Stopped], _log.Entries.Select(entry => entry.Id));
    }

    [Fact]
    public async Task EntryAboutABlade_MadeFromOutside_IsTakenOverWithoutARestart()
    {
        var finished = 0;
        using var service = Service(_ => Interlocked.Increment(ref finished));
        await service.StartAsync(CancellationToken.None);
        await Until.TrueAsync(() => Volatile.Read(ref finished) > 0, "a cut is finished");
        Gateway.History.BladeEntryRows.Write(_folder.File("data"), [], [new Core.Blades.BladeEntry(0, "saw-1", Start, Core.Blades.BladeEntryKind.Change, "B-1")], Start);
        await Until.TrueAsync(() => _log.Entries.Any(entry => entry.Id == 3007), "records are computed anew");
        var then = Volatile.Read(ref finished);
        await Until.TrueAsync(() => Volatile.Read(ref finished) > then, "the saw goes on");
        await service.StopAsync(CancellationToken.None);

        Assert.Null(service.Failure);
        Assert.Contains("entries about blades from 2026-03-02 06:00Z on", Assert.Single(_log.Entries, entry => entry.Id == 3007).Text, StringComparison.Ordinal);

        // How fast this machine can poll while others work on it, and what it misses meanwhile, is another matter.
        Assert.DoesNotContain(_log.Entries, entry => entry.Level > LogLevel.Information && entry.Id is not (SlowPolls or CountedUnseen));
    }

    // No room at all: the budget is less than an empty history takes.
    [Fact]
    public async Task BudgetOfTheHistoryReached_IsAnAlarm_AndCutsAreStoredAllTheSame()
    {
        var (raised, finished) = (new System.Collections.Concurrent.ConcurrentQueue<AlarmEvent>(), 0);
        var rules = DefaultRules.All.Where(rule => rule.Variable.Name == "history_budget").Select(rule => rule with { OnDelay = TimeSpan.Zero });
        using var service = Service(_ => Interlocked.Increment(ref finished), raised.Enqueue, options => options with { History = new HistoryOptions { BudgetBytes = 100_000 }, Alarms = new AlarmOptions { Rules = [.. rules] } });
        await service.StartAsync(CancellationToken.None);
        await Until.TrueAsync(() => raised.Count >= 2 && Volatile.Read(ref finished) > 0, "both rules are raised and a cut is finished");
        await service.StopAsync(CancellationToken.None);

        Assert.Null(service.Failure);
        Assert.Equal(["history_budget", "history_full"], raised.Select(happened => happened.Rule).Order(StringComparer.Ordinal));
        Assert.All(raised, happened => Assert.Equal("gateway hall-1", happened.Subject.ToString()));
        Assert.Matches(@"^gateway hall-1: the history takes [0-9.]{3,6} % of its budget[.] When it is full", raised.First(happened => happened.Rule == "history_budget").Alarm!.Text);
        Assert.Equal(3531, Assert.Single(_log.Entries, entry => entry.Id is >= 3530 and <= 3539).Id);
        using var database = Gateway.History.HistoryDatabase.Open(_folder.File("data"));
        Assert.Equal(finished, await new Gateway.History.HistoryReader(database).CountAsync(Gateway.History.CycleFilter.All));
    }

    [Fact]
    public async Task FolderInUse_IsOneMessageWithoutAStackTrace_AndAFailure()
    {
        using var owner = Gateway.History.HistoryDatabase.Open(_folder.File("data"));
        using var service = Service(null);
        await service.StartAsync(CancellationToken.None);
        await Until.TrueAsync(() => _lifetime.ApplicationStopping.IsCancellationRequested, "the process is asked to stop");
        await service.StopAsync(CancellationToken.None);

        Assert.IsType<Gateway.History.HistoryInUseException>(service.Failure);
        Assert.Equal((3508, LogLevel.Critical, service.Failure.Message), Assert.Single(_log.Entries));
        Assert.Equal(0, _device!.Requests);
    }

    private GatewayService Service(Action<Core.FinishedCut>? onFinished, Action<AlarmEvent>? onAlarm = null, Func<GatewayOptions, GatewayOptions>? change = null)
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
            DataFolder = _folder.File("data"),
            ModbusDevices = [new ModbusTcpDeviceOptions { Name = "plc", Host = "127.0.0.1", Port = _device!.Port, ConnectTimeout = TimeSpan.FromSeconds(100), ResponseTimeout = TimeSpan.FromSeconds(100) }],
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
        return new GatewayService(change is null ? options : change(options), new GatewayClocks(_clock, TimeProvider.System), _log, _lifetime, onFinished, onAlarm);
    }

    private sealed class Lifetime : IHostApplicationLifetime, IDisposable
    {
        private readonly CancellationTokenSource _stopping = new();

        public CancellationToken ApplicationStarted => CancellationToken.None;

        public CancellationToken ApplicationStopping => _stopping.Token;

        public CancellationToken ApplicationStopped => CancellationToken.None;

        public void StopApplication() => _stopping.Cancel();

        public void Dispose() => _stopping.Dispose();
    }
}
