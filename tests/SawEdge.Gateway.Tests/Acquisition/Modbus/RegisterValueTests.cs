using System.Buffers.Binary;
using CsCheck;
using SawEdge.Gateway.Acquisition.Modbus;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Tests.Acquisition.Modbus;

public sealed class RegisterValueTests
{
    // 123.456 as IEEE 754 single is 42 F6 E9 79: A, B, C, D.
    [Theory]
    [InlineData(WordOrder.Abcd, 0x42F6, 0xE979)]
    [InlineData(WordOrder.Cdab, 0xE979, 0x42F6)]
    [InlineData(WordOrder.Badc, 0xF642, 0x79E9)]
    [InlineData(WordOrder.Dcba, 0x79E9, 0xF642)]
    public void Number_SingleInEachOrder_IsTheSame(WordOrder order, int first, int second) =>
        Assert.Equal(123.456f, RegisterValue.Number(RegisterValue.Bits([(ushort)first, (ushort)second], order), RegisterType.Float32));

    [Theory]
    [InlineData(RegisterType.UInt16, new ushort[] { 0xFFFF }, 65535.0)]
    [InlineData(RegisterType.Int16, new ushort[] { 0xFFFF }, -1.0)]
    [InlineData(RegisterType.UInt32, new ushort[] { 0xFFFF, 0xFFFE }, 4294967294.0)]
    [InlineData(RegisterType.Int32, new ushort[] { 0xFFFF, 0xFFFE }, -2.0)]
    [InlineData(RegisterType.UInt64, new ushort[] { 0, 1, 0, 0 }, 4294967296.0)]
    [InlineData(RegisterType.Int64, new ushort[] { 0xFFFF, 0xFFFF, 0xFFFF, 0xFFFD }, -3.0)]
    [InlineData(RegisterType.Float64, new ushort[] { 0x4009, 0x21FB, 0x5444, 0x2D18 }, Math.PI)]
    public void Number_EachType_ReadsSignAndSize(RegisterType type, ushort[] words, double expected) =>
        Assert.Equal(expected, RegisterValue.Number(RegisterValue.Bits(words, WordOrder.Abcd), type));

    [Theory]
    [InlineData(RegisterType.Bcd16, new ushort[] { 0x1234 }, 1234.0)]
    [InlineData(RegisterType.Bcd16, new ushort[] { 0x0000 }, 0.0)]
    [InlineData(RegisterType.Bcd16, new ushort[] { 0x9999 }, 9999.0)]
    [InlineData(RegisterType.Bcd32, new ushort[] { 0x1234, 0x5678 }, 12345678.0)]
    [InlineData(RegisterType.Bcd32, new ushort[] { 0x9999, 0x9999 }, 99999999.0)]
    [InlineData(RegisterType.Bcd16, new ushort[] { 0x123A }, double.NaN)]
    [InlineData(RegisterType.Bcd16, new ushort[] { 0xF234 }, double.NaN)]
    [InlineData(RegisterType.Bcd32, new ushort[] { 0x12B4, 0x5678 }, double.NaN)]
    public void Number_BinaryCodedDecimal_IsItsDigits(RegisterType type, ushort[] words, double expected)
    {
        var bits = RegisterValue.Bits(words, WordOrder.Abcd);
        Assert.Equal(expected, RegisterValue.Number(bits, type));
        Assert.Equal(double.IsNaN(expected) ? null : (long?)expected, RegisterValue.Whole(bits, type));
    }

    [Fact]
    public void Number_BinaryCodedDecimalInAnotherOrder_IsTheSame() =>
        Assert.Equal(12345678, RegisterValue.Number(RegisterValue.Bits([0x5678, 0x1234], WordOrder.Cdab), RegisterType.Bcd32));

    [Fact]
    public void Bits_AnyValueInAnyOrder_ComesBack() =>
        Gen.Select(Gen.ULong, Gen.Int[0, 3], Gen.Int[0, 2]).Sample(
            (value, order, size) =>
            {
                var bytes = new byte[2 << size];
                for (var i = 0; i < bytes.Length; i++)
                    bytes[i] = (byte)(value >> (8 * (bytes.Length - 1 - i)));
                var expected = bytes.Aggregate(0UL, (sum, b) => (sum << 8) | b);
                var isWordsReversed = order is 1 or 3;
                var words = Enumerable.Range(0, bytes.Length / 2)
                    .Select(i => isWordsReversed ? (bytes.Length / 2) - 1 - i : i)
                    .Select(i => order >= 2 ? BinaryPrimitives.ReadUInt16LittleEndian(bytes.AsSpan(i * 2)) : BinaryPrimitives.ReadUInt16BigEndian(bytes.AsSpan(i * 2)))
                    .ToArray();
                WordOrder[] orders = [WordOrder.Abcd, WordOrder.Cdab, WordOrder.Badc, WordOrder.Dcba];
                Assert.Equal(expected, RegisterValue.Bits(words, orders[order]));
            },
            iter: 10_000);

    [Fact]
    public void Whole_WhatIsNoWholeNumber_IsNull()
    {
        Assert.Equal(7L, RegisterValue.Whole(BitConverter.SingleToUInt32Bits(7f), RegisterType.Float32));
        Assert.Null(RegisterValue.Whole(BitConverter.SingleToUInt32Bits(7.5f), RegisterType.Float32));
        Assert.Null(RegisterValue.Whole(BitConverter.DoubleToUInt64Bits(double.NaN), RegisterType.Float64));
        Assert.Null(RegisterValue.Whole(BitConverter.DoubleToUInt64Bits(1e300), RegisterType.Float64));
        Assert.Null(RegisterValue.Whole(ulong.MaxValue, RegisterType.UInt64));
        Assert.Equal(-1L, RegisterValue.Whole(0xFFFF, RegisterType.Int16));
    }
}
