using System.CommandLine;
using SawEdge.Gateway.Commands;
using SawEdge.Gateway.Commands.FirstRun;
using SawEdge.Gateway.Configuration;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Commands.FirstRun;

public sealed class InitCommandTests : IDisposable
{
    private readonly TempFolder _folder = new();
    private readonly List<string> _asked = [];

    private string Path => _folder.File("sawedge.json");

    public void Dispose() => _folder.Dispose();

    [Theory]
    [InlineData("modbus", "192.0.2.10")]
    [InlineData("modbus", "192.0.2.10:5020,plc-2.plant.example,[2001:db8::1]:502")]
    [InlineData("mqtt", "broker.plant.example:8883")]
    public void Options_WriteAFileThatPassesCheck_AndSaysWhatComesNext(string source, string address)
    {
        var (code, output, error) = Run(null, "--site", "Riverbend", "--gateway", "hall-2", "--time-zone", "America/Chicago", "--units", "inch", "--data", "data", "--saws", "saw-1, saw-2, saw-3", "--source", source, "--address", address, "--influx", "http://192.0.2.1:8086");

        Assert.Equal((0, ""), (code, error));
        Assert.Equal($"{Path} is written and passes 'sawedge check'. Next:", output.Split('\n')[0]);
        Assert.Contains($"sawedge watch saw-1 --config {Path}", output, StringComparison.Ordinal);

        // Each step that it names is a command as the program reads it.
        var root = new RootCommand { RunCommand.Create(), CheckCommand.Create(), SawEdge.Gateway.Commands.Commissioning.WatchCommand.Create() };
        var steps = output.Split('\n').Where(line => line.Contains(". sawedge ", StringComparison.Ordinal)).Select(line => line[(line.IndexOf(". sawedge ", StringComparison.Ordinal) + 10)..].Split("     ")[0].Trim()).ToList();
        Assert.Equal(3, steps.Count);
        Assert.All(steps, step => Assert.Empty(root.Parse(step).Errors));
        var (checkCode, said) = Check();
        Assert.Equal(0, checkCode);
        Assert.DoesNotContain("warning", said, StringComparison.Ordinal);
        var options = ConfigurationFile.Load(Path, new Dictionary<string, string>()).Options!;
        Assert.Equal(("Riverbend", "hall-2", "America/Chicago", DisplayUnits.Inch, _folder.File("data")), (options.Site, options.Gateway, options.TimeZone.Id, options.Units, options.DataFolder));
        Assert.Equal(["saw-1", "saw-2", "saw-3"], options.Saws.Select(saw => saw.Name));
        Assert.Contains("http://192.0.2.1:8086", File.ReadAllText(Path), StringComparison.Ordinal);
        if (source == "mqtt")
            Assert.Equal(("broker.plant.example", 8883), (options.MqttBrokers[0].Host, options.MqttBrokers[0].Port));
        else
            Assert.Equal(address.Contains(',', StringComparison.Ordinal) ? 3 : 1, options.ModbusDevices.Count);
        if (address.Contains("db8", StringComparison.Ordinal))
            Assert.Equal(["192.0.2.10:5020", "plc-2.plant.example:502", "[2001:db8::1]:502"], options.ModbusDevices.Select(device => device.Endpoint));
    }

    // Each remark that shows a setting shows one that is right.
    [Fact]
    public void RemarksTakenOut_TheFileStillPassesCheck()
    {
        Run(null, "--site", "Riverbend", "--address", "192.0.2.10", "--data", "data");
        File.WriteAllText(_folder.File("influx.token"), "secret");
        var lines = File.ReadAllLines(Path).Select(line => line.TrimStart().StartsWith("// \"", StringComparison.Ordinal) || line.TrimStart().StartsWith("//   ", StringComparison.Ordinal) || line.TrimStart() is "// }," or "// ]," ? line.Replace("// ", "", StringComparison.Ordinal) : line);
        File.WriteAllLines(Path, lines);
        Assert.Contains("\n  \"calendar\"", File.ReadAllText(Path), StringComparison.Ordinal);
        var (code, said) = Check();
        Assert.True(code == 0, said);
        Assert.Contains("1 InfluxDB destination", said, StringComparison.Ordinal);
        Assert.Contains("1 contact", said, StringComparison.Ordinal);
    }

    [Fact]
    public void AtATerminal_AsksForWhatNoOptionTells_AndAgainForWhatIsNoChoice()
    {
        var answers = new Queue<string>(["Riverbend", "", "Europe/Berlin", "yards", "inch", "", "mqtt", "broker", ""]);
        var (code, _, error) = Run(question =>
        {
            _asked.Add(question);
            return answers.Dequeue();
        }, "--data", "data");

        Assert.Equal((0, ""), (code, error));
        Assert.Empty(answers);
        Assert.Equal("broker", Assert.Single(ConfigurationFile.Load(Path, new Dictionary<string, string>()).Options!.MqttBrokers).Host);
        Assert.Equal("Name of the plant: ", _asked[0]);
        Assert.Equal("Name of this gateway, such as that of its hall [hall-1]: ", _asked[1]);
        Assert.Equal(2, _asked.Count(question => question == "Units in which people read messages (metric or inch) [metric]: "));
        Assert.DoesNotContain(_asked, question => question.StartsWith("Folder", StringComparison.Ordinal));
        Assert.Equal(0, Check().Code);
    }

    [Fact]
    public void AFileThatIsThere_StaysAsItIs()
    {
        File.WriteAllText(Path, "mine");
        var (code, _, error) = Run(null, "--site", "Riverbend", "--address", "192.0.2.10");
        Assert.Equal((1, $"{Path} is there already and stays as it is; name another file, or change it and run 'sawedge check {Path}'."), (code, error));
        Assert.Equal("mine", File.ReadAllText(Path));
    }

    [Fact]
    public void AJobListThatIsThere_StaysAsItIs()
    {
        File.WriteAllText(_folder.File("jobs.csv"), "job,material,section\nA-1,1045,round 100 mm\n");
        Assert.Equal(0, Run(null, "--site", "Riverbend", "--address", "192.0.2.10").Code);
        Assert.Contains("A-1", File.ReadAllText(_folder.File("jobs.csv")), StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("--site and --address are missing; there is nobody to be asked.")]
    [InlineData("--address is missing; there is nobody to be asked.", "--site", "Riverbend")]
    [InlineData("--source is modbus or mqtt, not 'serial'.", "--site", "Riverbend", "--address", "plc", "--source", "serial")]
    [InlineData("--influx is an address such as http://127.0.0.1:8086, or - for none; not 'server'.", "--site", "Riverbend", "--address", "plc", "--influx", "server")]
    [InlineData("--address names 2 hosts for 3 saws; name one for all of them, or one for each.", "--site", "Riverbend", "--address", "a,b", "--saws", "x,y,z")]
    [InlineData("--address names several brokers; name one here, and add others to the file.", "--site", "Riverbend", "--address", "a,b", "--saws", "x,y", "--source", "mqtt")]
    public void WrongOptions_AreOneLineEach_AndNothingIsWritten(string expected, params string[] arguments)
    {
        Assert.Equal((1, "", expected), Run(null, arguments));
        Assert.Empty(Directory.EnumerateFileSystemEntries(System.IO.Path.GetDirectoryName(Path)!));
    }

    [Theory]
    [InlineData("timeZone: ", "--time-zone", "Riverbend/Hall")]
    [InlineData("site: ", "--site", "a\"b\\c")]
    [InlineData("saws[1].name: ", "--saws", "one,one")]
    public void AnswersThatCheckRefuses_AreSaidAsItSaysThem_AndNothingIsWritten(string expected, params string[] arguments)
    {
        var (code, _, error) = Run(null, [.. arguments.Contains("--site") ? Array.Empty<string>() : ["--site", "Riverbend"], "--address", "192.0.2.10", .. arguments]);
        Assert.Equal(1, code);
        Assert.StartsWith(expected, error, StringComparison.Ordinal);
        Assert.EndsWith($"{Path} is not written.", error, StringComparison.Ordinal);
        Assert.Empty(Directory.EnumerateFileSystemEntries(System.IO.Path.GetDirectoryName(Path)!));
    }

    [Fact]
    public void AFolderThatIsNotThere_IsOneLine()
    {
        var (code, _, error) = Run(_folder.File("none/sawedge.json"), null, "--site", "Riverbend", "--address", "192.0.2.10");
        Assert.Equal(2, code);
        Assert.StartsWith($"{_folder.File("none/sawedge.json")} cannot be written: ", error, StringComparison.Ordinal);
    }

    private (int Code, string Output) Check()
    {
        using var output = new StringWriter();
        return (CheckCommand.Run(Path, new Dictionary<string, string>(), strict: false, output), output.ToString());
    }

    private (int Code, string Output, string Error) Run(Func<string, string?>? ask, params string[] arguments) => Run(Path, ask, arguments);

    private static (int Code, string Output, string Error) Run(string path, Func<string, string?>? ask, params string[] arguments)
    {
        using var output = new StringWriter();
        using var error = new StringWriter();
        var root = new RootCommand { InitCommand.Create(new Dictionary<string, string>(), TimeZoneInfo.Utc, ask) };
        var code = root.Parse(["init", path, .. arguments]).Invoke(new InvocationConfiguration { Output = output, Error = error });
        return (code, output.ToString().TrimEnd(), error.ToString().TrimEnd());
    }
}
