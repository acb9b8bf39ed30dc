using System.Reflection;

namespace SawEdge.Modbus.Tests;

/// <summary>
/// The safety property: this library cannot write to a controller. The function codes that write are 05, 06, 15, 16, 22 and
/// 23 (Modbus Application Protocol V1.1b3, clause 5.1 and 6); nothing but 01 to 04 may ever leave.
/// </summary>
public sealed class ReadOnlyTests
{
    private static readonly byte[] Writing = [5, 6, 15, 16, 22, 23];
    private const BindingFlags Everything = BindingFlags.Public | BindingFlags.NonPublic | BindingFlags.Static | BindingFlags.Instance | BindingFlags.DeclaredOnly;

    [Fact]
    public void TheTables_AreTheFourThatCanBeRead() =>
        Assert.Equal([1, 2, 3, 4], Enum.GetValues<ModbusTable>().Select(table => (int)table));

    [Fact]
    public void TheInterface_HasNothingButConnectingAndReading() =>
        Assert.Equal(
            ["ConnectAsync", "ReadBitsAsync", "ReadRegistersAsync", "get_Connections", "get_IsConnected", "get_LateAnswers", "get_SampledAt"],
            typeof(IModbusReader).GetMethods().Select(method => method.Name).Order(StringComparer.Ordinal));

    [Fact]
    public void NoNameInTheAssembly_SpeaksOfWriting()
    {
        string[] words = ["Write", "Force", "Preset", "Mask"];
        var names = typeof(IModbusReader).Assembly.GetTypes().SelectMany(type => type.GetMembers(Everything).Select(member => $"{type.Name}.{member.Name}").Append(type.Name));
        Assert.DoesNotContain(names, name => words.Any(word => name.Contains(word, StringComparison.OrdinalIgnoreCase)));
    }

    [Fact]
    public void NoByteConstantOrFunctionTable_HoldsACodeThatWrites()
    {
        // Exception codes are answers of a device, never sent; they share numbers with functions.
        var literals = typeof(IModbusReader).Assembly.GetTypes()
            .Where(type => type != typeof(ModbusExceptionCode))
            .SelectMany(type => type.GetFields(Everything))
            .Where(field => field.IsLiteral && (field.FieldType == typeof(byte) || field.FieldType.IsEnum))
            .Select(field => (Name: $"{field.DeclaringType!.Name}.{field.Name}", Value: Convert.ToInt64(field.GetRawConstantValue(), null)))
            .ToList();
        Assert.NotEmpty(literals);
        Assert.DoesNotContain(literals, literal => Writing.Contains((byte)literal.Value));
    }

    [Fact]
    public void Encode_ARequestThatNoConstructorMade_WritesNothing()
    {
        var bytes = new byte[MbapFrame.RequestLength];
        Assert.Throws<ArgumentException>(() => ModbusPdu.Encode(default, bytes));
        Assert.ThrowsAny<ArgumentException>(() => RtuFrame.Encode(default, bytes));
        Assert.All(bytes, b => Assert.Equal(0, b));
    }

    [Fact]
    public async Task WhateverIsAskedFor_OnlyReadFunctionsLeave()
    {
        await using var fixture = new ReaderFixture(ScriptedDevice.Correct);
        var taken = 0;
        for (var forced = 0; forced <= byte.MaxValue; forced++)
        {
            var table = (ModbusTable)forced;
            foreach (var (address, quantity) in new[] { (0, 1), (16, 125), (65535, 1), (0x0FF0, 5) })
            {
                taken += await TriesAsync(() => fixture.Reader.ReadRegistersAsync((byte)forced, table, (ushort)address, new ushort[quantity], default)) ? 1 : 0;
                taken += await TriesAsync(() => fixture.Reader.ReadBitsAsync((byte)forced, table, (ushort)address, new bool[quantity], default)) ? 1 : 0;
            }
        }

        // Four tables, each by its own method, four ranges.
        Assert.Equal(16, taken);
        Assert.Equal(taken, fixture.Device.Requests.Count);
        Assert.All(fixture.Device.Requests, request =>
        {
            Assert.InRange(request[7], 1, 4);
            Assert.Equal(6, request[5]);
        });
    }

    [Fact]
    public async Task WhateverIsAskedForByRtu_OnlyReadFunctionsLeave()
    {
        await using var device = new ScriptedDevice(RtuDevice.Correct);
        await using var reader = new ModbusRtuReader(new ModbusTcpOptions { Host = "127.0.0.1", Port = device.Port }, TimeProvider.System);
        var taken = 0;
        for (var forced = 0; forced <= byte.MaxValue; forced++)
        {
            var table = (ModbusTable)forced;
            foreach (var (address, quantity) in new[] { (0, 1), (16, 125), (65535, 1), (0x0FF0, 5) })
            {
                foreach (var unit in new[] { (byte)1, (byte)forced })
                {
                    taken += await TriesAsync(() => reader.ReadRegistersAsync(unit, table, (ushort)address, new ushort[quantity], default)) ? 1 : 0;
                    taken += await TriesAsync(() => reader.ReadBitsAsync(unit, table, (ushort)address, new bool[quantity], default)) ? 1 : 0;
                }
            }
        }

        // Four tables, each by its own method, four ranges, two units.
        Assert.Equal(32, taken);
        Assert.Equal(taken, device.Requests.Count);
        Assert.All(device.Requests, request =>
        {
            Assert.InRange(request[1], 1, 4);
            Assert.True(RtuFrame.HasValidCrc(request));
        });
    }

    [Theory]
    [InlineData(0)]
    [InlineData(248)]
    [InlineData(255)]
    public async Task UnitThatCannotAnswerOnALine_IsRefusedBeforeAnythingIsSent(byte unit)
    {
        await using var device = new ScriptedDevice(RtuDevice.Correct);
        await using var reader = new ModbusRtuReader(new ModbusTcpOptions { Host = "127.0.0.1", Port = device.Port }, TimeProvider.System);
        var refused = await Assert.ThrowsAsync<ArgumentOutOfRangeException>(() => reader.ReadRegistersAsync(unit, ModbusTable.HoldingRegisters, 0, new ushort[1], default).AsTask());
        Assert.Contains("units have the addresses 1 to 247; 0 is the broadcast", refused.Message, StringComparison.Ordinal);
        Assert.Equal(0, device.Connections);
    }

    private static async Task<bool> TriesAsync(Func<ValueTask> read)
    {
        try
        {
            await read();
            return true;
        }
        catch (ArgumentException)
        {
            return false;
        }
    }
}
