using SawEdge.Fuzz.Targets;

namespace SawEdge.Modbus.Tests;

/// <summary>The inputs that the fuzzer kept because each reaches code that no other does, or because something once went wrong.</summary>
public sealed class KeptInputsTests
{
    [Fact]
    public void Mbap_TakesThem() => Assert.True(KeptInputs.Replay(new MbapTarget()) >= 10);

    [Fact]
    public void Rtu_TakesThem() => Assert.True(KeptInputs.Replay(new RtuTarget()) >= 10);
}
