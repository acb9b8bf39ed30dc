using CsCheck;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Configuration.Binding;

namespace SawEdge.Gateway.Tests.Configuration;

/// <summary>
/// MODBUS Application Protocol Specification V1.1b3, 4.4: an item numbered X in the data model has the address X - 1 in the request (its
/// example: register 40108 of a list is sent as 0x006B, 6.3). Leading digits 0, 1, 3, 4 for the four tables: the custom of register lists.
/// </summary>
public class RegisterAddressTests
{
    [Theory]
    [InlineData("holding 100", RegisterTable.Holding, 100)]
    [InlineData("holding 0", RegisterTable.Holding, 0)]
    [InlineData("holding 65535", RegisterTable.Holding, 65535)]
    [InlineData("input 7", RegisterTable.Input, 7)]
    [InlineData("coil 3", RegisterTable.Coil, 3)]
    [InlineData("discrete 12", RegisterTable.DiscreteInput, 12)]
    [InlineData("holding 0x6B", RegisterTable.Holding, 107)]
    [InlineData("  holding   5 ", RegisterTable.Holding, 5)]
    [InlineData("40108", RegisterTable.Holding, 0x6B)]
    [InlineData("40001", RegisterTable.Holding, 0)]
    [InlineData("49999", RegisterTable.Holding, 9998)]
    [InlineData("400101", RegisterTable.Holding, 100)]
    [InlineData("465536", RegisterTable.Holding, 65535)]
    [InlineData("30008", RegisterTable.Input, 7)]
    [InlineData("10013", RegisterTable.DiscreteInput, 12)]
    [InlineData("00004", RegisterTable.Coil, 3)]
    [InlineData("4x0101", RegisterTable.Holding, 100)]
    [InlineData("3x8", RegisterTable.Input, 7)]
    [InlineData("1x0013", RegisterTable.DiscreteInput, 12)]
    public void TryParse_EitherNotation_IsTheProtocolAddress(string text, RegisterTable table, int address)
    {
        Assert.True(RegisterAddress.TryParse(text, out var read, out var problem), problem);
        Assert.Equal(new RegisterAddress(table, (ushort)address), read);
        Assert.Matches(RegisterAddress.Pattern, text);
    }

    [Fact]
    public void TryParse_WhateverIsRead_TheSchemaAllows()
    {
        // Pieces of addresses put together at random: many are read, most are not.
        string[] pool = ["holding", "input", "coil", "discrete", " ", "  ", "4", "3", "1", "0", "5", "x", "0x", "A", "101", "40101", "65535", ".", "-"];
        var piece = Gen.Int[0, pool.Length - 1].Select(index => pool[index]);
        Check.Sample(
            piece.Array[1, 5],
            pieces =>
            {
                var text = string.Concat(pieces);
                return !RegisterAddress.TryParse(text, out _, out _) || System.Text.RegularExpressions.Regex.IsMatch(text, RegisterAddress.Pattern);
            },
            iter: 5_000);
    }

    [Theory]
    [InlineData("100", "'100' does not say which table; write for example \"holding 100\" (protocol address, from 0) or \"40101\" (reference number, from 1)")]
    [InlineData("4x", "'4x' is no register address; write for example \"holding 100\" (protocol address, from 0) or \"40101\" (reference number, from 1)")]
    [InlineData("register 5", "'register 5' names no table; write holding, input, coil or discrete")]
    [InlineData("holdings 5", "'holdings 5' names no table; did you mean 'holding'?")]
    [InlineData("holding 65536", "'holding 65536' is beyond the last address; write holding 0 to holding 65535")]
    [InlineData("holding 0x10000", "'holding 0x10000' is beyond the last address; write holding 0 to holding 65535")]
    [InlineData("holding -1", "'holding -1' is no register address; write for example \"holding 100\" (protocol address, from 0) or \"40101\" (reference number, from 1)")]
    [InlineData("40000", "'40000': reference numbers count from 1; the first is 40001")]
    [InlineData("465537", "'465537' is beyond the last reference number; write 400001 to 465536")]
    [InlineData("4x65537", "'4x65537' is beyond the last reference number; write 400001 to 465536")]
    [InlineData("20005", "'20005': reference numbers begin with 0 (coils), 1 (discrete inputs), 3 (input registers) or 4 (holding registers)")]
    [InlineData("0x0003", "'0x0003' may be a coil or a hexadecimal number; write for example \"coil 2\", \"00003\" or \"holding 0x64\"")]
    [InlineData("40101.3", "'40101.3': write the bit in its own member, \"bit\": 3")]
    [InlineData("holding 100.12", "'holding 100.12': write the bit in its own member, \"bit\": 12")]
    public void TryParse_NoAddress_SaysWhatWouldBeRight(string text, string expected)
    {
        Assert.False(RegisterAddress.TryParse(text, out _, out var problem));
        Assert.Equal(expected, problem);
    }
}
