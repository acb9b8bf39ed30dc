using SawEdge.Core.Signals;
using SawEdge.Simulator.Modbus;
using SawEdge.Simulator.Randomness;

namespace SawEdge.Simulator.Tests.Modbus;

/// <summary>Requests and answers of the MODBUS Application Protocol Specification V1.1b3; the clause is named beside each.</summary>
public sealed class ModbusAnswerTests
{
    private static readonly RegisterImage Image = Load(RegisterLayout.Plain);

    // Function, byte count, data (6.1 to 6.4). The values are those of FixedSaw: -34, 713, 1.625 = 3FD00000, 70000, 30, "OB-1180".
    [Theory]
    [InlineData("0300000002", "0304FFDE02C9")]
    [InlineData("0300020002", "03043FD00000")]
    [InlineData("0300040003", "030600011170001E")]
    [InlineData("0300080004", "03084F422D3131383000")]
    [InlineData("0200000003", "020105")]
    [InlineData("0100000003", "010105")]
    [InlineData("0200010002", "020102")]
    public void Write_GoodRequest_GivesTheData(string request, string expected) => Assert.Equal(expected, Answer(request));

    // Figures 11 to 14: the function is checked first, then the quantity, then the address.
    [Theory]
    [InlineData("0500000001", "8501")]
    [InlineData("0600000001", "8601")]
    [InlineData("1000000001020000", "9001")]
    [InlineData("2B0E0100", "AB01")]
    [InlineData("00", "8001")]
    [InlineData("0300000000", "8303")]
    [InlineData("030000007E", "8303")]
    [InlineData("03FFFF007E", "8303")]
    [InlineData("02000007D1", "8203")]
    [InlineData("01FFFF0000", "8103")]
    [InlineData("030021007D", "8302")]
    [InlineData("0400000001", "8402")]
    [InlineData("0200030001", "8202")]
    [InlineData("02000107D0", "8202")]
    [InlineData("030000", "8303")]
    [InlineData("030000000100", "8303")]
    public void Write_BadRequest_GivesTheExceptionOfTheFirstCheckThatFails(string request, string expected) => Assert.Equal(expected, Answer(request));

    /// <summary>Section 7: with 100 registers, start 96 quantity 4 is good, start 96 quantity 5 is exception 02.</summary>
    [Fact]
    public void Write_AtTheEndOfTheTable_HoldsToTheLastRegister()
    {
        var image = new RegisterImage(new([new(Signal.Job, RegisterTable.Holding, 0, RegisterType.Ascii) { Length = 100 }]));
        Assert.Equal("0308" + new string('0', 16), Answer("0300600004", image));
        Assert.Equal("8302", Answer("0300600005", image));
    }

    [Fact]
    public void Write_ArbitraryBytes_AlwaysGivesDataOrAnException()
    {
        var random = new Xoshiro256(2026);
        var answer = new byte[ModbusAnswer.MaximumPdu];
        for (var i = 0; i < 20_000; i++)
        {
            var request = new byte[1 + (random.Next() % 8)];
            for (var k = 0; k < request.Length; k++)
                request[k] = (byte)(random.Next() % (k < 2 ? 6u : 256u));
            var length = ModbusAnswer.Write(Image, request, answer);
            if ((answer[0] & 0x80) != 0)
            {
                Assert.Equal(2, length);
                Assert.InRange(answer[1], 1, 3);
            }
            else
            {
                Assert.InRange(request[0], 1, 4);
                Assert.Equal(2 + answer[1], length);
            }
        }
    }

    private static RegisterImage Load(RegisterLayout layout)
    {
        new FixedSaw().TryRead(out var frame);
        var image = new RegisterImage(layout);
        image.Load(frame);
        return image;
    }

    private static string Answer(string request, RegisterImage? image = null)
    {
        var answer = new byte[ModbusAnswer.MaximumPdu];
        return Convert.ToHexString(answer.AsSpan(0, ModbusAnswer.Write(image ?? Image, Convert.FromHexString(request), answer)));
    }
}
