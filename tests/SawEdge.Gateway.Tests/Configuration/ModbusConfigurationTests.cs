using SawEdge.Core.Signals;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Tests.Configuration;

/// <summary>Modbus devices of every kind, flags and rates: what is accepted, and what each slip is told.</summary>
public sealed class ModbusConfigurationTests
{
    private const string Serial = "{ \"name\": \"plc\", \"kind\": \"serial\", \"line\": \"/dev/ttyUSB0\" }";

    public static TheoryData<string, string?, string> WrongDevices => new()
    {
        { "devices[0].kind", "\"rtu\"", "error devices[0].kind: 'rtu' is not known; write \"tcp\", \"rtu_tcp\" or \"serial\"" },
        { "devices[0].line", "\"/dev/ttyUSB0\"", "error devices[0].line: belongs to kind \"serial\"; here kind is \"tcp\"" },
        { "devices[0].baud", "9600", "error devices[0].baud: belongs to kind \"serial\"; here kind is \"tcp\"" },
        { "devices[0].pause", "\"11 s\"", "error devices[0].pause: '11 s' is out of range; write 0 ms to 10 s" },
        { "devices[0]", "{ \"name\": \"plc\", \"kind\": \"serial\" }", "error devices[0].line: is missing; write for example \"/dev/ttyUSB0\"" },
        { "devices[0]", "{ \"name\": \"plc\", \"kind\": \"serial\", \"line\": \"ttyUSB0\" }", "error devices[0].line: 'ttyUSB0' is no serial line; write its full name, for example \"/dev/ttyUSB0\", or \"COM3\" on Windows" },
        { "devices[0]", Serial.Replace("}", ", \"host\": \"10.0.0.5\" }", StringComparison.Ordinal), "error devices[0].host: belongs to kind \"tcp\"; here kind is \"serial\"" },
        { "devices[0]", Serial.Replace("}", ", \"baud\": 110 }", StringComparison.Ordinal), "error devices[0].baud: 110 is out of range; write 300 to 4000000" },
        { "devices[0]", Serial.Replace("}", ", \"parity\": \"mark\" }", StringComparison.Ordinal), "error devices[0].parity: 'mark' is not known; write \"even\", \"odd\" or \"none\"" },
        { "devices[0]", Serial.Replace("}", ", \"stopBits\": 3 }", StringComparison.Ordinal), "error devices[0].stopBits: 3 is out of range; write 1 to 2" },
        { "devices[0]", Serial.Replace("}", ", \"dataBits\": 7 }", StringComparison.Ordinal), "error devices[0].dataBits: is not known here; known here: name, responseTimeout, pause, maximumGap, kind, line, baud, parity, stopBits" },
    };

    public static TheoryData<string, string, string> WrongSignals => new()
    {
        { "cutting", "{ \"address\": \"coil 3\", \"values\": [1] }", "error saws[0].signals.cutting.values: coil 3 is one bit; leave values out, and write invert where 0 means yes" },
        { "cutting", "{ \"address\": \"holding 5\", \"values\": [3, 4] }", "error saws[0].signals.cutting.values: belongs to a whole number; write its type beside it, for example \"type\": \"uint16\"" },
        { "cutting", "{ \"address\": \"holding 5\", \"type\": \"uint16\", \"values\": [3], \"bit\": 2 }", "error saws[0].signals.cutting.values: bit says already what means yes; leave one of the two out" },
        { "cutting", "{ \"address\": \"holding 5\", \"type\": \"uint16\", \"values\": [] }", "error saws[0].signals.cutting.values: is empty; write the raw values that mean yes, for example [3, 4]" },
        { "cutting", "{ \"address\": \"holding 5\", \"type\": \"uint16\", \"values\": 3 }", "error saws[0].signals.cutting.values: is a number; write a list: [ ... ]" },
        { "cutting", "{ \"address\": \"holding 5\", \"type\": \"uint16\", \"values\": [3, -1] }", "error saws[0].signals.cutting.values[1]: -1 cannot come from this type; write 0 to 65535" },
        { "cutting", "{ \"address\": \"holding 5\", \"type\": \"bcd16\", \"values\": [10000] }", "error saws[0].signals.cutting.values[0]: 10000 cannot come from this type; write 0 to 9999" },
        { "cutting", "{ \"address\": \"holding 5\", \"type\": \"uint32\", \"bit\": 32 }", "error saws[0].signals.cutting.bit: 32 is out of range; write 0 to 31" },
        { "cutting", "{ \"address\": \"holding 5\", \"type\": \"bcd16\", \"bit\": 2 }", "error saws[0].signals.cutting.bit: decimal digits hold no flags; leave type or bit out" },
        { "cutting", "{ \"address\": \"holding 5\", \"type\": \"float32\" }", "error saws[0].signals.cutting.type: 'float32' is not known; write \"bool\", \"uint16\", \"int16\", \"uint32\", \"int32\", \"uint64\", \"int64\", \"bcd16\" or \"bcd32\"" },
        { "job", "{ \"address\": \"holding 110\", \"type\": \"ascii\", \"registers\": 8, \"every\": \"50 ms\" }", "error saws[0].signals.job.every: 50 ms is shorter than the saw's interval, 100 ms; leave every out, or make the interval shorter" },
        { "job", "{ \"address\": \"holding 110\", \"type\": \"ascii\", \"registers\": 8, \"every\": 5 }", "error saws[0].signals.job.every: 5 has no unit; write for example \"250 ms\" or \"5 s\"" },
        { "head_position", "{ \"address\": \"holding 100\", \"type\": \"float32\", \"every\": \"5 s\" }", "warning saws[0].signals.head_position.every: cuts are found and timed by head_position, and no better than every 5 s; leave every out" },
        { "part_count", "{ \"address\": \"input 7\", \"type\": \"uint32\", \"every\": \"4 s\" }", "warning saws[0].signals.part_count.every: a cut whose part is not counted within 5 s after its end is taken for a trim cut; write \"3 s\" or less" },
        { "job", "{ \"address\": \"holding 110\", \"type\": \"ascii\", \"registers\": 8, \"every\": \"1 min\" }", "warning saws[0].signals.job.every: a cut gets the job that was read before its head went down, which may be that of the cut before; write \"10 s\" or less" },
        { "motor_load", "{ \"address\": \"holding 102\", \"type\": \"uint16\", \"every\": \"2500 ms\" }", "warning saws[0].signals.motor_load.every: cuts are found and timed by motor_load, and no better than every 2.5 s; leave every out" },
    };

    [Theory]
    [MemberData(nameof(WrongDevices))]
    public void Load_OneMistakeOfADevice_IsReportedWithItsPathAndNothingElse(string path, string? json, string expected) =>
        Assert.Equal([expected], Sample.Load(Sample.With(path, json)).Lines());

    [Theory]
    [MemberData(nameof(WrongSignals))]
    public void Load_OneMistakeOfASignal_IsReportedWithItsPathAndNothingElse(string signal, string json, string expected) =>
        Assert.Equal([expected], Sample.Load(Sample.With($"saws[0].signals.{signal}", json)).Lines());

    [Fact]
    public void Load_ADeviceOfEachKind_BecomesItsOptions()
    {
        Assert.Equal(new ModbusTcpDeviceOptions { Name = "plc", Host = "10.0.0.5", Pause = TimeSpan.FromMilliseconds(20) }, Device("{ \"name\": \"plc\", \"kind\": \"tcp\", \"host\": \"10.0.0.5\", \"pause\": \"20 ms\" }"));
        Assert.Equal(new ModbusTcpDeviceOptions { Name = "plc", Host = "10.0.0.5", Port = 4001, IsRtu = true }, Device("{ \"name\": \"plc\", \"kind\": \"rtu_tcp\", \"host\": \"10.0.0.5\", \"port\": 4001 }"));
        Assert.Equal(new ModbusSerialDeviceOptions { Name = "plc", Line = "/dev/ttyUSB0" }, Device(Serial));
        Assert.Equal(
            new ModbusSerialDeviceOptions { Name = "plc", Line = "COM3", Baud = 9600, Parity = LineParity.Odd, StopBits = 2, ResponseTimeout = TimeSpan.FromMilliseconds(300) },
            Device("{ \"name\": \"plc\", \"kind\": \"serial\", \"line\": \"COM3\", \"baud\": 9600, \"parity\": \"odd\", \"stopBits\": 2, \"responseTimeout\": \"300 ms\" }"));
    }

    // Modbus over Serial Line V1.02, clause 2.5.1: without parity a second stop bit fills up the eleven bits of a character.
    [Theory]
    [InlineData("none", null, 2, 11)]
    [InlineData("none", "1", 1, 10)]
    [InlineData("even", null, 1, 11)]
    public void Load_StopBitsLeftOut_FollowTheParity(string parity, string? stopBits, int expected, int bitsPerByte)
    {
        var device = Assert.IsType<ModbusSerialDeviceOptions>(Device(Serial.Replace("}", $", \"parity\": \"{parity}\"{(stopBits is null ? "" : $", \"stopBits\": {stopBits}")} }}", StringComparison.Ordinal)));
        Assert.Equal((expected, bitsPerByte), (device.StopBits, device.BitsPerByte));
    }

    [Fact]
    public void Load_AFlagOfAStateWord_HoldsItsValues()
    {
        var flag = Signal("cutting", "{ \"address\": \"holding 5\", \"type\": \"uint16\", \"values\": [3, 4], \"invert\": true }");
        Assert.Equal((RegisterType.UInt16, true), (flag.Type, flag.Invert));
        Assert.Equal([3, 4], flag.Values);
        flag = Signal("cutting", "{ \"address\": \"holding 5\", \"type\": \"uint32\", \"bit\": 17, \"order\": \"cdab\" }");
        Assert.Equal((RegisterType.UInt32, 17, WordOrder.Cdab), (flag.Type, flag.Bit, flag.Order));
        Assert.Equal(RegisterType.Bcd32, Signal("part_count", "{ \"address\": \"input 7\", \"type\": \"bcd32\" }").Type);
    }

    [Fact]
    public void Load_ARateOfItsOwn_IsKeptWhereItIsSlowerThanTheSaw()
    {
        Assert.Equal(TimeSpan.FromSeconds(5), Signal("job", "{ \"address\": \"holding 110\", \"type\": \"ascii\", \"registers\": 8, \"every\": \"5 s\" }").Every);
        Assert.Null(Signal("job", "{ \"address\": \"holding 110\", \"type\": \"ascii\", \"registers\": 8, \"every\": \"100 ms\" }").Every);
    }

    [Fact]
    public void Load_NothingReadEachTime_IsAnError()
    {
        var saw = """{ "name": "saw-1", "source": "modbus", "device": "plc", "signals": { "motor_load": { "address": "holding 102", "type": "uint16", "every": "1 s" }, "cutting": { "address": "coil 3", "every": "1 s" } } }""";
        Assert.Equal(
            ["error saws[0].signals: every signal has \"every\"; leave it out of one at least, or make the saw's interval as long as the shortest of them"],
            Sample.Load(Sample.With("saws[0]", saw)).Lines());
    }

    [Theory]
    [InlineData(Serial, "0", "error saws[0].unit: 0 speaks to every unit of the line at once, and none answers; write the unit's own number, 1 to 247")]
    [InlineData(Serial, "248", "error saws[0].unit: 248 is no unit of a serial line; write 1 to 247")]
    [InlineData("{ \"name\": \"plc\", \"kind\": \"rtu_tcp\", \"host\": \"10.0.0.5\" }", "0", "error saws[0].unit: 0 speaks to every unit of the line at once, and none answers; write the unit's own number, 1 to 247")]
    [InlineData("{ \"name\": \"plc\", \"kind\": \"rtu_tcp\", \"host\": \"10.0.0.5\" }", "255", "warning saws[0].unit: 255 is no unit of a serial line (1 to 247); is the number right?")]
    public void Load_AUnitThatNoSerialLineHas_IsReported(string device, string unit, string expected) =>
        Assert.Equal([expected], Sample.Load(Sample.With(("devices[0]", device), ("saws[0].unit", unit))).Lines());

    [Theory]
    [InlineData("0")]
    [InlineData("255")]
    public void Load_AnyUnitOverTcp_IsAccepted(string unit) => Assert.Empty(Sample.Load(Sample.With("saws[0].unit", unit)).Findings);

    [Fact]
    public void Load_TwoDevicesOnOneLineOrAddress_AreReported()
    {
        var second = """{ "name": "saw-3", "source": "modbus", "device": "other", "signals": { "motor_load": { "address": "holding 2", "type": "uint16" }, "cutting": { "address": "coil 3" } } }""";
        Assert.Equal(
            ["error devices[1].line: '/dev/ttyUSB0' is the line of devices[0] already, and only one can hold it open; give their saws the same device, each with its own unit"],
            Sample.Load(Sample.With(("devices[0]", Serial), ("devices[1]", Serial.Replace("plc", "other", StringComparison.Ordinal)), ("saws[2]", second))).Lines());
        Assert.Equal(
            ["warning devices[1]: has the same address as devices[0]; one connection serves all units behind an address; give both saws the same device"],
            Sample.Load(Sample.With(("devices[1]", "{ \"name\": \"other\", \"kind\": \"rtu_tcp\", \"host\": \"10.0.0.5\" }"), ("saws[2]", second))).Lines());
    }

    // At 9600 baud and 11 bits a byte: 1.1458 ms. Head and load 5 registers with the gap: 13 + 6 bytes and two silences of 3.5 bytes; cutting
    // 13 + 1 bytes; mode and job 104 to 117 joined with them: holding 100 to 117 is 18 registers, 36 bytes; part count 2 registers, 4 bytes.
    // (13 + 36 + 7) + (13 + 1 + 7) + (13 + 4 + 7) = 101 bytes = 115.7 ms of every 100 ms.
    [Fact]
    public void Load_MoreThanTheLineHasTimeFor_IsSaidWithTheNumbers()
    {
        var slow = Serial.Replace("}", ", \"baud\": 9600 }", StringComparison.Ordinal);
        Assert.Equal(
            ["warning devices[0].baud: reading saw-1 takes the line 116 ms of every 100 ms at 9600 baud (3 requests for 41 bytes of values, the units' own time not counted); make the interval \"150 ms\" or longer, raise baud, or read slow signals less often with \"every\""],
            Sample.Load(Sample.With("devices[0]", slow)).Lines());
        Assert.Empty(Sample.Load(Sample.With(("devices[0]", slow), ("saws[0].interval", "\"150 ms\""))).Findings);
        Assert.Empty(Sample.Load(Sample.With("devices[0]", Serial)).Findings);
        var text = "{ \"address\": \"holding 110\", \"type\": \"ascii\", \"registers\": 8, \"every\": \"5 s\" }";
        Assert.Empty(Sample.Load(Sample.With(("devices[0]", slow), ("saws[0].signals.job", text), ("saws[0].signals.part_count.every", "\"2 s\""))).Findings);

        // At 19200 baud half of it, 57.9 ms; a pause between requests takes the place of three silences of 2.0 ms.
        Assert.Contains("151 ms of every 100 ms", Assert.Single(Sample.Load(Sample.With("devices[0]", Serial.Replace("}", ", \"pause\": \"33 ms\" }", StringComparison.Ordinal))).Lines()), StringComparison.Ordinal);
    }

    private static ModbusDeviceOptions Device(string json) => Sample.Load(Sample.With(("devices[0]", json), ("saws[0].interval", "\"2 s\""))).Options().ModbusDevices[0];

    private static RegisterMapping Signal(string name, string json)
    {
        var options = Sample.Load(Sample.With($"saws[0].signals.{name}", json)).Options();
        var info = SignalInfo.All.Single(signal => signal.Name == name);
        return ((ModbusSourceOptions)options.Saws[0].Source).Signals.Single(mapping => mapping.Signal == info.Signal);
    }
}
