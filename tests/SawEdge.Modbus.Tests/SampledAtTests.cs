using Microsoft.Extensions.Time.Testing;

namespace SawEdge.Modbus.Tests;

/// <summary>When the values of an answer were taken: half way between question and answer, the time on a serial line and the reader's own pauses left out.</summary>
public sealed class SampledAtTests
{
    private readonly FakeTimeProvider _clock = new();

    [Fact]
    public async Task Tcp_IsHalfWayBetweenQuestionAndAnswer()
    {
        await using var device = new ScriptedDevice(talk => AnswerAfterAsync(talk, 12, TimeSpan.FromMilliseconds(300), ScriptedDevice.CorrectAnswer));
        await using var reader = new ModbusTcpReader(new ModbusTcpOptions { Host = "127.0.0.1", Port = device.Port }, _clock);
        Assert.Equal(150, await MillisecondsAfterTheQuestionAsync(reader, 1));
    }

    // At 10 ms a byte a request takes 80 ms and an answer of one register 70 ms, one of ten registers 250 ms.
    [Theory]
    [InlineData(0, 1, 300, 150)]
    [InlineData(10, 1, 300, 155)]
    [InlineData(10, 10, 400, 115)]
    [InlineData(10, 10, 20, 0)]
    public async Task Rtu_IsHalfWayBetweenTheFrames(int byteMilliseconds, int registers, int milliseconds, int expected)
    {
        await using var device = new ScriptedDevice(talk => AnswerAfterAsync(talk, 8, TimeSpan.FromMilliseconds(milliseconds), RtuDevice.CorrectAnswer));
        await using var reader = new ModbusRtuReader(new SlowLine(new ModbusTcpOptions { Host = "127.0.0.1", Port = device.Port }, _clock, byteMilliseconds), _clock);
        Assert.Equal(expected, await MillisecondsAfterTheQuestionAsync(reader, registers));
    }

    private async Task<double> MillisecondsAfterTheQuestionAsync(IModbusReader reader, int registers)
    {
        var asked = _clock.GetTimestamp();
        await reader.ReadRegistersAsync(1, ModbusTable.HoldingRegisters, 0, new ushort[registers], default).AsTask().WaitAsync(TimeSpan.FromMinutes(3));
        return _clock.GetElapsedTime(asked, reader.SampledAt).TotalMilliseconds;
    }

    private async Task AnswerAfterAsync(ScriptedDevice.Talk talk, int length, TimeSpan time, Func<byte[], byte[]> answer)
    {
        while (await talk.NextAsync(length) is { } request)
        {
            _clock.Advance(time);
            await talk.SendAsync(answer(request));
        }
    }

    /// <summary>A line over TCP that says of itself how long a byte takes, as a serial one does.</summary>
    private sealed class SlowLine(ModbusTcpOptions options, TimeProvider time, int byteMilliseconds) : RtuTransport
    {
        private readonly RtuTcpTransport _way = new(options, time);

        public override string Endpoint => _way.Endpoint;

        public override TimeSpan ResponseTimeout => _way.ResponseTimeout;

        public override TimeSpan Pause => _way.Pause;

        public override bool ReopensAfterTrouble => _way.ReopensAfterTrouble;

        public override string NoAnswerAdvice => _way.NoAnswerAdvice;

        public override string NoAnswerOfOursAdvice => _way.NoAnswerOfOursAdvice;

        public override TimeSpan TimeOf(int bytes) => TimeSpan.FromMilliseconds(bytes * byteMilliseconds);

        public override ValueTask<IByteLine> OpenAsync(ReadRequest? request, CancellationToken cancellation) => _way.OpenAsync(request, cancellation);

        public override string ExplainLoss(Exception? reason) => _way.ExplainLoss(reason);
    }
}
