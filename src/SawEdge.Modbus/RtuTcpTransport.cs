namespace SawEdge.Modbus;

/// <summary>RTU frames over TCP, as serial servers carry them.</summary>
internal sealed class RtuTcpTransport(ModbusTcpOptions options, TimeProvider time) : RtuTransport
{
    private readonly TcpLink _link = new(options, time, "RTU over TCP");

    public override string Endpoint => _link.Endpoint;

    public override TimeSpan ResponseTimeout => options.ResponseTimeout;

    public override TimeSpan Pause => options.Pause;

    public override bool ReopensAfterTrouble => true;

    public override string NoAnswerAdvice => ModbusAdvice.NoAnswer;

    public override string NoAnswerOfOursAdvice => ModbusAdvice.RtuOverTcpNoAnswerOfOurs;

    // The serial server keeps the silence between frames, and the response timeout has to have room for its line.
    public override TimeSpan TimeOf(int bytes) => TimeSpan.Zero;

    public override async ValueTask<IByteLine> OpenAsync(ReadRequest? request, CancellationToken cancellation) =>
        new SocketByteLine(await _link.OpenAsync(request, cancellation));

    public override string ExplainLoss(Exception? reason) =>
        "the connection was lost. Check the serial server's power and network, and whether it takes only a few connections at once.";
}
