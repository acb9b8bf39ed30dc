using Microsoft.Extensions.Logging.Abstractions;
using SawEdge.Core;
using SawEdge.Core.Cutting;
using SawEdge.Core.Load;
using SawEdge.Core.Materials;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition;
using SawEdge.Gateway.Processing;

namespace SawEdge.Gateway.Tests.Api;

/// <summary>The loop of one saw of a <see cref="ReadingApi"/>, fed by the test.</summary>
internal sealed class RunningSaw : IAsyncDisposable
{
    private readonly SawInbox _inbox;
    private readonly Task _run;

    public RunningSaw(ReadingApi api, string saw, JobBook? jobs = null, SawMachine? machine = null)
    {
        _inbox = new SawInbox(saw, 1_000_000);
        machine ??= new SawMachine { Name = saw };
        var processor = new SawProcessor(
            _inbox,
            new SawPipeline(machine, jobs ?? JobBook.Empty),
            new SawSetup(machine, null, new LoadSettings(), MaterialCatalogue.BuiltIn),
            api.History.Writer,
            TimeProvider.System,
            NullLogger<SawProcessor>.Instance,
            live: api.Live.Of(saw));
        _run = processor.RunAsync(api.History.Reader, CancellationToken.None);
    }

    public void Offer(in SignalFrame frame) => _inbox.Offer(frame);

    /// <summary>A frame with a load and a job.</summary>
    public void Offer(DateTimeOffset at, double loadKw, string job = "J-1", bool inCycle = false)
    {
        var frame = new SignalFrame(at);
        frame.Set(Signal.MotorLoad, loadKw);
        frame.Set(Signal.CycleActive, inCycle);
        frame.Set(Signal.Job, job);
        _inbox.Offer(frame);
    }

    public async ValueTask DisposeAsync()
    {
        _inbox.Complete();
        await _run;
    }
}
