using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Tests.Configuration;

public class EnvironmentTests
{
    [Fact]
    public void Load_AVariable_LiesOverTheFile()
    {
        var options = Load(("SAWEDGE_influx__0__token", "from-outside"), ("SAWEDGE_devices__0__port", "1502"), ("SAWEDGE_saws__0__interval", "200 ms")).Options();
        Assert.Equal("from-outside", options.Influx[0].Token);
        Assert.Equal(1502, Assert.IsType<ModbusTcpDeviceOptions>(options.ModbusDevices[0]).Port);
        Assert.Equal(TimeSpan.FromMilliseconds(200), options.Saws[0].Interval);
    }

    [Fact]
    public void Load_AVariable_ReachesWhatIsNotInTheFile()
    {
        var options = Load(
            ("SAWEDGE_saws__0__machine__ratedPower", "7.5 hp"),
            ("SAWEDGE_saws__0__machine__firstCutOfBarIsTrim", "true"),
            ("SAWEDGE_saws__0__signals__motor_load__unit", "percent of rated"),
            ("SAWEDGE_saws__0__signals__mode__texts__2", "manual"),
            ("SAWEDGE_saws__0__signals__motor_load__scale", "0.5"),
            ("SAWEDGE_saws__1__topic", "other/topic")).Options();
        Assert.Equal(5.59275, options.Saws[0].Machine.RatedPowerKw!.Value, 5);
        Assert.True(options.Saws[0].Machine.FirstCutOfBarIsTrim);
        var signals = ((ModbusSourceOptions)options.Saws[0].Source).Signals;
        Assert.Equal(0.5 * 0.01 * 5.59275, signals.Single(signal => signal.Signal == Core.Signals.Signal.MotorLoad).Conversion.Apply(1), 6);
        Assert.Equal("manual", signals.Single(signal => signal.Signal == Core.Signals.Signal.Mode).Texts![2]);
        Assert.Equal("other/topic", ((MqttSourceOptions)options.Saws[1].Source).FrameTopic);
    }

    [Fact]
    public void Load_NamesInCapitals_AreFound()
    {
        Assert.Equal("T", Load(("SAWEDGE_INFLUX__0__TOKEN", "T")).Options().Influx[0].Token);
        Assert.Equal("/x", Load(("sawedge_DataFolder", "/x")).Options().DataFolder);
    }

    [Fact]
    public void Load_NewItems_AreAddedInOrder()
    {
        var options = Load(
            ("SAWEDGE_influx__2__name", "three"),
            ("SAWEDGE_influx__2__url", "https://three.example"),
            ("SAWEDGE_influx__2__bucket", "saws"),
            ("SAWEDGE_influx__2__token", "t"),
            ("SAWEDGE_influx__3__name", "four"),
            ("SAWEDGE_influx__3__url", "https://four.example"),
            ("SAWEDGE_influx__3__version", "1"),
            ("SAWEDGE_influx__3__database", "saws")).Options();
        Assert.Equal(["two", "one", "three", "four"], options.Influx.Select(server => server.Name));
        Assert.True(options.Influx[3].Version1);
    }

    [Fact]
    public void Load_AWholeListFromVariables_ComesInTheOrderOfItsNumbers()
    {
        var variables = Enumerable.Range(0, 12).SelectMany(i => new[] { ($"SAWEDGE_influx__{i}__name", $"n{i}"), ($"SAWEDGE_influx__{i}__url", $"https://h{i}.example"), ($"SAWEDGE_influx__{i}__bucket", "b"), ($"SAWEDGE_influx__{i}__token", "t") });
        var options = Sample.Load(Sample.With("influx", null), Variables([.. variables])).Options();
        Assert.Equal(Enumerable.Range(0, 12).Select(i => $"n{i}"), options.Influx.Select(server => server.Name));
    }

    [Fact]
    public void Load_AnEmptyVariable_CountsAsNotSet() => Assert.Equal("t", Load(("SAWEDGE_influx__0__token", "")).Options().Influx[0].Token);

    [Fact]
    public void Load_OtherVariables_AreLookedPast() => Assert.Empty(Load(("PATH", "/bin"), ("SAW_EDGE", "x"), ("SAWEDGE", "x")).Findings);

    [Theory]
    [InlineData("SAWEDGE_devices__0__port", "70000", "error devices[0].port: '70000' is out of range; write 1 to 65535")]
    [InlineData("SAWEDGE_devices__0__port", "high", "error devices[0].port: 'high' is no whole number; write for example 502")]
    [InlineData("SAWEDGE_devices__0__responseTimeout", "500", "error devices[0].responseTimeout: '500' has no unit; write for example 250 ms or 5 s")]
    [InlineData("SAWEDGE_saws__0__machine__firstCutOfBarIsTrim", "yes", "error saws[0].machine.firstCutOfBarIsTrim: 'yes' is no true or false; write true or false")]
    [InlineData("SAWEDGE_devices__0__prot", "502", "error devices[0]: 'prot' is not known here; did you mean 'port'?")]
    [InlineData("SAWEDGE_devices__2__port", "502", "error devices: '2' is no place in this list; write 0 to 1")]
    [InlineData("SAWEDGE_devices__plc__port", "502", "error devices: 'plc' is no place in this list; write 0 to 1")]
    [InlineData("SAWEDGE_devices", "x", "error devices: is a list; name one value in it, for example SAWEDGE_devices__0__name")]
    [InlineData("SAWEDGE_saws__0__machine", "x", "error saws[0].machine: is an object; name one value in it, for example SAWEDGE_saws__0__machine__ratedPower")]
    [InlineData("SAWEDGE_site__name", "x", "error site: is a single value; nothing can be set below it")]
    [InlineData("SAWEDGE_sites", "x", "warning : 'sites' is not known here; did you mean 'site'?")]
    [InlineData("SAWEDGE_PORT_8080_TCP", "tcp://10.0.0.1:8080", "warning : 'PORT_8080_TCP' is not known here; known here: $schema, site, gateway, dataFolder, timeZone, units, jobsFile, catalogueFile, loadScore, signals, history, record, devices, brokers, saws, influx, calendar, alarms, reports, dailyFiles, http, standby, telemetry, logging")]
    public void Load_AWrongVariable_IsReportedWithItsName(string variable, string value, string expected)
    {
        var loaded = Load((variable, value));
        Assert.Equal([expected], loaded.Lines());
        Assert.Equal(variable, loaded.Findings[0].Variable);
        Assert.Contains($"environment variable {variable}", loaded.Findings[0].ToString(), StringComparison.Ordinal);
    }

    [Fact]
    public void Load_OneSettingInTwoCapitalizations_IsAnError()
    {
        Assert.Equal(["error site: is set by SAWEDGE_SITE as well; keep one of the two"], Load(("SAWEDGE_SITE", "a"), ("SAWEDGE_site", "b")).Lines());
    }

    [Fact]
    public void Load_AFormInTheFileThatIsWrong_IsReportedInTheFile()
    {
        var loaded = Sample.Load(Sample.With("influx", "{}"), Variables(("SAWEDGE_influx__0__token", "x")));
        Assert.Equal(["error influx: is an object; write a list: [ ... ]"], loaded.Lines());
    }

    private static LoadedConfiguration Load(params (string, string)[] variables) => Sample.Load(Sample.With("", null), Variables(variables));

    private static Dictionary<string, string> Variables(params (string Name, string Value)[] variables) => variables.ToDictionary(variable => variable.Name, variable => variable.Value);
}
