using SawEdge.TestSupport;

namespace SawEdge.Modbus.Tests;

/// <summary>The reader against a device that behaves, over real sockets.</summary>
public sealed class ModbusTcpReaderTests
{
    [Theory]
    [InlineData(1)]
    [InlineData(20)]
    [InlineData(125)]
    public async Task ReadRegistersAsync_CorrectDevice_GivesItsValues(int quantity)
    {
        await using var fixture = new ReaderFixture(ScriptedDevice.Correct);
        Assert.Equal(ReaderFixture.Expected(100, quantity), await fixture.ReadAsync(100, quantity));
    }

    [Theory]
    [InlineData(ModbusTable.Coils, 1)]
    [InlineData(ModbusTable.Coils, 2000)]
    [InlineData(ModbusTable.DiscreteInputs, 17)]
    public async Task ReadBitsAsync_CorrectDevice_GivesItsValues(ModbusTable table, int quantity)
    {
        await using var fixture = new ReaderFixture(ScriptedDevice.Correct);
        var into = new bool[quantity];
        await fixture.Reader.ReadBitsAsync(3, table, 50, into, default);
        Assert.Equal(Enumerable.Range(50, quantity).Select(ScriptedDevice.Bit), into);
    }

    [Fact]
    public async Task Reads_OfSeveralUnits_ShareOneConnection()
    {
        await using var fixture = new ReaderFixture(ScriptedDevice.Correct);
        var into = new ushort[2];
        for (byte unit = 1; unit <= 5; unit++)
            await fixture.Reader.ReadRegistersAsync(unit, ModbusTable.InputRegisters, unit, into, default);
        Assert.Equal(1, fixture.Device.Connections);
        Assert.Equal([1, 2, 3, 4, 5], fixture.Device.Requests.Select(request => (int)request[6]));
    }

    [Fact]
    public async Task Reads_AtTheSameTime_GoOutOneAfterTheOther()
    {
        var isBusy = 0;
        var overlapped = false;
        await using var fixture = new ReaderFixture(async talk =>
        {
            while (await talk.NextAsync() is { } request)
            {
                overlapped |= Interlocked.Exchange(ref isBusy, 1) == 1;
                await Task.Yield();
                Interlocked.Exchange(ref isBusy, 0);
                await talk.SendAsync(ScriptedDevice.CorrectAnswer(request));
            }
        });
        var reads = Enumerable.Range(0, 50).Select(async i => (i, values: await fixture.ReadAsync((ushort)i, 3))).ToList();
        foreach (var (i, values) in await Task.WhenAll(reads))
            Assert.Equal(ReaderFixture.Expected(i, 3), values);
        Assert.False(overlapped);
        Assert.Equal(1, fixture.Device.Connections);
        Assert.Equal(50, fixture.Device.Requests.Select(request => (request[0], request[1])).Distinct().Count());
    }

    [Fact]
    public async Task Reads_MoreThanThereAreTransactionNumbers_KeepAgreeing()
    {
        await using var fixture = new ReaderFixture(ScriptedDevice.Correct);
        var into = new ushort[1];
        for (var i = 0; i < 66_000; i++)
        {
            await fixture.Reader.ReadRegistersAsync(1, ModbusTable.HoldingRegisters, (ushort)(i % 5000), into, default);
            Assert.Equal(ScriptedDevice.Register(i % 5000), into[0]);
        }
    }

    [Fact]
    public async Task ReadRegistersAsync_TableOfBits_IsRefusedBeforeAnythingIsSent()
    {
        await using var fixture = new ReaderFixture(ScriptedDevice.Correct);
        await Assert.ThrowsAsync<ArgumentException>(() => fixture.Reader.ReadRegistersAsync(1, ModbusTable.Coils, 0, new ushort[1], default).AsTask());
        await Assert.ThrowsAsync<ArgumentException>(() => fixture.Reader.ReadBitsAsync(1, ModbusTable.InputRegisters, 0, new bool[1], default).AsTask());
        await Assert.ThrowsAsync<ArgumentOutOfRangeException>(() => fixture.ReadAsync(65535, 2));
        await Assert.ThrowsAsync<ArgumentOutOfRangeException>(() => fixture.ReadAsync(0, 126));
        await Assert.ThrowsAsync<ArgumentOutOfRangeException>(() => fixture.ReadAsync(0, 0));
        Assert.Equal(0, fixture.Device.Connections);
    }

    [Fact]
    public async Task ConnectAsync_NothingListens_SaysWhereAndWhatToCheck()
    {
        var port = Peer.FreePort();
        await using var reader = new ModbusTcpReader(new ModbusTcpOptions { Host = "127.0.0.1", Port = port }, TimeProvider.System);
        var refused = await Assert.ThrowsAsync<ModbusConnectionException>(() => reader.ConnectAsync(default).AsTask());
        Assert.StartsWith($"127.0.0.1:{port}: the connection was refused", refused.Message, StringComparison.Ordinal);
        Assert.Contains("Check", refused.Message, StringComparison.Ordinal);
        Assert.False(reader.IsConnected);
    }

    [Fact]
    public async Task ReadRegistersAsync_NothingListens_SaysUnitTableAndRangeToo()
    {
        var port = Peer.FreePort();
        await using var reader = new ModbusTcpReader(new ModbusTcpOptions { Host = "127.0.0.1", Port = port }, TimeProvider.System);
        var refused = await Assert.ThrowsAsync<ModbusConnectionException>(() => reader.ReadRegistersAsync(9, ModbusTable.InputRegisters, 40, new ushort[4], default).AsTask());
        Assert.StartsWith($"127.0.0.1:{port}, unit 9, input registers 40 to 43: ", refused.Message, StringComparison.Ordinal);
    }

    [Fact]
    public async Task ReadRegistersAsync_CallerGivesUp_EndsAndTheLateAnswerIsNotTakenForTheNext()
    {
        var hasIt = new TaskCompletionSource();
        await using var fixture = new ReaderFixture(async talk =>
        {
            var first = await talk.NextAsync();
            hasIt.SetResult();
            var second = await talk.NextAsync();
            await talk.SendAsync(ScriptedDevice.CorrectAnswer(first!));
            await talk.SendAsync(ScriptedDevice.CorrectAnswer(second!));
            await ScriptedDevice.Correct(talk);
        });
        using var givingUp = new CancellationTokenSource();
        var reading = fixture.ReadAsync(0, 2, givingUp.Token);
        await hasIt.Task;
        await givingUp.CancelAsync();
        await Assert.ThrowsAnyAsync<OperationCanceledException>(() => reading);
        Assert.Equal(ReaderFixture.Expected(500, 2), await fixture.ReadAsync(500, 2));
        Assert.Equal(1, fixture.Reader.LateAnswers);
        Assert.Equal(1, fixture.Device.Connections);
    }

    [Fact]
    public async Task DisposeAsync_WithAReadOnItsWay_EndsIt()
    {
        var hasIt = new TaskCompletionSource();
        var fixture = new ReaderFixture(async talk =>
        {
            await talk.NextAsync();
            hasIt.SetResult();
            await talk.NextAsync();
        });
        await using (fixture)
        {
            var reading = fixture.ReadAsync(0, 2);
            await hasIt.Task;
            await fixture.Reader.DisposeAsync();
            await Assert.ThrowsAsync<ModbusConnectionException>(() => reading);
            await Assert.ThrowsAsync<ObjectDisposedException>(() => fixture.ReadAsync(0, 2));
        }
    }
}
