using SawEdge.Gateway.Hosting;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Hosting;

public sealed class MachineBootTests
{
    [Fact]
    public void Read_ByTheServiceManagerOrTheKernel_IsTheSame()
    {
        var kernel = MachineBoot.Read(null, MachineBoot.File);
        Assert.NotNull(kernel);
        Assert.Equal(32, kernel.Length);
        Assert.Equal(kernel, MachineBoot.Read(kernel, "/nowhere"));
        Assert.Equal(kernel, MachineBoot.Read(File.ReadAllText(MachineBoot.File), "/nowhere"));
    }

    [Theory]
    [InlineData(null)]
    [InlineData("")]
    [InlineData("%b")]
    public void Read_NobodyTells_IsNotKnown(string? told)
    {
        using var folder = new TempFolder();
        Assert.Null(MachineBoot.Read(told, folder.File("none")));
        Assert.Null(MachineBoot.Read(told, Path.Combine(folder.File("none"), "below")));
        File.WriteAllText(folder.File("odd"), "not a mark\n");
        Assert.Null(MachineBoot.Read(told, folder.File("odd")));
    }
}
