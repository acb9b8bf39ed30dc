using System.CommandLine;
using SawEdge.Core.Alarms;
using SawEdge.Gateway.Commands;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Tests.Configuration;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Commands;

public sealed class CheckCommandTests : IDisposable
{
    // So that these hold on any disk.
    private const string SmallBudget = "{ \"budget\": \"100 MB\" }";

    private readonly TempFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Fact]
    public void Check_AGoodFile_EndsWith0AndLeavesNothingBehind()
    {
        var (code, output) = Check(Sample.With("history", SmallBudget));
        Assert.Equal(0, code);
        Assert.Equal(
            [
                $"{File} is good: 2 saws, 1 Modbus device, 1 MQTT broker, 2 InfluxDB destinations, {DefaultRules.All.Count} alarm rules, 0 contacts, 0 channels",
                $"  alarm rules of the program: {string.Join(", ", DefaultRules.All.Select(rule => rule.Name))}",
            ],
            output);
        Assert.Equal([File], Directory.EnumerateFileSystemEntries(_folder.Path));
    }

    [Fact]
    public void Check_AMistake_EndsWith1AndNamesFileLineAndSetting()
    {
        var (code, output) = Check("{\n  \"sit\": 1,\n" + Sample.With("", null)[1..]);
        Assert.Equal(1, code);
        Assert.Equal([$"{File}:2:10: error: sit: is not known here; did you mean 'site'?", $"{File}: 1 error"], output);
    }

    [Fact]
    public void Check_AWarning_EndsWith0AndStrictly1()
    {
        var text = Sample.With(("influx[0].token", null), ("history", SmallBudget));
        var (code, output) = Check(text);
        Assert.Equal(0, code);
        Assert.Contains("warning: influx[0].token: is missing", output[0], StringComparison.Ordinal);
        Assert.Equal($"{File} is good: 2 saws, 1 Modbus device, 1 MQTT broker, 2 InfluxDB destinations, {DefaultRules.All.Count} alarm rules, 0 contacts, 0 channels; 1 warning", output[1]);
        Assert.Equal(1, Check(text, strict: true).Code);
    }

    [Fact]
    public void Check_Alarms_SaysWhichRulesHoldAndWhoIsTold()
    {
        var (_, output) = Check(AlarmSample.With(("alarms.withoutRules", "[ \"frozen_signal\" ]"), ("alarms.rules[7].name", "\"disk_low\"")));
        var own = DefaultRules.All.Select(rule => rule.Name).Where(name => name is not ("frozen_signal" or "disk_low")).ToList();
        Assert.EndsWith($", {own.Count + 8} alarm rules, 2 contacts, 3 channels", output[0], StringComparison.Ordinal);
        Assert.Equal(
            [
                $"  alarm rules of the program: {string.Join(", ", own)}",
                "  alarm rules of the plant: disk_low, motor hot, stalled, slow cuts, broken off, worn, low availability, line dead",
            ],
            output[1..]);
    }

    [Theory]
    [InlineData("{")]
    [InlineData(null)]
    public void Check_AFileThatCannotBeRead_EndsWith2(string? text)
    {
        var (code, output) = Check(text);
        Assert.Equal(2, code);
        Assert.Equal($"{File}: 1 error", output[^1]);
    }

    [Fact]
    public void Check_AVariable_IsNamedInTheLine()
    {
        var (_, output) = Check(Sample.With("", null), environment: new() { ["SAWEDGE_devices__0__port"] = "0" });
        Assert.Equal("environment variable SAWEDGE_devices__0__port: error: devices[0].port: '0' is out of range; write 1 to 65535", output[0]);
    }

    [Fact]
    public void Check_ADataFolderThatIsAFile_IsAnError()
    {
        System.IO.File.WriteAllText(_folder.File("data"), "");
        var (code, output) = Check(Sample.With("", null));
        Assert.Equal(1, code);
        Assert.Equal($"{File}: error: dataFolder: {_folder.File("data")} is a file; name a folder", output[0]);
    }

    [Fact]
    public void Check_ADataFolderBelowAFile_IsAnError()
    {
        System.IO.File.WriteAllText(_folder.File("file"), "");
        var (code, output) = Check(Sample.With("dataFolder", "\"file/data\""));
        Assert.Equal(1, code);
        Assert.Equal($"{File}: error: dataFolder: {_folder.File("file")} is a file, so {Path.Combine(_folder.Path, "file", "data")} cannot be a folder; name another one", output[0]);
    }

    /// <summary>/proc takes no files, not even from the administrator.</summary>
    [PeerFact("/proc/self/status")]
    public void Check_ADataFolderThatCannotBeWritten_IsAnError()
    {
        var (code, output) = Check(Sample.With(("dataFolder", "\"/proc/sawedge\""), ("record", "{ \"folder\": \"/proc\" }")));
        Assert.Equal(1, code);
        Assert.StartsWith($"{File}: error: dataFolder: /proc/sawedge cannot be written by this user (", output[0], StringComparison.Ordinal);
        Assert.StartsWith($"{File}: error: record.folder: /proc cannot be written by this user (", output[1], StringComparison.Ordinal);
    }

    [Fact]
    public void Check_AJobListThatIsNotThere_IsAnError()
    {
        var (code, output) = Check(Sample.With("jobsFile", "\"jobs.csv\""));
        Assert.Equal(1, code);
        Assert.Equal($"{File}: error: jobsFile: there is no file {_folder.File("jobs.csv")}", output[0]);
    }

    [Fact]
    public void Check_OnTheCommandLine_TakesTheFileAndPrints()
    {
        Check(Sample.With("", null));
        var output = new StringWriter();
        var code = new RootCommand { CheckCommand.Create() }.Parse(["check", File]).Invoke(new InvocationConfiguration { Output = output });
        Assert.Equal(0, code);
        Assert.StartsWith($"{File} is good:", output.ToString(), StringComparison.Ordinal);
    }

    [Fact]
    public void Schema_OnTheCommandLine_GoesToTheOutputOrAFile()
    {
        var root = new RootCommand { SchemaCommand.Create() };
        var output = new StringWriter();
        Assert.Equal(0, root.Parse(["schema"]).Invoke(new InvocationConfiguration { Output = output }));
        Assert.Equal(ConfigurationSchema.Write(), output.ToString());

        Assert.Equal(0, root.Parse(["schema", "--out", _folder.File("s.json")]).Invoke());
        Assert.Equal(ConfigurationSchema.Write(), System.IO.File.ReadAllText(_folder.File("s.json")));

        var errors = new StringWriter();
        Assert.Equal(2, root.Parse(["schema", "--out", _folder.File("no/such/s.json")]).Invoke(new InvocationConfiguration { Error = errors }));
        Assert.StartsWith($"{_folder.File("no/such/s.json")} cannot be written: ", errors.ToString(), StringComparison.Ordinal);
    }

    private string File => _folder.File("sawedge.json");

    private (int Code, string[] Output) Check(string? text, bool strict = false, Dictionary<string, string>? environment = null)
    {
        if (text is not null)
        {
            System.IO.File.WriteAllText(File, text);
            if (!OperatingSystem.IsWindows())
                System.IO.File.SetUnixFileMode(File, UnixFileMode.UserRead | UnixFileMode.UserWrite);
        }

        var output = new StringWriter();
        var code = CheckCommand.Run(File, environment ?? [], strict, output);
        return (code, output.ToString().Split(Environment.NewLine, StringSplitOptions.RemoveEmptyEntries));
    }
}
