using SawEdge.Fuzz.Targets;

namespace SawEdge.Gateway.Tests.Acquisition;

/// <summary>The inputs that the fuzzer kept because each reaches code that no other does, or because something once went wrong.</summary>
public sealed class KeptInputsTests
{
    [Fact]
    public void JsonPayloads_AreTaken() => Assert.True(KeptInputs.Replay(new JsonTarget()) >= 10);

    [Fact]
    public void Times_AreTaken() => Assert.True(KeptInputs.Replay(new PayloadTimeTarget()) >= 10);

    [Fact]
    public void SparkplugPayloads_AreTaken() => Assert.True(KeptInputs.Replay(new SparkplugTarget()) >= 10);

    [Fact]
    public void SparkplugSessions_AreTaken() => Assert.True(KeptInputs.Replay(new SparkplugSessionTarget()) >= 10);

    [Fact]
    public void Recordings_AreTaken() => Assert.True(KeptInputs.Replay(new CsvTarget()) >= 10);

    [Fact]
    public void RecordingsOfOtherLoggers_AreTaken() => Assert.True(KeptInputs.Replay(new MappedCsvTarget()) >= 10);
}
