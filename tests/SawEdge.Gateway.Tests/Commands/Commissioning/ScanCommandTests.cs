using System.Globalization;
using System.Text.Json;
using SawEdge.Gateway.Commands;
using SawEdge.Gateway.Tests.Acquisition.Modbus;
using SawEdge.Modbus.Tests;
using SawEdge.Modbus.Tests.Peers;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Commands.Commissioning;

/// <summary><c>scan</c> as a person uses it, before our own device and before servers and calculators that are not ours.</summary>
public sealed class ScanCommandTests
{
    // The values and places are those of Peers/typed_values.py and typed_values.c.
    private static readonly (string Find, string Address, string Mapping)[] TypedValues =
    [
        ("123.456 A", "holding 130", """{ "address": "holding 130", "type": "float32", "unit": "A" }"""),
        ("123.456 mm", "holding 132", """{ "address": "holding 132", "type": "float32", "order": "cdab", "unit": "mm" }"""),
        ("123.456", "holding 134", """{ "address": "holding 134", "type": "float32", "order": "badc" }"""),
        ("123.456", "holding 136", """{ "address": "holding 136", "type": "float32", "order": "dcba" }"""),
        ("5432.1 W", "holding 100", """{ "address": "holding 100", "type": "uint16", "unit": "0.1 W" }"""),
        ("-12.345", "holding 101", """{ "address": "holding 101", "type": "int16", "scale": 0.001 }"""),
        ("3735928559", "holding 110", """{ "address": "holding 110", "type": "uint32" }"""),
        ("3735928559", "holding 112", """{ "address": "holding 112", "type": "uint32", "order": "cdab" }"""),
        ("3735928559", "holding 114", """{ "address": "holding 114", "type": "uint32", "order": "badc" }"""),
        ("3735928559", "holding 116", """{ "address": "holding 116", "type": "uint32", "order": "dcba" }"""),
        ("-12345678.9", "holding 120", """{ "address": "holding 120", "type": "int32", "scale": 0.1 }"""),
        ("-98765.4321", "holding 140", """{ "address": "holding 140", "type": "float64" }"""),
        ("-98765.4321", "holding 144", """{ "address": "holding 144", "type": "float64", "order": "cdab" }"""),
        ("-98765.4321", "holding 148", """{ "address": "holding 148", "type": "float64", "order": "badc" }"""),
        ("-98765.4321", "holding 152", """{ "address": "holding 152", "type": "float64", "order": "dcba" }"""),
        ("BAR-4711", "holding 200", """{ "address": "holding 200", "type": "ascii", "registers": 16 }"""),
        ("BAR-4711", "holding 220", """{ "address": "holding 220", "type": "ascii", "order": "badc", "registers": 16 }"""),
    ];

    [PeerFact(ModbusPeers.Python, ModbusPeers.Pymodbus)]
    public async Task Find_TypedValuesOfPymodbus_EachIsFoundWhereItLies()
    {
        var port = Peer.FreePort();
        await using var server = await ModbusPeers.StartPymodbusAsync(port);
        await FindsAllAsync(port);
    }

    [PeerFact(ModbusPeers.Compiler, ModbusPeers.Libmodbus)]
    public async Task Find_TypedValuesOfLibmodbus_EachIsFoundWhereItLies()
    {
        using var folder = new TempFolder();
        var port = Peer.FreePort();
        await using var server = await ModbusPeers.StartLibmodbusAsync(port, folder);
        await FindsAllAsync(port);
    }

    [PeerFact(ModbusPeers.Compiler, ModbusPeers.Libmodbus)]
    public async Task Scan_BehindTheEndOfALibmodbusServer_WhatIsThereIsRead()
    {
        using var folder = new TempFolder();
        var port = Peer.FreePort();
        await using var server = await ModbusPeers.StartLibmodbusAsync(port, folder);
        var (code, output, error) = await Commissioned.ScanAsync(port, "holding 220", "400");
        Assert.Empty(error);
        Assert.Equal(ExitCodes.Done, code);
        Assert.Matches("holding 220 to 619, [0-9]+ of 400 read in [0-9]+ requests", output[0]);
        Assert.Contains(output, line => line.EndsWith(" to 619: not there", StringComparison.Ordinal));
        Assert.Contains(output, line => line.StartsWith("  220 4142", StringComparison.Ordinal));
    }

    [PeerFact(ModbusPeers.Compiler, ModbusPeers.Libmodbus, ModbusPeers.Socat)]
    public async Task Find_TypedValuesOfLibmodbusOnASerialLine_AreFoundWhereTheyLie()
    {
        using var folder = new TempFolder();
        await using var cable = await SerialCable.LayAsync(folder);
        await using var server = await ModbusPeers.StartLibmodbusAsync(cable.Far, folder);
        string[] scan = ["scan", "--line", cable.Near, "--parity", "none", "--timeout", "10 s", "holding 98", "150"];
        foreach (var (find, address, mapping) in TypedValues.Take(4))
        {
            var (code, output, error) = await Commissioned.RunAsync([.. scan, "--find", find]);
            Assert.Empty(error);
            Assert.Equal(ExitCodes.Done, code);
            Assert.StartsWith($"{cable.Near}, unit 1: holding 98 to 247, 150 of 150 read in 2 requests", output[0], StringComparison.Ordinal);
            Assert.Contains(output, line => line.StartsWith($"  {address} ", StringComparison.Ordinal) && line.EndsWith(mapping, StringComparison.Ordinal));
        }
    }

    [Fact]
    public async Task Scan_NoSuchLine_SaysSoAndThatTheGatewayMayHaveIt()
    {
        var (code, output, error) = await Commissioned.RunAsync("scan", "--line", "/dev/ttyNONE7", "holding 0");
        Assert.Equal(ExitCodes.Failed, code);
        Assert.Empty(output);
        Assert.StartsWith("/dev/ttyNONE7, unit 1, holding registers 0 to 49: there is no such serial line.", error[0], StringComparison.Ordinal);
        Assert.Equal("A serial line belongs to one program at a time: if the gateway has it, stop the gateway while you look.", error[1]);
    }

    [PeerFact(ModbusPeers.Python)]
    public async Task Csv_AnyRegisters_AgreesWithPythonsStruct()
    {
        // A thousand registers, among them every kind of floating number.
        var random = new Random(11);
        var words = Enumerable.Range(0, 1000).Select(_ => (ushort)random.Next(65536)).ToArray();
        ushort[] special = [0, 0, 0x7F80, 0, 0xFF80, 0, 0x7FC0, 0, 0, 1, 0x8000, 0, 0x7F7F, 0xFFFF, 0x3F80, 0, 0x9999, 0x9999, 0x999A, 0x1234];
        special.CopyTo(words, 100);
        await using var device = new RegisterDevice();
        device.Set(0, words);
        var (code, output, error) = await Commissioned.ScanAsync(device.Port, "holding 0", "1000", "--format", "csv");
        Assert.Empty(error);
        Assert.Equal(ExitCodes.Done, code);

        const string Program = """
            import struct, sys
            w = [int(x, 16) for x in sys.argv[1].split(',')]
            def u(fmt, *words): return struct.unpack('>' + fmt, struct.pack('>%dH' % len(words), *words))[0]
            def bcd(x): s = '%X' % x; return s if s.isdigit() else ''
            for i in range(len(w)):
                row = ['holding %d' % i, 'read', '%04X' % w[i], u('H', w[i]), u('h', w[i]), bcd(w[i])]
                for a, b in ((0, 1), (1, 0)):
                    row += [u(f, w[i + a], w[i + b]) for f in 'Iif'] if i + 1 < len(w) else [''] * 3
                print(','.join(str(x) for x in row))
            """;
        var (exit, expected) = await Peer.RunAsync(ModbusPeers.Python, ["-c", Program, string.Join(',', words.Select(word => word.ToString("X4", CultureInfo.InvariantCulture)))]);
        Assert.True(exit == 0, expected);
        var rows = expected.Split('\n');
        Assert.Equal(1000, rows.Length);
        Assert.Equal("address,state,hex,uint16,int16,bcd16,uint32_abcd,int32_abcd,float32_abcd,uint32_cdab,int32_cdab,float32_cdab", output[0]);
        for (var i = 0; i < rows.Length; i++)
        {
            var (theirs, ours) = (rows[i].Split(','), output[i + 1].Split(','));
            Assert.Equal(theirs.Length, ours.Length);
            for (var column = 0; column < theirs.Length; column++)
            {
                if (column is not (8 or 11))
                    Assert.Equal(theirs[column], ours[column]);
                else if (theirs[column] is "nan" or "inf" or "-inf" or "")
                    Assert.Equal("", ours[column]);
                else
                    Assert.Equal((float)double.Parse(theirs[column], CultureInfo.InvariantCulture), float.Parse(ours[column], CultureInfo.InvariantCulture));
            }
        }
    }

    [Fact]
    public async Task Find_AmpereInAnUndocumentedBlock_IsTheFirstPlaceAndItsMappingIsAccepted()
    {
        // As controllers are: counters, setpoints, texts, temperatures, and one value in tenths of an ampere.
        await using var device = new RegisterDevice();
        device.Set(
            100,
            [3, 1, 0, 1450, 400, 65436, 2, 0x4F42, 0x2D31, 0x3138, 0x3000, 0, 8, 0, 217, 0, 4, 127, 800, 0, 23, 60, 0, 12, 1, 0, 0x42A0, 0x6666, 9, 9999]);
        var (code, output, error) = await Commissioned.ScanAsync(device.Port, "holding 100", "30", "--find", "12.7 A");
        Assert.Empty(error);
        Assert.Equal(ExitCodes.Done, code);
        Assert.Equal("1 place gives '12.7 A' (12.65 to 12.75), the likeliest first. Let the value change and look again before you trust one.", output[1]);
        Assert.Equal("""  holding 117   uint16 x 0.1        12.7      { "address": "holding 117", "type": "uint16", "unit": "0.1 A" }""", output[2]);

        using var folder = new TempFolder();
        var file = Commissioned.Configure(folder, device.Port, $$"""
            "head_position": { "address": "holding 104", "type": "uint16" }, "motor_load": {{output[2][output[2].IndexOf('{', StringComparison.Ordinal)..]}}
            """);
        await File.WriteAllTextAsync(file, (await File.ReadAllTextAsync(file)).Replace("\"name\": \"north\",", "\"name\": \"north\", \"machine\": { \"ratedPower\": \"5.5 kW\", \"ratedCurrent\": \"11.5 A\" },", StringComparison.Ordinal));
        var loaded = Gateway.Configuration.ConfigurationFile.Load(file, new Dictionary<string, string>());
        Assert.True(loaded.Options is not null, string.Join('\n', loaded.Errors));
    }

    [Fact]
    public async Task Scan_GoldenPicture_FitsItsColumns()
    {
        await using var device = new RegisterDevice();

        // 25.25, and 12.34 in the other order; every number of the picture was worked out by Python's struct too.
        device.Set(100, 0x41CA, 0x0000, 0x70A4, 0x4145, 0xFF9C, 0x1234, 0x4F42, 0x2D31, 0, 0, 0, 0, 0, 7);
        var (_, output, _) = await Commissioned.ScanAsync(device.Port, "40101", "18");
        Assert.Equal(
            $"""
            127.0.0.1:{device.Port}, unit 1: holding 100 to 117, 14 of 18 read in {device.Requests.Count} requests
                                            with the next register, abcd    with the next register, cdab
             addr hex  uint16  int16 ch  bcd     uint32      int32   float32     uint32      int32   float32
              100 41CA  16842        A.      1103757312                25.25      16842
              101 0000      0        ..    0      28836                      1889796096
              102 70A4  28836        p.      1889812805                      1095069860                12.34
              103 4145  16709        AE 4145 1095106460              12.3749 4288430405   -6536891
              104 FF9C  65436   -100 ..      4288418356   -6548940            305463196
              105 1234   4660        .4 1234  305418050                      1329730100
              106 4F42  20290        OB      1329737009                       758206274
              107 2D31  11569        -1       758185984                           11569
              108 to 112: all 0
              113 0007      7        ..    7
              114 to 117: not there
            """.Split('\n'),
            output);
        Assert.All(output, line => Assert.True(line.Length <= 96, line));
    }

    [Fact]
    public async Task Scan_Bits_ShowsThemAndListsThoseThatAreSet()
    {
        await using var device = new RegisterDevice();
        for (var i = 0; i < 18; i++)
            device.Values[(2, 10 + i)] = (ushort)(i is 1 or 17 ? 1 : 0);
        var (code, output, _) = await Commissioned.ScanAsync(device.Port, "discrete", "10", "20");
        Assert.Equal(ExitCodes.Done, code);
        Assert.Equal(
            [
                " addr +0 +1 +2 +3 +4 +5 +6 +7 +8 +9 +A +B +C +D +E +F",
                "   10  .  1  .  .  .  .  .  .  .  .  .  .  .  .  .  .",
                "   26  .  1  ?  ?",
                "Set (1): 11, 27.",
                "?: not read; the device has no such bit, or did not answer.",
            ],
            output[1..]);
    }

    [Fact]
    public async Task Times_AValueThatMoves_IsToldWithItsSpan()
    {
        await using var device = new RegisterDevice();
        device.Set(0, 5, 3000, 0x42C8, 0, 77);
        var readings = 0;
        device.Before = _ =>
        {
            // A head that comes down from 300.0 in tenths, and 100 as a float that grows by a half.
            device.Set(1, (ushort)(3000 - (10 * readings)));
            device.Set(2, (ushort)(BitConverter.SingleToUInt32Bits(100 + (readings / 2f)) >> 16), (ushort)BitConverter.SingleToUInt32Bits(100 + (readings / 2f)));
            readings++;
            return null;
        };
        var (code, output, error) = await Commissioned.ScanAsync(device.Port, "holding 0", "5", "--times", "6", "--every", "10 ms");
        Assert.Equal(ExitCodes.Done, code);
        Assert.Equal(["Reading 6 times, every 0.01 s; Ctrl+C shows what was seen until then."], error);
        Assert.Equal("Read 6 times: 2 of 5 registers changed.", output[1]);
        Assert.Contains("    1       5 0BB8  0B86  uint16 2950 to 3000", output);
        Assert.Contains("    2  float32 abcd 100 to 102.5", output);
        Assert.DoesNotContain(output, line => line.StartsWith("    4 ", StringComparison.Ordinal));
    }

    [Fact]
    public async Task Json_IsOneObjectWithCandidates()
    {
        await using var device = new RegisterDevice();
        device.Set(0, 0x41CA, 0);
        var (_, output, _) = await Commissioned.ScanAsync(device.Port, "holding 0", "3", "--find", "25.25", "--format", "json");
        using var json = JsonDocument.Parse(string.Join('\n', output));
        var root = json.RootElement;
        Assert.Equal((3, 2), (root.GetProperty("count").GetInt32(), root.GetProperty("read").GetInt32()));
        var register = root.GetProperty("registers")[0];
        Assert.Equal(("holding 0", "41CA", 25.25), (register.GetProperty("address").GetString(), register.GetProperty("hex").GetString(), register.GetProperty("float32_abcd").GetDouble()));
        Assert.Equal("not_there", root.GetProperty("registers")[2].GetProperty("state").GetString());
        Assert.Equal("float32", root.GetProperty("candidates")[0].GetProperty("type").GetString());
    }

    [Theory]
    [InlineData("First register: 'holdin 0' names no table; did you mean 'holding'?", "holdin 0")]
    [InlineData("'many' is no count; write a whole number, for example 50.", "holding 0", "many")]
    [InlineData("From holding 65530 on there are 1 to 6; 10 were asked for.", "holding 65530", "10")]
    [InlineData("'9' is one word too many; write device, first register, count.", "holding 0", "5", "9")]
    [InlineData("--find: '12,7 A': write decimals with a point, for example \"12.7 A\".", "holding 0", "--find", "12,7 A")]
    [InlineData("--find: a number as the panel shows it is wanted, for example \"12.7 A\", or a text of two characters or more.", "holding 0", "--find", "x")]
    [InlineData("--tolerance: a number of 0 or more is wanted.", "holding 0", "--find", "1", "--tolerance", "-1")]
    [InlineData("--unit: a number from 0 to 255 is wanted.", "holding 0", "--unit", "256")]
    [InlineData("--times: a number from 1 to 100000 is wanted.", "holding 0", "--times", "0")]
    [InlineData("--every: '5' has no unit; write for example 250 ms or 5 s.", "holding 0", "--every", "5")]
    [InlineData("--host or --line: a device is on the network or on a serial line.", "holding 0", "--line", "/dev/ttyUSB0")]
    public async Task Scan_WrongWords_AreRefusedWithOneSentence(string expected, params string[] arguments)
    {
        var (code, output, error) = await Commissioned.ScanAsync(1, arguments);
        Assert.Equal([expected], error);
        Assert.Empty(output);
        Assert.Equal(ExitCodes.WrongInput, code);
    }

    [Fact]
    public async Task Scan_ByConfiguration_FindsDeviceAndUnitBySawOrDevice()
    {
        await using var device = new RegisterDevice();
        device.Set(0, 4711);
        using var folder = new TempFolder();
        var file = Commissioned.Configure(folder, device.Port, """ "head_position": { "address": "holding 0", "type": "uint16" }, "motor_load": { "address": "holding 1", "type": "uint16" } """);

        var (code, output, _) = await Commissioned.RunAsync("scan", "quay", "holding 0", "1", "--config", file);
        Assert.Equal(ExitCodes.Done, code);
        Assert.StartsWith($"plc, 127.0.0.1:{device.Port}, unit 2: holding 0, 1 of 1 read in 1 request", output[0], StringComparison.Ordinal);
        Assert.Equal((2, 3, 0, 1), Assert.Single(device.Requests));

        Assert.Equal(["Device 'plc' has the units 1, 2; say which with --unit, or name the saw."], (await Commissioned.RunAsync("scan", "plc", "holding 0", "--config", file)).Error);
        Assert.Equal(ExitCodes.Done, (await Commissioned.RunAsync("scan", "plc", "holding 0", "1", "--unit", "7", "--config", file)).Code);
        Assert.Equal(7, device.Requests[^1].Unit);
        Assert.Equal(["There is no Modbus device or saw 'nort'; did you mean 'north'?"], (await Commissioned.RunAsync("scan", "nort", "holding 0", "--config", file)).Error);
    }

    [Fact]
    public async Task Scan_NobodyListens_SaysWhatToCheckAndThatTheGatewayMayHoldTheDevice()
    {
        var (code, output, error) = await Commissioned.ScanAsync(Peer.FreePort(), "holding 0");
        Assert.Equal(ExitCodes.Failed, code);
        Assert.Empty(output);
        Assert.Contains("the connection was refused: nothing listens there", error[0], StringComparison.Ordinal);
        Assert.Equal("Some devices take one client only, and the running gateway may be that one: stop the gateway while you look, or raise the number of clients in the device.", error[1]);
    }

    [Fact]
    public async Task Scan_DeviceDiesInTheMiddle_ShowsWhatWasReadAndEndsAsFailed()
    {
        await using var device = new RegisterDevice();
        device.Set(0, Enumerable.Repeat((ushort)7, 500).ToArray());
        device.Before = request =>
        {
            if (request[9] >= 125)
                device.Silent[1] = true;
            return null;
        };
        var (code, output, error) = await Commissioned.ScanAsync(device.Port, "holding 0", "500", "--timeout", "100 ms");
        Assert.Equal(ExitCodes.Failed, code);
        Assert.Contains("holding 0 to 499, 250 of 500 read", output[0], StringComparison.Ordinal);
        Assert.StartsWith("Broken off after ", error[0], StringComparison.Ordinal);
    }

    [Fact]
    public async Task Scan_RegistersThatWouldSteerATerminal_AreShownAsDots()
    {
        await using var device = new RegisterDevice();

        // Escape, bell, the C1 control sequence introducer, delete, carriage return.
        device.Set(0, 0x1B5B, 0x324A, 0x0707, 0x9B32, 0x7F0D, 0x4142, 0);
        foreach (var format in new[] { "text", "json", "csv" })
        {
            var (_, output, _) = await Commissioned.ScanAsync(device.Port, "holding 0", "7", "--format", format, "--find", "AB");
            Assert.All(output, line => Assert.DoesNotContain(line, c => char.IsControl(c)));
        }

        var (_, table, _) = await Commissioned.ScanAsync(device.Port, "holding 0", "7");
        Assert.All(table, line => Assert.DoesNotContain(line, c => char.IsControl(c)));
        Assert.Contains(table, line => line.StartsWith("    0 1B5B   7003        .[", StringComparison.Ordinal));
    }

    private static async Task FindsAllAsync(int port)
    {
        foreach (var (find, address, mapping) in TypedValues)
        {
            var (code, output, error) = await Commissioned.ScanAsync(port, "holding 98", "150", "--find", find);
            Assert.Empty(error);
            Assert.Equal(ExitCodes.Done, code);
            Assert.Contains(output, line => line.StartsWith($"  {address} ", StringComparison.Ordinal) && line.EndsWith(mapping, StringComparison.Ordinal));
        }
    }
}
