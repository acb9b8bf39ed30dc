using System.Net;
using System.Net.Sockets;
using SawEdge.Simulator.Modbus;
using SawEdge.TestSupport;

namespace SawEdge.Simulator.Tests.Modbus;

public sealed class ModbusTcpServerTests
{
    private const string HeadRequest = "0001 0000 0006 01 0300000001";
    private const string HeadAnswer = "0001000000050103" + "02FFDE";

    // Messaging on TCP/IP implementation guide V1.0b, 3.1.3: the header's transaction, protocol and unit come back.
    [Theory]
    [InlineData("1234 0000 0006 01 0300000001", "1234 0000 0005 01 0302FFDE")]
    [InlineData("0001 0000 0006 02 0400640001", "0001 0000 0005 02 04020005")]
    [InlineData("0001 0000 0006 09 0300000001", "0001 0000 0003 09 830B")]
    [InlineData("FFFF 0000 0002 01 2B", "FFFF 0000 0003 01 AB01")]
    public async Task Request_OverTcp_IsAnswered(string request, string expected)
    {
        await using var server = Start();
        using var client = await ConnectAsync(server);
        Assert.Equal(expected.Replace(" ", "", StringComparison.Ordinal), await AskAsync(client, request));
    }

    [Fact]
    public async Task Requests_PipelinedAndInPieces_AreAllAnsweredInOrder()
    {
        await using var server = Start();
        using var client = await ConnectAsync(server);
        var stream = client.GetStream();
        var requests = Convert.FromHexString("000100000006010300000001" + "000200000006010300010001");
        foreach (var piece in requests.Chunk(5))
            await stream.WriteAsync(piece);
        var answers = new byte[22];
        await stream.ReadExactlyAsync(answers);
        Assert.Equal(HeadAnswer + "0002000000050103" + "0202C9", Convert.ToHexString(answers));
        Assert.Equal(2, server.Requests);
    }

    [Theory]
    [InlineData("0001 0001 0006 01 0300000001")]
    [InlineData("0001 0000 0001 01")]
    [InlineData("0001 0000 00FF 01 03")]
    [InlineData("4745 5420 2F20 48 5454502F312E310D0A")]
    public async Task Stream_ThatIsNoModbus_IsClosed_AndOthersAreServed(string garbage)
    {
        await using var server = Start();
        using var good = await ConnectAsync(server);
        using var bad = await ConnectAsync(server);
        await bad.GetStream().WriteAsync(Convert.FromHexString(garbage.Replace(" ", "", StringComparison.Ordinal)));
        Assert.Equal(0, await ReadOrResetAsync(bad));
        Assert.Equal(HeadAnswer, await AskAsync(good, HeadRequest));
    }

    [Fact]
    public async Task Client_OneTooMany_IsClosed_AndHasItsPlaceLater()
    {
        await using var server = Start(maximumClients: 1);
        using (var first = await ConnectAsync(server))
        {
            await AskAsync(first, HeadRequest);
            using var second = await ConnectAsync(server);
            Assert.Equal(0, await ReadOrResetAsync(second));
        }

        await Until.TrueAsync(() => server.Clients == 0, "the first client is forgotten");
        using var third = await ConnectAsync(server);
        Assert.Equal(HeadAnswer, await AskAsync(third, HeadRequest));
    }

    [Fact]
    public async Task Controller_ThatDoesNotAnswer_GivesException0B()
    {
        var saw = new FixedSaw();
        await using var server = Start(saw);
        using var client = await ConnectAsync(server);
        saw.Answers = false;
        Assert.Equal("0001000000030183" + "0B", await AskAsync(client, HeadRequest));
        saw.Answers = true;
        Assert.Equal(HeadAnswer, await AskAsync(client, HeadRequest));
    }

    [Fact]
    public async Task Clients_ManyAtOnce_EachGetTheirOwnAnswers()
    {
        await using var server = Start();
        await Task.WhenAll(Enumerable.Range(0, 16).Select(async n =>
        {
            using var client = await ConnectAsync(server);
            for (var i = 0; i < 50; i++)
                Assert.StartsWith($"{(n * 256) + i:X4}00000005", await AskAsync(client, $"{(n * 256) + i:X4} 0000 0006 01 0300000001"), StringComparison.Ordinal);
        }));
        Assert.Equal(800, server.Requests);
    }

    [Fact]
    public async Task Dispose_WithClients_ClosesThem()
    {
        var server = Start();
        using var client = await ConnectAsync(server);
        await AskAsync(client, HeadRequest);
        await server.DisposeAsync();
        Assert.Equal(0, await ReadOrResetAsync(client));
    }

    private static ModbusTcpServer Start(FixedSaw? saw = null, int maximumClients = 32) => ModbusTcpServer.Start(
        new Dictionary<byte, ModbusUnit>
        {
            [1] = new(saw ?? new FixedSaw(), RegisterLayout.Plain),
            [2] = new(saw ?? new FixedSaw(), RegisterLayout.Packed(4)),
        },
        maximumClients: maximumClients);

    private static async Task<TcpClient> ConnectAsync(ModbusTcpServer server)
    {
        var client = new TcpClient();
        await client.ConnectAsync(IPAddress.Loopback, server.Port);
        return client;
    }

    private static async Task<string> AskAsync(TcpClient client, string request)
    {
        var stream = client.GetStream();
        await stream.WriteAsync(Convert.FromHexString(request.Replace(" ", "", StringComparison.Ordinal)));
        var header = new byte[7];
        await stream.ReadExactlyAsync(header);
        var rest = new byte[((header[4] << 8) | header[5]) - 1];
        await stream.ReadExactlyAsync(rest);
        return Convert.ToHexString(header) + Convert.ToHexString(rest);
    }

    // A close with unread input behind it may reach the client as a reset.
    private static async Task<int> ReadOrResetAsync(TcpClient client)
    {
        try
        {
            return await client.GetStream().ReadAsync(new byte[1]);
        }
        catch (IOException)
        {
            return 0;
        }
    }
}
