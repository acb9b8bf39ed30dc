using SawEdge.Core.Signals;
using SawEdge.Simulator.Saws;

namespace SawEdge.Simulator.Tests.Modbus;

/// <summary>A saw that stands still with known values, so that what a client reads can be told to the bit.</summary>
internal sealed class FixedSaw : IFrameSource
{
    public bool Answers { get; set; } = true;

    public bool TryRead(out SignalFrame frame)
    {
        frame = new SignalFrame(Make.Start);
        frame.Set(Signal.HeadPosition, -3.4);
        frame.Set(Signal.BladeSpeed, 71.3);
        frame.Set(Signal.MotorLoad, 1.625);
        frame.Set(Signal.PartCount, 70_000);
        frame.Set(Signal.FaultCode, 30);
        frame.Set(Signal.Mode, "automatic");
        frame.Set(Signal.Job, "OB-1180");
        frame.Set(Signal.CycleActive, true);
        frame.Set(Signal.Cutting, false);
        frame.Set(Signal.BladeRunning, true);
        return Answers;
    }
}
